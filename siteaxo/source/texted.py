"""
GeoJSON and GML looked through before a reader opens them.

Both are text that can do more than hold features: link to a CRS on another machine, be a
pipeline or a list of other files, or name entities to be fetched. What is found here is
also how many features there are, so that none can be lost on the way.

References
----------
RFC 7946 (GeoJSON); GeoJSON 2008, 3.4 (linked CRSs); OGC 07-036 (GML 3.2.1), feature collections.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final
from xml.parsers import expat

import pyproj

from ..errors import LayerError
from .stated import NUMBERS, check_systems, compared, numbers_of

_REDIRECTS: Final = re.compile(
    rb"<OGRVRT|<VRTDataset|gdal_streamed_alg|GDALG|<OGRWFS|<OGRNAS|<OGRCSW|<GDAL_WMS|<WMS_|<WCS_|<Configuration",
    re.IGNORECASE,
)
_GEOMETRIES: Final = (
    *("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon"),
    "GeometryCollection",
)
_CRS_NAME: Final = re.compile(
    r"urn:(x-)?ogc:def:crs:[\w:.\-]+|(EPSG|OGC|ESRI|IGNF)[: ]+\w+|https?://www\.opengis\.net/(def/crs|gml/srs)/[\w/.#\-]+",
    re.IGNORECASE,
)
_OTHER_JSON: Final = ("coordRefSys", "conformsTo", "stac_version", "arcs")
_GML: Final = "opengis.net/gml"
_ONE: Final = ("featureMember", "member", "cityObjectMember")
_SEVERAL: Final = ("featureMembers", "members")
_DEEPEST: Final = 100
_PLACES: Final = ("posList", "pos", "coordinates", "lowerCorner", "upperCorner")
_NO_NUMBERS: Final = re.compile(r"[^0-9eE+\-., \t\r\n]")


@dataclass(frozen=True, kw_only=True)
class Contents:
    """
    What a text file says it holds.

    Parameters
    ----------
    count : int or None
        Features, where there is one table.
    counts : mapping of str to int
        Features per table, where there may be several.
    filled : tuple of bool
        Whether each feature has a geometry, where that is known.
    notes : tuple of str
        What is odd about it, though it can be read.
    """

    count: int | None = None
    counts: Mapping[str, int] = field(default_factory=dict)
    filled: tuple[bool, ...] = ()
    notes: tuple[str, ...] = ()


def look_into_geojson(path: Path, layer: str) -> Contents:
    """
    Look through a GeoJSON file.

    Parameters
    ----------
    path : Path
        The file.
    layer : str
        Name of the layer, for messages.

    Returns
    -------
    Contents

    Raises
    ------
    LayerError
        If it is not whole, is no GeoJSON, or points to other data.
    """
    content = path.read_bytes()
    _refuse_redirects(content, path, layer)
    try:
        top = json.loads(content.decode("utf-8-sig"), object_pairs_hook=_object)
    except UnicodeDecodeError as problem:
        raise _refusal(
            layer,
            path,
            f"is not written in UTF-8 (byte {problem.start})",
            "file-encoding",
            "Save it as UTF-8.",
        ) from None
    except (ValueError, RecursionError) as problem:
        said = str(problem) if isinstance(problem, ValueError) else "it is nested too deeply"
        raise _refusal(layer, path, f"is no whole GeoJSON file ({said})", "file-damaged") from None
    if not isinstance(top, dict) or top.get("type") not in ("FeatureCollection", "Feature", *_GEOMETRIES):
        raise _refusal(layer, path, "is JSON, but no GeoJSON", "file-kind")
    other = [name for name in _OTHER_JSON if name in top]
    if other:
        raise _refusal(layer, path, f"is no plain GeoJSON: it has {other[0]!r}", "file-kind")
    return _features(top, path, layer)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make one object of JSON; readers differ in which of two values they take for one name."""
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        raise ValueError(f"it says {next(n for n in names if names.count(n) > 1)!r} twice in one object")
    return made


def _features(top: dict[str, Any], path: Path, layer: str) -> Contents:
    own = _crs_name(top, path, layer)
    names = {own} if own else {"WGS 84", "WGS 84 (CRS84)"}
    if top["type"] != "FeatureCollection":
        return Contents(count=1, filled=(top["type"] != "Feature" or top.get("geometry") is not None,))
    features = top.get("features")
    if not isinstance(features, list):
        raise _refusal(layer, path, "has no list of features", "file-damaged")
    odd = [i for i, one in enumerate(features) if not isinstance(one, dict) or one.get("type") != "Feature"]
    if odd:
        raise _refusal(layer, path, f"has an entry that is no feature (number {odd[0]})", "file-damaged")
    others = {name for name in (_crs_name(one, path, layer) for one in features) if name} - names
    if others:
        said = f"names several coordinate reference systems: {', '.join(sorted({*others, max(names)}))}"
        raise _refusal(layer, path, said, "crs-several", "Export one file for each.")
    filled = tuple(one.get("geometry") is not None for one in features)
    notes = compared(numbers_of(top), len(features), path, layer)
    return Contents(count=len(features), filled=filled, notes=notes)


