"""
What GeoJSON and GML state of themselves: how many features there are, and in which systems.

A file from a service may be one page of many, or cut off on its way; it says how many
features were sent, and how many there are.

References
----------
OGC 09-025 (WFS 2.0), 7.7.4 (numberReturned, numberMatched); OGC 04-094 (WFS 1.1), 9.2
(numberOfFeatures); OGC 17-069 (OGC API - Features), 7.16.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import unescape

import pyproj

from ..errors import LayerError

_RETURNED: Final = "numberReturned"
NUMBERS: Final = (_RETURNED, "numberMatched", "totalFeatures", "numberOfFeatures")
_MORE: Final = "more"


def numbers_of(top: Mapping[str, Any]) -> dict[str, int]:
    """
    Numbers of features that a feature collection states.

    Parameters
    ----------
    top : mapping
        The collection, as read from JSON.

    Returns
    -------
    dict of str to int
        With the key "more" where it says that others follow, but not how many.

    Examples
    --------
    >>> numbers_of({"features": [], "numberMatched": 900})
    {'numberMatched': 900}
    """
    stated = {key: top[key] for key in NUMBERS if type(top.get(key)) is int}
    links = top.get("links")
    pages = [one for one in links if isinstance(one, dict)] if isinstance(links, list) else []
    holders = [one for one in (top, top.get("properties")) if isinstance(one, Mapping)]
    more = any(one.get("rel") == "next" for one in pages)
    more |= any(one.get("exceededTransferLimit") is True for one in holders)
    return {**stated, _MORE: len(top["features"]) + 1} if more else stated


def compared(stated: Mapping[str, int], found: int, path: Path, layer: str) -> tuple[str, ...]:
    """
    Compare what a file states with what it holds.

    Parameters
    ----------
    stated : mapping of str to int
        As of :func:`numbers_of`.
    found : int
        Features it holds.
    path : Path
        The file.
    layer : str
        Name of the layer, for messages.

    Returns
    -------
    tuple of str
        A note, where there are more features than were sent.

    Raises
    ------
    LayerError
        If it holds fewer than were sent.

    Examples
    --------
    >>> compared({"numberReturned": 5}, 5, Path("beds.geojson"), "beds")
    ()
    """
    sent = stated.get(_RETURNED, 0)
    if sent > found:
        raise LayerError(
            f"Layer {layer!r}: {path.name} says that it holds {sent} features, and holds {found}.",
            code="records-lost",
            layer=layer,
            value=sent - found,
            remedy="Fetch it anew.",
        )
    every = max([0, *(number for key, number in stated.items() if key != _RETURNED)])
    if every <= found:
        return ()
    told = "more" if every == stated.get(_MORE) else str(every)
    return (f"it is a part of something larger: it says there are {told} features, and holds {found}",)


def check_systems(systems: Mapping[str, set[str]], path: Path, layer: str) -> None:
    """
    Refuse a table in several reference systems, and one whose description beside it names another.

    Parameters
    ----------
    systems : mapping of str to set of str
        Names of the systems of each table.
    path : Path
        The GML file.
    layer : str
        Name of the layer, for messages.

    Raises
    ------
    LayerError
        If there are several; the reader would take one of them for all.

    Examples
    --------
    >>> check_systems({"beds": {"EPSG:25832", "urn:ogc:def:crs:EPSG::25832"}}, Path("beds.gml"), "beds")
    """
    beside = path.with_suffix(".gfs")
    words = beside.read_text("utf-8", "replace") if beside.is_file() else ""
    described = set(re.findall(r"<SRSName>(.*?)</SRSName>", words, re.DOTALL))
    for names in systems.values():
        known = {one.name for one in map(_known, names | described) if one is not None}
        if len(known) > 1:
            away = f", or take away {beside.name}" if described else ""
            raise LayerError(
                f"Layer {layer!r}: {path.name} names several coordinate reference systems: "
                f"{', '.join(sorted(known))}.",
                code="crs-several",
                layer=layer,
                value=path.name,
                remedy=f"Export one file for each{away}.",
            )


def _known(name: str) -> pyproj.CRS | None:
    """A system by what a file calls it; None where nobody knows it, which its reader tells."""
    number = re.search(r"epsg\.xml#(\d+)", name)
    try:
        return pyproj.CRS.from_user_input(f"EPSG:{number[1]}" if number else unescape(name).strip())
    except pyproj.exceptions.CRSError:
        return None
