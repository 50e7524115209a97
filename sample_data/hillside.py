"""
The hillside around the works at Wrenlow: what is set into the meadow.

Terraces with banks, sloping ones, two flights, a ramp and paths are laid into it.
"""

from __future__ import annotations

import shapely
import shapely.affinity
from groundwork import APSE, EAST, GARDEN, R_APSE, RAMP_RUN_END, SPUR_EDGE, Row, works
from groundwork import terraces as dug
from meadow import meadow_level
from setting_out import BASIN, GROVE, LEDGE, SLAB, arc, disc, rect, strip
from shapely import LineString, MultiLineString, Point, Polygon

YARD, LOOKOUT = 16.50, 16.65  # levels of the lodge yard and the lookout
TURN = (33.2, 1.7)  # centre of the curved flight
R_TURN = (2.0, 3.6)  # radii of its two sides
HEAD = 16.50  # its upper end
BROW = 16.80  # upper end of the Brow steps
LOOKOUT_AT = (37.5, 9.0)
REACH = 1.93  # paths reach so near to its middle [m]
GREEN = (14.95, 14.25)  # levels of the high and the low side of the tilted green
COURT = (12.90, 12.78)  # levels of the upper and the lower edge of the court before the bothy
BANK, GENTLE, STEEP = 1.5, 3.0, 1.2  # run of banks for one of rise
DOWNHILL = 258.0  # bearing of its fall: against the x axis


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
    """The way from the lodge along the shelf; it follows the ground."""
    line = [(37.35, -0.6), (38.22, -0.3825), (37.54424, 2.41158), (36.6735, 2.184)]
    return [{"geometry": LineString(line), "name": "Lodge path", "width_m": 0.9}]


def brow_path_rows() -> list[Row]:
    """Gravel paths along the Brow, as they were set out: with levels, from the lookout both ways."""
    x, y = LOOKOUT_AT
    south = [(36.3975, 3.24, HEAD), (37.0941, 3.422066, 16.51), (37.4, 5.0, 16.57), (x, 6.2, 16.62)]
    north = [(x, y + 2.9, 16.66), (37.0, 14.6, 16.71), (36.4, 18.6, 16.77), (36.085628, 20.168282, 16.79)]
    lines = {
        "Brow path south": ([*south, (x, y - REACH, LOOKOUT)], 1.0),
        "Brow path north": ([(x, y + REACH, LOOKOUT), *north, (35.2125, 19.95, BROW)], 1.2),
    }
    return [
        {"geometry": LineString(line), "name": name, "width_m": width}
        for name, (line, width) in lines.items()
    ]


def court() -> Polygon:
    """The court before the gable of the bothy."""
    return rect(16.35, -7.2, 18.4, -4.5)


def court_rows() -> list[Row]:
    """The court, without levels but that of its foot; it is banked to the meadow."""
    return [{"geometry": court(), "name": "Bothy court", "foot_lvl": SLAB, "bank_run": BANK}]


def court_edge_rows() -> list[Row]:
    """What the court is to be laid to: a level along each of two of its edges."""
    x0, y0, x1, y1 = court().bounds
    edges = [("Lower edge", x0, COURT[1]), ("Upper edge", x1, COURT[0])]
    return [
        {"geometry": LineString([(x, y0), (x, y1)]), "name": name, "fin_lvl": level}
        for name, x, level in edges
    ]


def block_rows() -> list[Row]:
    """Blocks left by the quarrymen in the meadow, taken up at the corners of their uneven tops."""
    blocks = [
        ((35.45, 12.75), 20.0, (0.46, 0.50, 0.43, 0.41)),
        ((35.6, 11.4), 65.0, (0.38, 0.41, 0.44, 0.37)),
    ]
    rows = []
    for number, ((x, y), turn, heights) in enumerate(blocks, start=1):
        plan = shapely.affinity.rotate(rect(x - 0.6, y - 0.35, x + 0.6, y + 0.35), turn)
        at = round(meadow_level(x, y), 2)
        corners = shapely.get_coordinates(plan)[:4]
        top = [(*xy, round(at + height, 2)) for xy, height in zip(corners, heights, strict=True)]
        rows.append({"geometry": Polygon(top), "name": f"Block {number}", "material": "rubble stone"})
    return rows


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
    shapes += [green(), picnic(), court(), lookout(), strip(switchback(), 1.5), strip(brow_steps(), 1.4)]
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
