"""
The works of Wrenlow Quarry Garden: terraces, court, steps, ramp, deck and walls in the old quarry.

Four terraces climb from the lane to the foot of the old quarry face. South of the court they
are straight bands; around it they bend, all struck from the court's centre.
"""

from __future__ import annotations

from typing import Any

import shapely
from setting_out import (
    BASIN,
    CENTRE,
    COURT,
    GROVE,
    LEDGE,
    LOWER,
    REST,
    SLAB,
    arc,
    disc,
    rect,
    square,
    strip,
)
from shapely import LineString, Polygon

Row = dict[str, Any]

AXIS_X, AXIS_Y = CENTRE[0], 14.5  # the two axes cross in the middle of the basin
EDGE = 9.5  # x of the edge between the lower terrace and the rest
R_BASIN, R_GROVE, R_LEDGE = 8.0, 11.5, 16.2  # outer radii of the bent terraces
R_COURT = 5.0
EAST, NORTH = CENTRE[0] + R_LEDGE, CENTRE[1] + R_LEDGE  # where the straight sides of the site lie
SUNDIAL = (29.2, AXIS_Y)  # on the grove terrace, half way to the apse; three steps lead up all round
WALL = 0.4  # thickness of the retaining walls
SHOW = 0.1  # their coping stands so far above the upper terrace
RAMP = (7.3, 9.1)  # x range of the ramp
RAMP_HEAD, RUN, LANDING = 19.5, 7.8, 1.6  # each run rises 0.60 m in 7.80 m, 1 in 13
WEST_SIDE = [(8.0, 0.0), (0.0, 12.0), (0.0, 26.0), (2.2, NORTH)]
APSE = (EAST, AXIS_Y)  # centre of the apse at the east end of the axis
R_APSE = 2.25
DECK = (CENTRE[1] - 2.5, CENTRE[1] + 2.5)  # y range of the belvedere
RAMP_RUN_END = (19.2, -0.9)  # lower end of the switchback up the meadow
SPUR_EDGE = (17.67, -1.04)  # middle of the edge at which the field path arrives
SPUR = Polygon(  # the basin terrace reaches out to both
    [(19.2, 0.0), (17.3, 0.0), (17.05, -0.62), (18.29, -1.46), (18.5, -1.65), (19.2, -1.65)]
)
GARDEN = "Pavilion garden"  # the part of the basin terrace that meets the meadow with banks


def _apse() -> list[tuple[float, float]]:
    """The bulge of the east boundary, from south to north."""
    return arc(R_APSE, -90, 90, centre=APSE, facet=10)


def east_side() -> list[tuple[float, float]]:
    """The boundary from the south-east corner to the north, around the quarry face."""
    return [(EAST, 0.0), *_apse(), *arc(R_LEDGE, 0, 90)]


def works() -> Polygon:
    """The old quarry: what was dug out, and is now terraced."""
    return Polygon([*east_side(), *WEST_SIDE[::-1]])


def _inside(radius: float) -> Polygon:
    """Everything on the lower side of one bent terrace edge."""
    x, y = CENTRE
    return Polygon([(-5.0, -5.0), (x + radius, -5.0), *arc(radius, 0, 90), (-5.0, y + radius)])


def bastions() -> list[Polygon]:
    """The two stubs of the basin terrace that flank the main stair."""
    return [rect(7.05, 9.5, EDGE, 11.5), rect(7.05, 17.5, EDGE, 19.5)]


def ramp_parts() -> tuple[Polygon, Polygon, Polygon]:
    """Upper run, lower run, and the half-way platform with what carries the upper run."""
    west, east = RAMP
    rest = RAMP_HEAD + RUN
    upper = rect(west, RAMP_HEAD, east, rest)
    lower = rect(west, rest + LANDING, east, rest + LANDING + RUN)
    return upper, lower, rect(west, RAMP_HEAD, east, rest + LANDING)


def court() -> Polygon:
    """The sunken court: a circle cut straight on the north, where its steps come down."""
    return disc(R_COURT) & rect(0.0, 0.0, 40.0, CENTRE[1] + 4.0)


