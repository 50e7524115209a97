"""
Level marks: which levels of a drawing are worth a mark, and where they can be read.

The rule
    Every level area that is large enough on paper has a mark, the largest first, as long as there
    are not too many; but of areas of one layer at one level those whose middles lie nearer than
    30 mm to that of one with a mark have none. So roofs of one height are marked each, and a
    floor in pieces is not marked piece by piece.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from ..craft.offset import offset
from ..craft.surfaces import LEVEL, has_planes
from ..units import METRES_PER

LEVEL_ROLES: Final = frozenset(
    {"ground", "terrace", "lawn", "water", "paving", "path", "deck", "structure", "roof"}
)
"""Roles whose level tops are marked."""
LEAST_MM2: Final = 45.0  # visible areas smaller than this on paper get no mark [mm²]
LEAST_SHARE: Final = 0.3  # of the largest area at a level; smaller ones at that level get no mark [-]
MOST: Final = 60
ALIKE_MM: Final = 30.0
"""Least distance of marks of one level in one layer on paper [mm]."""
SAME: Final = 0.005  # a face whose levels differ by less is level [m]
_JOIN_MM: Final = 0.15


@dataclass(frozen=True, kw_only=True)
class LevelRegion:
    """
    A connected area that lies at one level.

    Parameters
    ----------
    level : float
        Its level [m].
    region : Polygon
        What is seen of it [m on the page].
    layer, source_id, role, fill : str
        Of the largest face in it.
    """

    level: float
    region: shapely.Geometry
    layer: str
    source_id: str
    role: str
    fill: str


def level_tops(faces: Any) -> np.ndarray:
    """Which faces lie level and have a role whose levels are marked, shape (f,); none without planes."""
    if not has_planes(faces):
        return np.zeros(len(faces), dtype=bool)
    flat = faces["normal_z"].to_numpy(dtype=float) > LEVEL
    flat &= faces["role"].isin(LEVEL_ROLES).to_numpy()
    flat &= (faces["level_max"] - faces["level_min"]).to_numpy(dtype=float) < SAME
    return np.asarray(flat)


def level_regions(faces: Any, scale: float, unit: str = "m") -> list[LevelRegion]:
    """
    Join level faces that lie side by side at one level.

    Parameters
    ----------
    faces : GeoDataFrame
        Visible faces with their planes.
    scale : float
        The x of 1:x.
    unit : {"m", "ft", "ft-us"}
        In hundredths of which levels are told.

    Returns
    -------
    list of LevelRegion
        The largest first, not more than ``MOST``.
    """
    if not has_planes(faces) or not len(faces):
        return []
    own = faces[level_tops(faces)]
    rounded = np.round(own["level_max"].to_numpy(dtype=float) / METRES_PER[unit], 2) + 0.0
    least = LEAST_MM2 * (scale / 1000) ** 2
    found: list[LevelRegion] = []
    for level in np.unique(rounded):
        rows = own[rounded == level]
        if float(shapely.area(np.asarray(rows.geometry.array)).sum()) >= least:
            found += [
                LevelRegion(
                    level=float(level) * METRES_PER[unit],
                    region=part,
                    layer=str(row["layer"]),
                    source_id=str(row["source_id"]),
                    role=str(row["role"]),
                    fill=str(row["fill"]),
                )
                for part, row in joined_parts(rows, least, scale)
            ]
    found.sort(key=lambda one: (-round(one.region.area, 6), one.level, one.region.bounds))
    return _apart(found, ALIKE_MM * scale / 1000)[:MOST]


def _apart(found: list[LevelRegion], least: float) -> list[LevelRegion]:
    """Of regions of one layer at one level those that lie so far from the ones before them [m]."""
    alike: dict[tuple[float, str], list[np.ndarray]] = {}
    chosen = []
    for one in found:
        middles = alike.setdefault((one.level, one.layer), [])
        middle = shapely.get_coordinates(shapely.point_on_surface(one.region))[0]
        if all(np.hypot(*(middle - other)) >= least for other in middles):
            middles.append(middle)
            chosen.append(one)
    return chosen


def joined_parts(rows: Any, least: float, scale: float) -> Iterator[tuple[shapely.Polygon, Any]]:
    """
    Join faces that lie side by side in one plane.

    Parameters
    ----------
    rows : GeoDataFrame
        Visible faces.
    least : float
        Smallest area [m² on the page].
    scale : float
        The x of 1:x.

    Yields
    ------
    part : Polygon
        A connected area [m on the page].
    row : Series
        The largest face in it.
    """
    join = _JOIN_MM * scale / 1000
    shapes = np.asarray(rows.geometry.array, dtype=object)
    real = shapely.area(shapes) > join**2  # mitres of slivers are no numbers
    rows, shapes = rows[real], shapes[real]
    joined = shapely.union_all(offset(shapes, join, quad_segs=2, join_style="mitre"))
    parts = shapely.get_parts(offset(np.array([joined]), -join, quad_segs=2, join_style="mitre"))
    area = shapely.area(parts)
    kept = parts[(area >= least) & (area >= LEAST_SHARE * area.max(initial=0.0))]
    tree = shapely.STRtree(shapely.point_on_surface(shapes))
    for part in kept:
        inside = tree.query(part, predicate="intersects")
        if len(inside):
            largest = inside[np.lexsort((inside, -shapely.area(shapes[inside])))[0]]
            yield part, rows.iloc[int(largest)]
