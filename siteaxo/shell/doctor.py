"""
What this installation is made of, and what it lacks.
"""

from __future__ import annotations

import importlib.metadata
import platform
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from ..process.fingerprint import versions
from ..sheet.fonts import FAMILY, font_in_use, fonts_known
from ..source.versions import fiona_versions, proj_grids, rasterio_versions

State = Literal["good", "note", "bad"]
_OWN: Final = "siteaxo"
_EXTRAS: Final = ("dem", "progress", "test")


@dataclass(frozen=True, kw_only=True)
class Check:
    """
    One thing looked at.

    Parameters
    ----------
    about : str
        What: "libraries", "GDAL", "PROJ", "fonts", "extras", "plug-ins".
    state : {"good", "note", "bad"}
        Whether something must be done.
    text : str
        What was found, and what to do.
    """

    about: str
    state: State
    text: str


def examine() -> list[Check]:
    """
    Look at the installation.

    Returns
    -------
    list of Check

    Examples
    --------
    >>> sorted({check.about for check in examine()})
    ['GDAL', 'PROJ', 'extras', 'fonts', 'libraries', 'plug-ins', 'siteaxo']
    """
    return [*_libraries(), *_gdals(), *_proj(), *_fonts(), *_extras(), *_plug_ins()]


def report(checks: list[Check]) -> str:
    """Write checks as lines of text, one group after another."""
    signs = {"good": " ", "note": "·", "bad": "!"}
    wide = max(len(check.about) for check in checks)
    return "\n".join(f"{signs[check.state]} {check.about:<{wide}}  {check.text}" for check in checks)


def _libraries() -> Iterator[Check]:
    machine = f"Python {platform.python_version()}, {platform.system()} {platform.machine()}"
    yield Check(about="siteaxo", state="good", text=f"{_version(_OWN) or 'not installed'} on {machine}")
    known = {**versions(), **fiona_versions()}
    plain = [f"{name} {text}" for name, text in known.items() if name.islower() and name != "python"]
    yield Check(about="libraries", state="good", text=", ".join(plain))
    yield Check(about="libraries", state="good", text=f"GEOS {known['GEOS']}")
    for name, least in _needed(None):
        found = _version(name)
        if found is None or _number(found) < _number(least):
            has = "is missing" if found is None else f"is {found}"
            yield Check(about="libraries", state="bad", text=f"{name} {has}; pip install '{name}>={least}'")


def _gdals() -> Iterator[Check]:
    found = {
        name.removeprefix("GDAL of "): text
        for name, text in {**versions(), **fiona_versions(), **rasterio_versions()}.items()
        if name.startswith("GDAL of ")
    }
    told = ", ".join(f"{text} in {name}" for name, text in found.items())
    yield Check(about="GDAL", state="good", text=told)
    if len(set(found.values())) > 1:
        yield Check(
            about="GDAL",
            state="note",
            text="several GDALs in one process; siteaxo never lets two of them hold one GeoPackage",
        )
    if "fiona" not in found:
        yield Check(
            about="GDAL",
            state="note",
            text="fiona is not there: a damaged layer cannot be read record by record; pip install fiona",
        )


def _proj() -> Iterator[Check]:
    known = versions()
    folders, grids = proj_grids()
    there = [str(folder) for folder in folders if folder.is_dir()]
    missing = "PROJ finds no data: pip install --force-reinstall pyproj"
    yield Check(
        about="PROJ",
        state="good" if there else "bad",
        text=f"{known['PROJ']}, data in {', '.join(there)}" if there else missing,
    )
    if grids:
        yield Check(about="PROJ", state="good", text=f"{len(grids)} datum grids: {', '.join(grids[:6])}")
    else:
        yield Check(
            about="PROJ",
            state="note",
            text="no datum grids: shifts between datums may be metres off (see the findings); "
            "pyproj sync --bbox WEST,SOUTH,EAST,NORTH fetches those of an area",
        )
    yield Check(about="PROJ", state="good", text=f"grids from the network: {known['PROJ network']}")


def _fonts() -> Iterator[Check]:
    name, file = font_in_use()
    text = f"sheets are lettered in {name} ({file}); {fonts_known()} typefaces on this machine"
    yield Check(about="fonts", state="good" if name == FAMILY else "note", text=text)


def _extras() -> Iterator[Check]:
    if _version(_OWN) is None:
        text = "what they lack cannot be told: siteaxo itself is not installed; pip install -e ."
        yield Check(about="extras", state="note", text=text)
        return
    for extra in _EXTRAS:
        lacking = [name for name, least in _needed(extra) if _lacks(name, least)]
        if not lacking:
            yield Check(about="extras", state="good", text=f"{extra}: complete")
            continue
        yield Check(
            about="extras",
            state="note",
            text=f"{extra}: without {', '.join(lacking)}; pip install 'siteaxo[{extra}]'",
        )


def _plug_ins() -> Iterator[Check]:
    from ..registry import all_plug_ins

    kinds = all_plug_ins()
    origins = {one.origin for kind in kinds.values() for one in kind.found.values()}
    for origin in sorted(origins):
        added = [
            f"{what.removesuffix('s')} {name}"
            for what, kind in kinds.items()
            for name, one in kind.found.items()
            if one.origin == origin
        ]
        yield Check(about="plug-ins", state="good", text=f"{origin} adds {', '.join(added)}")
    broken = [finding for kind in kinds.values() for finding in kind.findings]
    if not (origins or broken):
        yield Check(about="plug-ins", state="good", text="none installed")
    for finding in broken:
        yield Check(about="plug-ins", state="bad", text=finding.message)


def _needed(extra: str | None) -> list[tuple[str, str]]:
    """Packages that siteaxo, or one of its extras, needs, and the least version of each."""
    try:
        lines = importlib.metadata.requires(_OWN) or []
    except importlib.metadata.PackageNotFoundError:
        return []
    found = []
    for line in lines:
        asked = re.search(r"extra\s*==\s*['\"]([\w-]+)['\"]", line)
        parts = re.match(r"([\w.-]+)(?:\[[^\]]*\])?\s*(?:>=\s*([\w.]+))?", line)
        if parts and (asked[1] if asked else None) == extra:
            found.append((parts[1], parts[2] or "0"))
    return found


def _lacks(name: str, least: str) -> bool:
    found = _version(name)
    return found is None or _number(found) < _number(least)


def _version(name: str) -> str | None:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return None


def _number(version: str) -> tuple[int, ...]:
    """The numbers of a version, for comparing."""
    return tuple(int(part) for part in re.findall(r"\d+", re.split(r"[a-zA-Z+]", version)[0]))


def worst_of(checks: list[Check]) -> int:
    """Exit status: 2 if something is bad, else 0."""
    return 2 if any(check.state == "bad" for check in checks) else 0


__all__ = ["Check", "examine", "report", "worst_of"]