def terraces() -> dict[str, Polygon]:
    """The terraces by name; none overlaps another, but the court lies inside the basin terrace."""
    site, west = works(), rect(-5.0, -5.0, EDGE, 60.0)
    stubs = shapely.union_all(bastions())
    garden = rect(EDGE, -5.0, 24.5, 8.8) & site
    rest = ramp_parts()[2]
    lower = (site & west) - stubs - rest
    ledge_south = rect(-5.0, -5.0, 40.0, 22.0)
    below_ledge = _inside(R_GROVE) | ledge_south
    hill = site - west
    return {
        "Lower terrace": lower,
        "Ramp landing": rest,
        "Basin terrace": ((hill & _inside(R_BASIN)) - garden) | stubs,
        GARDEN: garden | SPUR,
        "Grove terrace": (hill & below_ledge) - _inside(R_BASIN),
        "Quarry ledge": hill - below_ledge,
        "Sunken court": court(),
    }


def terrace_rows() -> list[Row]:
    """Terraces with their foot and finished levels."""
    tops = {
        "Lower terrace": LOWER,
        "Ramp landing": REST,
        "Basin terrace": BASIN,
        "Grove terrace": GROVE,
        "Quarry ledge": LEDGE,
        "Sunken court": COURT,
    }
    return [
        {"geometry": shape, "name": name, "foot_lvl": SLAB, "fin_lvl": tops[name]}
        for name, shape in terraces().items()
        if name != GARDEN
    ]


def step_rows() -> list[Row]:
    """Flights of 150 mm risers and 350 mm treads; the last riser is the edge of the upper terrace."""
    cheeks = {"Main stair": 0.3, "Grove stair": 0.3}
    going = 7 * 0.35
    flights = [
        ("Main stair", rect(EDGE - going, 11.5, EDGE, 17.5), LOWER, BASIN),
        ("Grove stair", rect(24.5 - going, 12.0, 24.5, 17.0), BASIN, GROVE),
        ("Ledge stair", rect(28.4, 22.0 - going, 31.2, 22.0), GROVE, LEDGE),
        (
            "Court steps",
            rect(AXIS_X - 2.0, CENTRE[1] + 4.0 - going, AXIS_X + 2.0, CENTRE[1] + 4.0),
            COURT,
            BASIN,
        ),
        ("Deck steps south", rect(25.0, DECK[0] - 0.7, 27.2, DECK[0]), GROVE, GROVE + 0.45),
        ("Deck steps north", rect(24.4, DECK[1], 26.6, DECK[1] + 0.7), GROVE, GROVE + 0.45),
    ]
    return [
        {
            "geometry": shape,
            "name": name,
            "foot_lvl": foot,
            "head_lvl": head,
            "cheek_m": cheeks.get(name, 0.0),
        }
        for name, shape, foot, head in flights
    ]


def plinth_step_rows() -> list[Row]:
    """Three steps that lead up to the sundial all round."""
    shape = square(*SUNDIAL, 2.3) - square(*SUNDIAL, 0.9)
    return [{"geometry": shape, "name": "Sundial steps", "foot_lvl": GROVE, "head_lvl": GROVE + 0.45}]


def ramp_rows() -> list[Row]:
    """Two runs at 1 in 13 with a landing between them."""
    upper, lower, _ = ramp_parts()
    return [
        {"geometry": lower, "name": "Lower run", "foot_lvl": LOWER, "head_lvl": REST},
        {"geometry": upper, "name": "Upper run", "foot_lvl": REST, "head_lvl": BASIN},
    ]


def deck() -> Polygon:
    """The belvedere: from the foot of the ledge wall out over the rim of the court."""
    return rect(21.2, DECK[0], 30.0, DECK[1]) & _inside(R_GROVE - WALL)


def deck_rows() -> list[Row]:
    """The deck lies on the grove terrace and reaches out beyond it."""
    return [
        {
            "geometry": deck(),
            "name": "Belvedere",
            "base_lvl": GROVE,
            "top_lvl": GROVE + 0.45,
            "material": "oak timber",
        }
    ]


def _strip_inside(radius: float) -> Polygon:
    """The strip of wall along the lower side of a bent terrace edge."""
    return _inside(radius) - _inside(radius - WALL)


