"""
The meadow at Wrenlow before anything is set into it: how it was surveyed.

The quarry was dug into a meadow that climbs from the lane to the Brow. The meadow is known
from contours, spot levels, break lines, a grid of levels at its foot and one of the quarry
floor, and the faces of a spoil mound.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from groundwork import APSE, EAST, Row, works
from setting_out import CENTRE, SLAB, disc, rect
from shapely import LineString, Point, Polygon

OUTER = [(8.0, 0.0), (17.2, -13.0), (42.0, -13.0), (42.0, 6.0), (40.5, 13.0), (37.5, 20.0), (34.0, 26.5)]
CROSS = {  # where each contour crosses y = 0
    11.5: 5.5,
    12.0: 10.2,
    12.5: 13.3,
    13.0: 16.3,
    13.5: 20.0,
    14.0: 23.5,
    14.5: 27.0,
    15.0: 30.0,
    15.5: 33.0,
    16.0: 35.4,
    16.5: 37.2,
    17.0: 42.2,
    17.5: 45.5,
}
LEAN = 0.25  # contours lean back by so much for one of y
SHELF = {16.52: 38.8}  # the back of the shelf along the Brow: it falls gently to the contour before it
FIELD = 14.0  # contours up to this level come with Z
MOUND = (39.9, 3.9)  # the spoil mound
RISE = 0.9  # its height above the meadow


def hill() -> Polygon:
    """What of the site was not dug out."""
    inside = [(EAST, CENTRE[1]), (30.0, CENTRE[1]), (20.0, 10.0)]
    return Polygon([*OUTER, *inside]) - works()


def boundary() -> Polygon:
    """The whole site."""
    return shapely.set_precision(works() | hill(), 1e-6)


def meadow_level(x: float, y: float) -> float:
    """Level of the meadow as it was surveyed [m above datum]."""
    known = dict(sorted((CROSS | SHELF).items()))
    return float(np.interp(x + LEAN * y, list(known.values()), list(known)))


def around() -> Polygon:
    """Where the meadow was surveyed: a little beyond it, but not in the works or on the mound."""
    return hill().buffer(2.5) - works().buffer(0.3) - _mound().buffer(0.4)


def foot() -> Polygon:
    """The foot of the field, levelled on a grid."""
    return around() & hill().buffer(1.5) & rect(4.0, -16.0, 12.4, 2.0)


def _across(cross: float, area: Polygon) -> list[LineString]:
    """Pieces of a line along the hillside within an area."""
    y = np.arange(-16.0, 30.1, 2.0)
    line = LineString(np.column_stack([cross - LEAN * y, y]))
    return [part for part in shapely.get_parts(line & area) if part.length > 0.5]


def _contours() -> list[tuple[float, LineString]]:
    """Level and course of the contours of the meadow, half a metre apart."""
    area = around() - foot().buffer(0.3)
    return [(level, part) for level, cross in CROSS.items() for part in _across(cross, area)]


def contour_rows() -> list[Row]:
    """Contours of the upper meadow, without Z: their level is a field."""
    return [{"geometry": part, "level_m": level} for level, part in _contours() if level > FIELD]


def field_contour_rows() -> list[Row]:
    """Contours of the field below, as lines with Z."""
    return [{"geometry": shapely.force_3d(part, level)} for level, part in _contours() if level <= FIELD]


def breakline_rows() -> list[Row]:
    """Where the meadow breaks off toward the works, with Z at every metre, and the back of the shelf."""
    cut = (works().buffer(-0.1, join_style="mitre").exterior) & hill().buffer(0.5)
    lines = shapely.get_parts(shapely.line_merge(cut))
    fine = shapely.segmentize(lines[shapely.length(lines) > 2.0], 1.0)
    rows = []
    for number, line in enumerate(fine, start=1):
        at = [(round(x, 6), round(y, 6)) for x, y in shapely.get_coordinates(line)]
        levels = [(x, y, round(meadow_level(x, y), 3)) for x, y in at]
        rows.append({"geometry": LineString(levels), "name": f"Top of the cut {number}"})
    for level, cross in SHELF.items():
        parts = shapely.force_3d(_across(cross, around()), level)
        rows += [{"geometry": part, "name": "Back of the shelf"} for part in parts]
    return rows


def spot_rows() -> list[Row]:
    """Spot levels as points with Z, to the centimetre."""
    places = [
        (13.9, -3.4),
        (18.6, -6.3),
        (24.4, -8.6),
        (34.4, -8.9),
        (33.9, -11.8),
        (21.2, -11.9),
        (35.1, 5.6),
        (39.6, 7.4),
    ]
    places += [(38.9, 12.3), (36.1, 15.6), (35.6, 21.9), (41.4, -0.2), (34.3, 9.2)]
    levels = [(x, y, round(meadow_level(x, y), 2)) for x, y in places]
    levels += [(x, APSE[1], floor_level(x, APSE[1])) for x in (EAST - 1.0, EAST + 1.0)]
    return [{"geometry": Point(*at), "name": f"Spot {n}"} for n, at in enumerate(levels, start=1)]


def _mound() -> Polygon:
    return disc(1.5, centre=MOUND, facet=60.0)


def mound_rows() -> list[Row]:
    """The faces of the spoil mound, as polygons with Z."""
    foot = [(x, y, round(meadow_level(x, y), 3)) for x, y in shapely.get_coordinates(_mound())]
    top = (*MOUND, round(meadow_level(*MOUND) + RISE, 3))
    pairs = pairwise(foot)
    return [{"geometry": Polygon([a, b, top]), "name": "Spoil mound"} for a, b in pairs]


def floor_level(x: float, y: float) -> float:
    """Level of the quarry's floor under the works [m above datum]."""
    return round(SLAB + 0.12 + 0.003 * x, 2)


def boundary_rows() -> list[Row]:
    """The whole ground: its surface is the survey."""
    return [{"geometry": boundary(), "name": "Wrenlow Quarry Garden", "slab_lvl": SLAB}]