def _crs_name(holder: dict[str, Any], path: Path, layer: str) -> str:
    """Name of a CRS, "" where there is none; one that is linked to, or that nobody knows, is refused."""
    found = ""
    for one in (holder, holder.get("geometry")):
        crs = one.get("crs") if isinstance(one, dict) else None
        if crs is None:
            continue
        named = crs.get("properties") if isinstance(crs, dict) and crs.get("type") == "name" else None
        name = named.get("name") if isinstance(named, dict) else None
        if not isinstance(name, str) or _CRS_NAME.fullmatch(name.strip()) is None:
            raise LayerError(
                f"Layer {layer!r}: the coordinate reference system of {path.name} is not named by a code; "
                "links to one are not followed.",
                code="crs-link",
                layer=layer,
                value=path.name,
                remedy='Name it, e.g. "urn:ogc:def:crs:EPSG::25832", or give crs in the layer instead.',
            )
        try:
            found = pyproj.CRS.from_user_input(name.strip()).name
        except pyproj.exceptions.CRSError:
            said = f"names a coordinate reference system that is not known, {name!r}"
            raise _refusal(layer, path, said, "crs-unknown", "Name another, or take it out.") from None
    return found


def look_into_gml(path: Path, layer: str) -> Contents:
    """
    Look through a GML file.

    Parameters
    ----------
    path : Path
        The file.
    layer : str
        Name of the layer, for messages.

    Returns
    -------
    Contents

    Raises
    ------
    LayerError
        If it is not whole, is no GML, declares a document type, or points to other data.
    """
    with path.open("rb") as stream:
        _refuse_redirects(stream.read(1 << 20), path, layer)
        stream.seek(0)
        seen = _Elements()
        try:
            seen.parser.ParseFile(stream)
        except (expat.ExpatError, _Stop) as problem:
            raise _refusal(layer, path, f"is no whole GML file ({problem})", "file-damaged") from None
        except (LookupError, ValueError) as problem:
            raise _refusal(layer, path, f"cannot be read ({problem})", "file-encoding") from None
    if not seen.gml:
        raise _refusal(layer, path, "is XML, but no GML", "file-kind")
    said = {} if seen.nested else seen.said
    check_systems(seen.systems, path, layer)
    return Contents(counts=seen.counts, notes=compared(said, seen.counts.total(), path, layer))


class _Stop(Exception):  # noqa: N818 - it says why, and is no fault of ours
    """Parsing is broken off."""


class _Elements:
    """Counts the features of a GML file by their names."""

    def __init__(self) -> None:
        self.gml, self.depth, self.within = False, 0, -1
        self.counts: Counter[str] = Counter()
        self.said: dict[str, int] = {}
        self.nested = False
        self.table = ""
        self.systems: dict[str, set[str]] = {}
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.StartNamespaceDeclHandler = self._namespace
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.CharacterDataHandler = self._text
        self.in_places = False

    def _namespace(self, _: str | None, uri: str | None) -> None:
        self.gml |= _GML in (uri or "")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local, crs = name.rpartition(" ")[2], attributes.get("srsName")
        if crs is not None and _CRS_NAME.fullmatch(crs.strip()) is None:
            raise _Stop(f"it names a coordinate reference system by {crs!r}, which is no code")
        if self.depth >= _DEEPEST:
            raise _Stop("it is nested too deeply")
        if self.depth == 1 and local in (*_ONE, *_SEVERAL):
            self.within = self.depth
        elif self.depth == 2 and self.within == 1:
            self.counts[local] += 1
            self.table = local
        elif self.depth == 0:
            self.said = {key: int(attributes[key]) for key in NUMBERS if attributes.get(key, "").isdecimal()}
        self.nested |= local == "FeatureCollection" and self.depth > 0
        if crs is not None and self.within == 1 and self.depth > 2 and local != "Envelope":
            self.systems.setdefault(self.table, set()).add(crs)
        self.in_places = local in _PLACES
        self.depth += 1

    def _end(self, _: str) -> None:
        self.depth -= 1
        self.in_places = False
        if self.depth == self.within:
            self.within = -1

    def _text(self, text: str) -> None:
        if self.in_places and _NO_NUMBERS.search(text):
            raise _Stop(f"feature {sum(self.counts.values())} has coordinates that are no numbers")

    def _doctype(self, *_: object) -> None:
        raise _Stop("it declares a document type, which GML has no need of")


def _refuse_redirects(content: bytes, path: Path, layer: str) -> None:
    if _REDIRECTS.search(content):
        raise _refusal(
            layer,
            path,
            "holds no features but points to other data",
            "file-points-elsewhere",
            "Name the file with the features themselves.",
        )


def _refusal(layer: str, path: Path, what: str, code: str, remedy: str = "") -> LayerError:
    return LayerError(
        f"Layer {layer!r}: {path.name} {what}.",
        code=code,
        layer=layer,
        value=path.name,
        remedy=remedy or "Export it anew.",
    )
