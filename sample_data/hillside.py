"""
The hillside around the works at Wrenlow: how it was surveyed, and what is set into it.

The quarry was dug into a meadow that climbs from the lane to the Brow. The meadow is known
from contours, spot levels, break lines, a grid of levels of the quarry floor, and the faces
of a spoil mound. Terraces with banks, two flights, a ramp and paths are laid into it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from groundwork import APSE, EAST, GARDEN, R_APSE, RAMP_RUN_END, SPUR_EDGE, Row, works
from groundwork import terraces as dug
from setting_out import BASIN, CENTRE, GROVE, LEDGE, SLAB, arc, disc, rect, strip
from shapely import LineString, MultiLineString, Point, Polygon

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
YARD, LOOKOUT = 16.50, 16.80  # levels of the lodge yard and the lookout
TURN = (33.2, 1.7)  # centre of the curved flight
R_TURN = (2.0, 3.6)  # radii of its two sides
HEAD = 16.50  # its upper end
BROW = 16.80  # upper end of the Brow steps
LOOKOUT_AT = (37.5, 9.0)
MOUND = (39.9, 3.9)  # the spoil mound
RISE = 0.9  # its height above the meadow
GREEN = (14.95, 14.25)  # levels of the high and the low side of the tilted green
BANK, GENTLE, STEEP = 1.5, 3.0, 1.2  # run of banks for one of rise
DOWNHILL = 258.0  # bearing of its fall: against the x axis


def hill() -> Polygon:
    """What of the site was not dug out."""
    inside = [(EAST, CENTRE[1]), (30.0, CENTRE[1]), (20.0, 10.0)]
    return Polygon([*OUTER, *inside]) - works()


def boundary() -> Polygon:
    """The whole site."""
    return shapely.set_precision(works() | hill(), 1e-6)


def meadow_level(x: float, y: float) -> float:
    """Level of the meadow as it was surveyed [m above datum]."""
    return float(np.interp(x + LEAN * y, list(CROSS.values()), list(CROSS)))


def contour_rows() -> list[Row]:
    """Contours of the meadow, half a metre apart, without Z: their level is a field."""
    around = hill().buffer(2.5) - works().buffer(0.3) - _mound().buffer(0.4)
    y = np.arange(-16.0, 30.1, 2.0)
    rows = []
    for level, cross in CROSS.items():
        line = LineString(np.column_stack([cross - LEAN * y, y]))
        parts = [part for part in shapely.get_parts(line & around) if part.length > 0.5]
        rows += [{"geometry": part, "level_m": level} for part in parts]
    return rows


def breakline_rows() -> list[Row]:
    """Where the meadow breaks off toward the works, with Z at every metre."""
    cut = (works().buffer(-0.1, join_style="mitre").exterior) & hill().buffer(0.5)
    lines = shapely.get_parts(shapely.line_merge(cut))
    fine = shapely.segmentize(lines[shapely.length(lines) > 2.0], 1.0)
    rows = []
    for number, line in enumerate(fine, start=1):
        at = [(round(x, 6), round(y, 6)) for x, y in shapely.get_coordinates(line)]
        levels = [(x, y, round(meadow_level(x, y), 3)) for x, y in at]
        rows.append({"geometry": LineString(levels), "name": f"Top of the cut {number}"})
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


def terraces() -> dict[str, tuple[Polygon, float, float]]:
    """
    Terraces that meet the meadow with banks: plan, level, and run of the banks for one of rise.

    Where paths leave the heads of the flights, their edge is a contour of the meadow.
    """
    brow = Polygon([(33.75, 21.75), (35.15, 21.75), (35.05, 20.6), (35.375, 19.3), (33.75, 19.3)])
    gate = [(37.5, -1.2), (37.2, 0.0), (36.75, 0.0), (36.75, -1.65)]  # where the lodge path leaves
    yard = Polygon([(35.6, -10.3), (41.5, -10.3), (41.5, -1.2), *gate, (35.6, -2.8)])
    return {
        GARDEN: (dug()[GARDEN], BASIN, GENTLE),
        "Vine terrace": (rect(26.7, -8.5, 33.2, 0.0) - works(), GROVE, BANK),
        "Lodge yard": (yard, YARD, STEEP),
        "Steps head": (Polygon([(35.2, 1.7), (36.8, 1.7), (36.225, 3.9), (35.2, 3.9)]), HEAD, STEEP),
        "Brow landing": (brow, BROW, BANK),
    }


def green() -> Polygon:
    """The tilted green, a terrace that falls as the meadow does."""
    return rect(27.2, -12.2, 33.0, -9.6)


def terrace_rows() -> list[Row]:
    """The terraces with banks as rows."""
    return [
        {"geometry": shape, "name": name, "foot_lvl": SLAB, "fin_lvl": level, "bank_run": run}
        for name, (shape, level, run) in terraces().items()
    ]


def green_rows() -> list[Row]:
    """The tilted green by the levels of its two sides and the way it falls."""
    high, low = GREEN
    slope = {"high_lvl": high, "low_lvl": low, "fall_brg": DOWNHILL}
    return [{"geometry": green(), "name": "Tilted green", "foot_lvl": SLAB} | slope]


def lookout() -> Polygon:
    """The lookout, flush with the Brow."""
    return disc(2.0, centre=LOOKOUT_AT, facet=10.0)


def lookout_rows() -> list[Row]:
    """The lookout as a terrace of its own."""
    return [{"geometry": lookout(), "name": "Lookout", "foot_lvl": SLAB, "fin_lvl": LOOKOUT}]


def switchback() -> LineString:
    """Centre line of the ramp from the basin terrace up to the vine terrace, in three runs."""
    return LineString([RAMP_RUN_END, (25.2, -0.9), (25.2, -2.9), (19.95, -2.9), (19.95, -4.9), (26.7, -4.9)])


def switchback_rows() -> list[Row]:
    """Three runs at 1 in 12.5, with landings at the turns."""
    return [
        {
            "geometry": switchback(),
            "name": "Switchback",
            "foot_lvl": BASIN,
            "head_lvl": GROVE,
            "width_m": 1.5,
            "landing_m": 1.5,
        }
    ]


def curved_step_rows() -> list[Row]:
    """A quarter turn from the vine terrace up to the Brow, drawn by its two sides."""
    sides = [arc(radius, -90, 0, centre=TURN) for radius in R_TURN]
    return [{"geometry": MultiLineString(sides), "name": "Curved steps", "foot_lvl": GROVE, "head_lvl": HEAD}]


def brow_steps() -> LineString:
    """Centre line of the flight from the ledge up to the Brow; it turns on a landing."""
    return LineString([(EAST, 23.5), (34.45, 23.5), (34.45, 21.75)])


def brow_step_rows() -> list[Row]:
    """Two times four risers with a landing between them."""
    return [
        {
            "geometry": brow_steps(),
            "name": "Brow steps",
            "foot_lvl": LEDGE,
            "head_lvl": BROW,
            "width_m": 1.4,
            "landing_m": 1.4,
        }
    ]


def path_rows() -> list[Row]:
    """Mown and gravelled ways over the meadow; they follow the ground."""
    x, y = LOOKOUT_AT
    lines = {
        "Brow path south": (
            [(36.3975, 3.24), (37.17149, 3.4423), (37.25, 5.0), (x, y - 2.8), (x, y - 2.0)],
            1.0,
        ),
        "Brow path north": (
            [(x, y + 2.0), (x, y + 2.9), (37.0, 14.6), (36.2, 18.2), (36.18264, 20.19254), (35.2125, 19.95)],
            1.2,
        ),
        "Lodge path": ([(37.35, -0.6), (38.22, -0.3825), (37.54424, 2.41158), (36.6735, 2.184)], 0.9),
    }
    return [
        {"geometry": LineString(line), "name": name, "width_m": width}
        for name, (line, width) in lines.items()
    ]


def field_path() -> LineString:
    """Centre line of the path from the field up to the ramp, as it was set out: with levels."""
    foot = (13.63, -7.0)
    return LineString([(*foot, round(meadow_level(*foot), 2)), (*SPUR_EDGE, BASIN)])


def field_path_rows() -> list[Row]:
    """The field path: level across, and banked to the meadow on either side."""
    return [{"geometry": field_path(), "name": "Field path", "width_m": 1.2, "bank_run": 2.0}]


def picnic() -> Polygon:
    """The picnic green above the lookout; it lies in a plane of its own."""
    return Polygon([(38.9, 11.2), (40.5, 11.2), (39.9, 13.8), (38.6, 13.8)])


def picnic_rows() -> list[Row]:
    """The picnic green, without levels but that of its foot."""
    return [{"geometry": picnic(), "name": "Picnic green", "foot_lvl": SLAB}]


def finished_level_rows() -> list[Row]:
    """What the picnic green is to be laid to: three of its corners."""
    levels = {(38.9, 11.2): 16.93, (40.5, 11.2): 17.08, (38.6, 13.8): 16.95}
    return [
        {"geometry": Point(at), "name": f"Peg {n}", "fin_lvl": z}
        for n, (at, z) in enumerate(levels.items(), 1)
    ]


def cut_by() -> Polygon:
    """Everything that interrupts the meadow, paths left out."""
    shapes = [shape for shape, _, _ in terraces().values()]
    shapes += [green(), picnic(), lookout(), strip(switchback(), 1.5), strip(brow_steps(), 1.4)]
    turn = disc(R_TURN[1], centre=TURN) - disc(R_TURN[0], centre=TURN)
    shapes.append(turn & rect(TURN[0], TURN[1] - 5.0, TURN[0] + 5.0, TURN[1]))
    return shapely.union_all(shapes)


def brow_walls() -> list[tuple[str, Polygon, float]]:
    """Name, plan and coping level of the walls that hold the Brow above the grove terrace."""
    apse = disc(R_APSE, centre=APSE, facet=10.0) - disc(R_APSE - 0.3, centre=APSE, facet=10.0)
    line = rect(EAST - 0.3, 0.0, EAST, 21.6) - disc(R_APSE - 0.3, centre=APSE, facet=10.0)
    whole = (apse & rect(EAST, 0.0, 40.0, 40.0)) | line
    south, north = rect(0.0, 0.0, 40.0, 8.0), rect(0.0, 8.0, 40.0, 21.6)
    vine = rect(33.0, -8.5, 33.2, -2.1)
    return [
        ("Vine wall", vine, 15.6),
        ("Brow wall south", whole & south, 15.95),
        ("Brow wall", whole & north, 16.55),
    ]