def retaining_walls() -> list[tuple[str, Polygon, float, float]]:
    """Name, plan, foot and coping level of every retaining wall; each stands on the lower side."""
    site, hill, y = works(), rect(EDGE, -5.0, 40.0, 60.0), CENTRE[1]
    edge = rect(EDGE - WALL, 0.0, EDGE, 60.0) & site
    belvedere = rect(20.0, DECK[0], 30.0, DECK[1])
    grove = _strip_inside(R_BASIN) & site & hill
    ledge = (_strip_inside(R_GROVE) & site & hill) - rect(0.0, 0.0, 40.0, 21.6)
    ledge |= rect(28.0, 21.6, 28.4, 22.0)
    grove_south, grove_mid, grove_north = (
        grove & rect(0.0, 0.0, 40.0, 12.0),
        grove & rect(0.0, 17.0, 40.0, DECK[0]),
        grove - rect(0.0, 0.0, 40.0, DECK[1]),
    )
    return [
        ("Lane wall south", edge & rect(0.0, 0.0, 40.0, 9.5), LOWER, BASIN + SHOW),
        ("Lane wall return", rect(8.2, 0.0, EDGE - WALL, 0.3), LOWER, BASIN + SHOW),
        ("Lane wall north", edge & rect(0.0, 19.5, 40.0, y + R_BASIN), LOWER, BASIN + SHOW),
        ("Grove end wall", edge & rect(0.0, y + R_BASIN, 40.0, y + R_GROVE), LOWER, GROVE + SHOW),
        ("Ledge end wall", edge & rect(0.0, y + R_GROVE, 40.0, 60.0), LOWER, LEDGE + SHOW),
        ("Grove wall south", grove_south, BASIN, GROVE + SHOW),
        ("Grove wall", grove_mid, BASIN, GROVE + SHOW),
        ("Belvedere wall", grove & belvedere, BASIN, GROVE),
        ("Grove wall north", grove_north, BASIN, GROVE + SHOW),
        ("Ledge wall", ledge, GROVE, LEDGE + SHOW),
        ("Ledge wall east", rect(31.2, 21.6, EAST, 22.0), GROVE, LEDGE + SHOW),
        ("Court wall", court_wall(), COURT, BASIN + SHOW),
    ]


def court_wall() -> Polygon:
    """The lining of the court, open where the steps come down."""
    y = CENTRE[1]
    inner = disc(R_COURT - 0.3) & rect(0.0, 0.0, 40.0, y + 3.7)
    return court() - inner - rect(AXIS_X - 2.0, y, AXIS_X + 2.0, y + 4.0)


def wall_rows() -> list[Row]:
    """Retaining walls, and the parapet along the quarry face, as polygons."""
    rows = [
        {"geometry": shape, "name": name, "foot_lvl": foot, "cope_lvl": cope}
        for name, shape, foot, cope in retaining_walls()
    ]
    return [
        *rows,
        *(
            {"geometry": shape, "name": name, "foot_lvl": LEDGE, "cope_lvl": LEDGE + 1.1}
            for name, shape in parapets().items()
        ),
    ]


def parapets() -> dict[str, Polygon]:
    """The free-standing walls at the foot of the quarry face, 0.3 m thick, open where the Brow steps rise."""
    outer = [(EAST, 24.2), *arc(R_LEDGE, 0, 90), (EDGE, NORTH)]
    inner = [(EAST - 0.3, 24.2), *arc(R_LEDGE - 0.3, 0, 90), (EDGE, NORTH - 0.3)]
    return {
        "Quarry parapet": Polygon([*outer, *inner[::-1]]),
        "Parapet by the Brow steps": rect(EAST - 0.3, 22.0, EAST, 22.8),
    }


def along_lane(inset: float, start: float, stop: float) -> LineString:
    """A line inside the lane boundary, between two values of y."""
    line = LineString(WEST_SIDE).offset_curve(-inset, join_style="mitre")
    return line & rect(-5.0, start, 15.0, stop)


def free_wall_rows() -> list[Row]:
    """Free-standing walls as centre lines with a width and a height above what they stand on."""
    lines = [
        ("Grove wall east of the gap", LineString([(29.4, 0.15), (EAST - 0.3, 0.15)]), 0.3, 0.6),
        ("Basin wall west of the gap", LineString([(EDGE, 0.15), (17.6, 0.15)]), 0.3, 0.5),
        ("South wall between the gaps", LineString([(19.2, 0.15), (27.4, 0.15)]), 0.3, 0.5),
        ("Gate wing south", along_lane(0.35, 9.6, AXIS_Y - 2.2), 0.3, 1.2),
        ("Gate wing north", along_lane(0.35, AXIS_Y + 2.2, 19.5), 0.3, 1.2),
        ("Herb court wall", LineString([(3.9, 8.3), (3.9, 9.35), (5.6, 9.35)]), 0.3, 0.5),
    ]
    return [
        {"geometry": line, "name": name, "width_m": width, "height_m": height}
        for name, line, width, height in lines
    ]


def free_walls() -> Polygon:
    """What the free-standing walls cover."""
    return shapely.union_all([strip(row["geometry"], row["width_m"]) for row in free_wall_rows()])
