"""
Shapefiles in zip archives: looked through before anything is unpacked.

Sizes are taken from the archive's directory first, and held to while unpacking.
"""

from __future__ import annotations

import stat
import tempfile
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Final

from ..errors import LayerError, SiteaxoError
from ..limits import MB, Limits

PARTS: Final = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_SMALL: Final = MB  # whatever its ratio, a file of this size does no harm [bytes]
_UNPACKED_AS: Final = "table"
_FAULTS: Final = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    RuntimeError,
    NotImplementedError,
    ValueError,
)


def shapefiles_in(path: Path, *, layer: str, limits: Limits) -> dict[str, str]:
    """
    Find the shapefiles in an archive.

    Parameters
    ----------
    path : Path
        The archive.
    layer : str
        Name of the layer, for messages.
    limits : Limits
        Bounds of count, size and ratio.

    Returns
    -------
    dict of str to str
        Path inside the archive per name without its ending; with its folders where the
        name alone would stand for several. What macOS adds for itself is passed over.

    Raises
    ------
    LayerError
        If the archive cannot be opened, or one of its paths leads out of it or is there twice.
    LimitError
        If it is too large.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
    except _FAULTS as problem:
        raise _refusal(layer, path, f"cannot be opened ({problem})", "archive-damaged") from None
    limits.check("archive_files", len(entries), what=f"{path.name} holds too many files", layer=layer)
    names = [entry.filename for entry in entries]
    _check_names(names, path, layer)
    return _told_apart([name for name in names if name.lower().endswith(".shp") and not _of_macos(name)])


def _told_apart(names: list[str]) -> dict[str, str]:
    stems = Counter(PurePosixPath(name).stem for name in names)
    paths = {name: PurePosixPath(name) for name in names}
    return {p.stem if stems[p.stem] == 1 else str(p.with_suffix("")): name for name, p in paths.items()}


def _of_macos(name: str) -> bool:
    return PurePosixPath(name).parts[0] == "__MACOSX"


def _check_names(names: list[str], path: Path, layer: str) -> None:
    for name in names:
        inside = PurePosixPath(name.replace("\\", "/"))
        if inside.is_absolute() or ".." in inside.parts or ":" in name.split("/")[0] or "\0" in name:
            raise _refusal(layer, path, f"has a path that leads out of it, {name!r}", "archive-path")
    times = Counter(name.casefold() for name in names)
    twice = next((name for name in names if times[name.casefold()] > 1), None)
    if twice is not None:
        raise _refusal(layer, path, f"holds {twice!r} twice", "archive-path")


@contextmanager
def unpacked(path: Path, member: str, *, layer: str, limits: Limits) -> Iterator[Path]:
    """
    Unpack one shapefile into a folder that is removed afterwards.

    Parameters
    ----------
    path : Path
        The archive.
    member : str
        Path of the .shp in it.
    layer : str
        Name of the layer, for messages.
    limits : Limits
        Bounds of size and ratio.

    Yields
    ------
    Path
        The .shp, its other parts beside it.

    Raises
    ------
    LayerError
        If a part is encrypted, a link, or damaged.
    LimitError
        If there is too much of it.
    """
    with tempfile.TemporaryDirectory(prefix="siteaxo-", ignore_cleanup_errors=True) as folder:
        try:
            with zipfile.ZipFile(path) as archive:
                entries = list(_parts(archive.infolist(), member))
                _check_sizes(entries, path, layer, limits)
                for suffix, entry in entries:
                    _check_entry(entry, path, layer)
                    with archive.open(entry) as stream:
                        content = stream.read(entry.file_size + 1)
                    if len(content) != entry.file_size:
                        raise zipfile.BadZipFile(f"{entry.filename} is not as long as announced")
                    (Path(folder) / f"{_UNPACKED_AS}{suffix}").write_bytes(content)
        except SiteaxoError:
            raise
        except _FAULTS as problem:
            raise _refusal(layer, path, f"cannot be unpacked ({problem})", "archive-damaged") from None
        yield Path(folder) / f"{_UNPACKED_AS}.shp"


def _parts(entries: Iterable[zipfile.ZipInfo], member: str) -> Iterator[tuple[str, zipfile.ZipInfo]]:
    stem = str(PurePosixPath(member).with_suffix("")).casefold()
    for entry in entries:
        inside = PurePosixPath(entry.filename)
        suffix = inside.suffix.lower()
        if suffix in PARTS and str(inside.with_suffix("")).casefold() == stem:
            yield suffix, entry


def _check_sizes(entries: list[tuple[str, zipfile.ZipInfo]], path: Path, layer: str, limits: Limits) -> None:
    total = sum(entry.file_size for _, entry in entries)
    limits.check("unpacked_mb", total / MB, what=f"{path.name} unpacks to too many MB", layer=layer)
    for _, entry in entries:
        if entry.file_size > _SMALL:
            ratio = entry.file_size / max(entry.compress_size, 1)
            what = f"{entry.filename} in {path.name} is this many times larger than packed"
            limits.check("archive_ratio", ratio, what=what, layer=layer)


def _check_entry(entry: zipfile.ZipInfo, path: Path, layer: str) -> None:
    if entry.flag_bits & 1:
        raise _refusal(layer, path, f"holds {entry.filename!r} encrypted", "archive-encrypted")
    if stat.S_ISLNK(entry.external_attr >> 16):
        raise _refusal(layer, path, f"holds {entry.filename!r} as a link", "archive-path")


def _refusal(layer: str, path: Path, what: str, code: str) -> LayerError:
    return LayerError(
        f"Layer {layer!r}: {path.name} {what}.",
        code=code,
        layer=layer,
        value=path.name,
        remedy="Unpack it yourself and name the .shp.",
    )
