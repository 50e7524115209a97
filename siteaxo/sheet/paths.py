"""
Faces and lines as compound paths: one for every tone and one for every width.

In one compound path the coverage of neighbouring faces adds up exactly where they meet, so
no hairline shows between them, and files are small and quick to write.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from ..craft.colours import hex_from_rgb, oklab_from_rgb, rgb_from_hex, rgb_from_oklab
from ..craft.lines import DASH
from ..units import points_from_mm

_FILL_ORDER: Final = 1.0
_LINE_ORDER: Final = 2.0


def area_path(areas: Any) -> Path | None:
    """
    Make one path of many polygons, holes left open.

    Parameters
    ----------
    areas : array of Polygon or MultiPolygon, shape (n,)
        They may touch but not overlap.

    Returns
    -------
    matplotlib.path.Path or None
        None when there is nothing to fill.
    """
    polygons = _parts(areas, "Polygon")
    rings = shapely.get_rings(shapely.orient_polygons(polygons))
    return _path(rings, closed=True)


def line_path(lines: Any) -> Path | None:
    """
    Make one path of many lines.

    Parameters
    ----------
    lines : array of LineString or MultiLineString, shape (n,)

    Returns
    -------
    matplotlib.path.Path or None
        None when there is nothing to draw.
    """
    return _path(_parts(lines, "LineString"), closed=False)


def _parts(geometries: Any, kind: str) -> np.ndarray:
    """Single parts of one kind of geometry, empty ones left out."""
    parts = shapely.get_parts(np.asarray(geometries, dtype=object))
    wanted = {"Polygon": shapely.GeometryType.POLYGON, "LineString": shapely.GeometryType.LINESTRING}[kind]
    return np.asarray(parts[(shapely.get_type_id(parts) == wanted) & ~shapely.is_empty(parts)])


def _path(strings: np.ndarray, *, closed: bool) -> Path | None:
    """Join the coordinates of many strings or rings into one path."""
    if not len(strings):
        return None
    points, owner = shapely.get_coordinates(strings, return_index=True)
    starts = np.flatnonzero(np.diff(owner, prepend=-1))
    codes = np.full(len(points), Path.LINETO, dtype=Path.code_type)
    codes[starts] = Path.MOVETO
    if closed:
        codes[np.append(starts[1:], len(points)) - 1] = Path.CLOSEPOLY
    return Path(points, codes)


def fill_faces(axes: Axes, faces: Any) -> None:
    """
    Fill the faces, one compound path for every layer and tone.

    All faces together are laid under them first in their mean tone, so that paper cannot
    show between two tones that meet inside a pixel.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        The drawing's axes.
    faces : GeoDataFrame
        With the columns geometry, layer, fill and draw_order.
    """
    under = area_path(faces.geometry.array)
    if under is None:
        return
    _add(axes, under, "faces_under", zorder=_FILL_ORDER - 0.5, facecolor=_mean_tone(faces))
    taken: set[str] = set()
    for rank, ((layer, fill), rows) in enumerate(_groups(faces, ["layer", "fill"])):
        name = _unused(f"faces_{id_from(layer)}_{fill.removeprefix('#')}", taken)
        _add(axes, area_path(rows.geometry.array), name, zorder=_FILL_ORDER + rank * 1e-5, facecolor=fill)


def _mean_tone(faces: Any) -> str:
    """Mean of the faces' tones in OKLab, weighted by area."""
    fills, which = np.unique(faces["fill"].to_numpy(dtype=str), return_inverse=True)
    weights = np.bincount(which, weights=shapely.area(np.asarray(faces.geometry.array)))
    tones = oklab_from_rgb([rgb_from_hex(str(fill)) for fill in fills])
    return hex_from_rgb(rgb_from_oklab(weights @ tones / weights.sum()))


def stroke_lines(axes: Axes, lines: Any, *, table: str = "edges", dashed: bool = False) -> None:
    """
    Draw lines, one compound path for every layer, kind, width and colour.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        The drawing's axes.
    lines : GeoDataFrame
        With the columns geometry, layer, kind, line_mm, colour and draw_order.
    table : str
        Name of the table, for the groups of an SVG.
    dashed : bool
        Draw dashes of 12 and gaps of 3 line widths (ISO 128-2).
    """
    order = _LINE_ORDER - 0.5 if dashed else _LINE_ORDER
    keys = ["layer", "kind", "line_mm", "colour"]
    taken: set[str] = set()
    for rank, ((layer, kind, width_mm, colour), rows) in enumerate(_groups(lines, keys)):
        look = f"{width_mm * 100:.0f}_{colour.removeprefix('#')}"
        name = _unused(f"{table}_{id_from(layer)}_{id_from(kind)}_{look}", taken)
        _add(
            axes,
            line_path(rows.geometry.array),
            name,
            zorder=order + rank * 1e-5,
            fill=False,
            edgecolor=colour,
            linewidth=points_from_mm(width_mm),
            linestyle=(0.0, DASH) if dashed else "solid",
            capstyle="butt" if dashed else "round",
            joinstyle="round",
        )


def id_from(text: object) -> str:
    """
    Make a name that can be an XML id out of any text.

    Examples
    --------
    >>> id_from("Dyers' Yard, 2")
    'dyers-yard-2'
    """
    letters = unicodedata.normalize("NFKD", str(text)).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", letters.lower()).strip("-") or "unnamed"


def _unused(name: str, taken: set[str]) -> str:
    """Return *name*, numbered where it is taken already, and take it."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}_{number}"
    taken.add(free)
    return free


def _groups(frame: Any, keys: list[str]) -> Iterator[tuple[Any, Any]]:
    """Yield the groups of a frame from the undermost to the topmost."""
    order = frame.groupby(keys, sort=True)["draw_order"].min().sort_values(kind="stable")
    rows = frame.groupby(keys, sort=True).indices
    for key in order.index:
        yield key, frame.iloc[rows[key]]


def _add(axes: Axes, path: Path | None, name: str, *, zorder: float, **look: Any) -> None:
    """Put a path on the axes as it is, neither snapped to pixels nor clipped nor antialiased away."""
    if path is None:
        return
    if "facecolor" in look:
        look |= {"edgecolor": "none", "linewidth": 0.0}
    patch = PathPatch(path, zorder=zorder, clip_on=False, snap=False, gid=name, **look)
    axes.add_artist(patch)
