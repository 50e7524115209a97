"""
What results follow from beside their inputs: the content of files, and the software.
"""

from __future__ import annotations

import contextlib
import functools
import importlib.util
import inspect
import platform
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from typing import Any, Final

import geopandas
import numpy as np
import pandas as pd
import shapely

from ..checks import toml_of
from ..errors import InputError
from ..keeping import digest, hashed
from ..plugins import GROUPS
from ..source.versions import spatial_versions
from .operation import Operation

COMPANIONS: Final = (".shx", ".dbf", ".prj", ".cpg", ".gfs", ".xsd", ".wld", ".tfw", ".aux.xml")
"""Endings of files that are read along with one of the same stem."""
_DEEPEST: Final = 4


def file_digest(path: Path) -> str:
    """
    Hash a file with all that is read along with it.

    Parameters
    ----------
    path : path
        The file. With a TOML file go the files that it names.

    Raises
    ------
    InputError
        If it is not there, or cannot be read.
    """
    return digest([[name, _bytes_digest(file)] for name, file in sorted(_read_along(path, path.parent, 0))])


def _read_along(path: Path, folder: Path, depth: int) -> Iterator[tuple[str, Path]]:
    if not path.is_file():
        raise InputError(f"names no file on disk: {str(path)!r}", value=path)
    yield path.name if path.parent == folder else str(path), path
    for other in path.parent.glob(f"{_literal(path.stem)}.*"):
        if other != path and other.name.lower().endswith(COMPANIONS) and other.is_file():
            yield other.name, other
    journal = path.with_name(path.name + "-wal")
    if journal.is_file():
        yield journal.name, journal
    if path.suffix.lower() == ".toml" and depth < _DEEPEST:
        for named in _named_in(path):
            yield from _read_along(named, folder, depth + 1)


def _named_in(path: Path) -> list[Path]:
    """Files that a TOML file names, whatever the key."""
    try:
        content = toml_of(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return []
    named = {path.parent / text for text in _texts(content) if text and "\0" not in text and len(text) < 500}
    return sorted(file for file in named if file.is_file() and file != path)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)


def _literal(stem: str) -> str:
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in stem)


def _bytes_digest(path: Path) -> str:
    try:
        return hashed(path).hex()
    except OSError as problem:
        raise InputError(f"cannot be read ({problem.strerror}): {str(path)!r}", value=path) from None


@functools.cache
def versions() -> dict[str, str]:
    """Return the versions of all that results may depend on."""
    return {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "shapely": shapely.__version__,
        "GEOS": shapely.geos_version_string,
        "pandas": pd.__version__,
        "geopandas": geopandas.__version__,
        "matplotlib": metadata.version("matplotlib"),
        **spatial_versions(),
    }


@functools.cache
def packages() -> dict[str, str]:
    """Return the versions of siteaxo, and of the packages with plug-ins that are installed."""
    owners = [point.dist for group in GROUPS for point in metadata.entry_points(group=group)]
    found = {str(owner.metadata["Name"]): owner.version for owner in owners if owner is not None}
    with contextlib.suppress(metadata.PackageNotFoundError):
        found["siteaxo"] = metadata.version("siteaxo")
    return found


@functools.cache
def software() -> str:
    """Hash the versions of libraries, and the source of siteaxo itself and of its plug-ins."""
    return digest(versions(), _source_in(Path(__file__).parent.parent), _plug_ins())


def _source_in(package: Path) -> list[list[str]]:
    return [[str(file.relative_to(package)), _bytes_digest(file)] for file in sorted(package.rglob("*.py"))]


def _plug_ins() -> list[Any]:
    """What plug-ins are installed, and all source of the packages that they are in."""
    points = [(group, point) for group in GROUPS for point in metadata.entry_points(group=group)]
    packages = sorted({point.module.partition(".")[0] for _, point in points})
    told = sorted([group, point.name, point.value] for group, point in points)
    return [told, [[name, _source_of(name)] for name in packages]]


def _source_of(package: str) -> list[list[str]]:
    found = importlib.util.find_spec(package)
    if found is None:
        return []
    if found.submodule_search_locations:
        return [row for folder in found.submodule_search_locations for row in _source_in(Path(folder))]
    file = Path(str(found.origin))
    return [[file.name, _bytes_digest(file)]] if file.is_file() else []


def operation_digest(operation: Operation) -> str:
    """Hash what an operation is: its id, its version and the source it stands in."""
    source = inspect.getsourcefile(operation.function)
    there = source is not None and Path(source).is_file()
    return digest(operation.id, operation.version, _bytes_digest(Path(str(source))) if there else "")
