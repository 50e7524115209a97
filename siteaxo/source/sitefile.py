"""
The site file: TOML that says which layers a site has and how it is drawn.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from ..checks import nearest, regular_bytes, toml_of
from ..errors import SiteaxoError, SiteFileError
from ..limits import USUAL, Limits
from .inside import leads_outside
from .layers import Layer, known_keys
from .site import VIEW_OPTIONS, SheetSettings, SiteData, ViewSettings

_LOOK: Final = ("style", "people", "shadows", "planting")
_TABLES: Final = ("name", "plane", "levels", "layer", "view", "sheet", *_LOOK)
_PLANE: Final = ("crs", "base_line")
_LEVELS: Final = ("unit", "drawn_in_place", "contour_interval")
_GREATEST: Final = 10**15  # a number beyond this measures nothing here
_SHEET: Final = ("size", "scale", "title", "orientation", "unit")

S = TypeVar("S", bound=SiteData)


def read_site_data(
    path: str | os.PathLike[str],
    cls: type[S] = SiteData,  # type: ignore[assignment]
    *,
    allow_outside: bool = False,
    limits: Limits = USUAL,
) -> S:
    """
    Read a site file.

    Parameters
    ----------
    path : path
        The TOML file; the sources of its layers are relative to it.
    cls : type
        What to make: SiteData, or a class derived from it.
    allow_outside : bool
        Take sources with an absolute path or with ".." in it, and links that lead out.
    limits : Limits
        Bounds of what is read.

    Returns
    -------
    SiteData
        Or *cls*.

    Raises
    ------
    SiteFileError
        If the file is missing, is not TOML, or says something unknown; the message
        names the nearest known key.
    SiteaxoError
        Of the kind that fits, if a value is not what it should be.
    """
    asked = parse_site_file(path, allow_outside=allow_outside)
    try:
        return cls(**asked, limits=limits, site_file=os.fsdecode(path))
    except SiteaxoError as problem:
        raise problem.within(str(path)) from None


def parse_site_file(path: str | os.PathLike[str], *, allow_outside: bool = False) -> dict[str, Any]:
    """
    Read a site file into the arguments of SiteData.

    Parameters
    ----------
    path : path
        The TOML file.
    allow_outside : bool
        Take sources with an absolute path or with ".." in it.

    Returns
    -------
    dict
        Keyword arguments of SiteData.

    Raises
    ------
    SiteaxoError
        As for :func:`read_site_data`.
    """
    file = Path(path)
    reader = _Reader(file=file, allow_outside=allow_outside)
    content = _load(file)
    reader.check_keys(content, _TABLES, "the site file")
    plane = reader.table(content, "plane", _PLANE)
    levels = reader.table(content, "levels", _LEVELS)
    site: dict[str, Any] = {"name": content.get("name", file.stem), "layers": reader.layers(content)}
    renamed = {"crs": "plane_crs"}
    site.update({renamed.get(key, key): value for key, value in {**plane, **levels}.items()})
    if "view" in content:
        site["view"] = reader.view(content)
    site["sheet"] = reader.made(SheetSettings, reader.table(content, "sheet", _SHEET), "[sheet]")
    site.update({key: reader.look(key, content[key]) for key in _LOOK if key in content})
    return site


def _load(file: Path) -> dict[str, Any]:
    if _folder(file):
        raise SiteFileError(
            f"{file} is a folder. Name the site file in it, e.g. {file / 'site.toml'}.", value=file
        )
    if not file.exists():
        raise SiteFileError(
            f"There is no site file {file}. Check the path and its spelling.", code="file-missing", value=file
        )
    try:
        return toml_of(regular_bytes(file, SiteFileError, what="site file"))
    except UnicodeDecodeError as problem:
        raise SiteFileError(
            f"{file} is not written in UTF-8 (byte {problem.start}). Save it as UTF-8.",
            code="file-encoding",
            value=file,
        ) from None
    except SiteaxoError:
        raise
    except ValueError as problem:
        raise SiteFileError(f"{file} is not valid TOML: {problem}.", value=file) from None
    except RecursionError:
        raise SiteFileError(f"{file} is nested too deeply to be a site file.", value=file) from None


def _folder(file: Path) -> bool:
    """Whether a path is a folder; says so where it can be no path at all."""
    try:
        return file.is_dir()
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise SiteFileError(
            f"The site file {str(file)!r} cannot be read ({reason}).", code="file-unreadable", value=file
        ) from None


@dataclass(frozen=True, kw_only=True)
class _Reader:
    """Makes settings of the tables of one site file, and says where something is wrong."""

    file: Path
    allow_outside: bool

    def check_keys(self, table: Mapping[str, Any], known: Iterable[str], where: str) -> None:
        """Refuse keys that are not known, and numbers that are not finite."""
        words = list(known)
        for key, value in table.items():
            if key not in words:
                raise SiteFileError(
                    f"{self.file}: unknown key {key!r} in {where}. {nearest(key, words)}",
                    code="key-unknown",
                    field=key,
                    value=value,
                )
            self.check_numbers(value, key, where)

    def check_numbers(self, value: Any, key: str, where: str) -> None:
        """Refuse numbers that are not finite, or too large to be measured with, however deep they are."""
        if isinstance(value, dict):
            for name, inner in value.items():
                self.check_numbers(inner, f"{key}.{name}", where)
        elif isinstance(value, list):
            for inner in value:
                self.check_numbers(inner, key, where)
        elif isinstance(value, int | float) and not abs(value) <= _GREATEST:
            shown = str(value) if isinstance(value, float) else f"one of {value.bit_length()} bits"
            raise SiteFileError(
                f"{self.file}: {key} in {where} must be a finite number, not {shown}.",
                code="number-not-finite",
                field=key,
                value=shown,
            )

    def table(self, content: Mapping[str, Any], name: str, known: Iterable[str]) -> dict[str, Any]:
        """One table of the file, with its keys checked; empty where there is none."""
        table = content.get(name, {})
        if not isinstance(table, dict):
            raise SiteFileError(
                f"{self.file}: {name} must be a table, written as [{name}].", field=name, value=table
            )
        self.check_keys(table, known, f"[{name}]")
        return table

    def made(self, kind: type[Any], arguments: dict[str, Any], where: str) -> Any:
        """Make one object, naming file and place in the message when that fails."""
        try:
            return kind(**arguments)
        except SiteaxoError as problem:
            raise problem.within(f"{self.file}, {where}") from None
        except TypeError as problem:
            raise SiteFileError(f"{self.file}, {where}: {problem}.", field=where) from None

    def view(self, content: Mapping[str, Any]) -> ViewSettings:
        """The [view] table."""
        every = {"kind", *(name for names in VIEW_OPTIONS.values() for name in names)}
        options = dict(self.table(content, "view", every))
        kind = options.pop("kind", "planometric")
        return self.made(ViewSettings, {"kind": kind, "options": options}, "[view]")

    def look(self, key: str, value: Any) -> Any:
        """What the site is drawn with; a style in a file of its own is relative to the site file."""
        if key == "style" and isinstance(value, str) and value.lower().endswith(".toml"):
            return self.source(value, "the site file")
        return value

    def layers(self, content: Mapping[str, Any]) -> list[Layer]:
        """The [[layer]] tables."""
        tables = content.get("layer", [])
        if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
            raise SiteFileError(
                f"{self.file}: write each layer under a line of its own, [[layer]].", field="layer"
            )
        if not tables:
            raise SiteFileError(f"{self.file} has no layers. Add one under a line [[layer]].", field="layer")
        return [self.layer(table, number) for number, table in enumerate(tables, start=1)]

    def layer(self, table: dict[str, Any], number: int) -> Layer:
        """One [[layer]] table, its source resolved."""
        where = f"[[layer]] {table.get('name', f'number {number}')!r}"
        self.check_keys(table, known_keys(), where)
        for key in ("name", "role", "source"):
            if key not in table:
                raise SiteFileError(f'{self.file}: {where} has no {key}. Add {key} = "...".', field=key)
        return self.made(Layer, {**table, "source": self.source(table["source"], where)}, where)

    def source(self, source: object, where: str) -> Path:
        """Path of a source, relative to the site file and inside its folder."""
        if not isinstance(source, str) or not source:
            raise SiteFileError(
                f"{self.file}: source in {where} must be the path of a file, not {source!r}.",
                field="source",
                value=source,
            )
        path = Path(source)
        if "://" in source or source.startswith("/vsi") or "\0" in source:
            raise SiteFileError(
                f"{self.file}: source {source!r} in {where} is no file on disk.", field="source", value=source
            )
        if not self.allow_outside and leads_outside(path, self.file.parent):
            raise SiteFileError(
                f"{self.file}: source {source!r} in {where} lies outside the folder of the site file.",
                code="source-outside",
                field="source",
                value=source,
                remedy="Put it beside the site file, or say --allow-outside (allow_outside=True).",
            )
        return self.file.parent / path
