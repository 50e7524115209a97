"""
What stands on the ground of Wrenlow Quarry Garden: buildings, canopy, kiln, furniture, rails.

Seats, planters and rails have no levels of their own: they stand on what is below them.
"""

from __future__ import annotations

from groundwork import (
    APSE,
    AXIS_X,
    AXIS_Y,
    DECK,
    EDGE,
    LANDING,
    NORTH,
    R_APSE,
    R_BASIN,
    R_COURT,
    R_GROVE,
    RAMP_HEAD,
    RUN,
    SUNDIAL,
    Row,
)
from hillside import LOOKOUT_AT
from setting_out import BASIN, CENTRE, GROVE, LOWER, arc, disc, rect, square
from shapely import LineString, Polygon

FOOT = 0.3048
PAVILION = rect(AXIS_X - 3.6, 1.2, AXIS_X + 3.6, 5.6)
CANOPY = rect(AXIS_X - 4.2, 5.6, AXIS_X + 4.2, 8.4)
GATE = [(0.35, AXIS_Y - 1.95), (0.35, AXIS_Y + 1.95)]


def building_rows() -> list[Row]:
    """The pavilion, the two gate piers, and the sundial on its plinth."""
    parts = [
        ("Pavilion", PAVILION, BASIN, BASIN + 3.0),
        ("Gate pier south", square(*GATE[0], 0.5), LOWER, LOWER + 1.8),
        ("Gate pier north", square(*GATE[1], 0.5), LOWER, LOWER + 1.8),
        ("Sundial plinth", square(*SUNDIAL, 0.9), GROVE, GROVE + 0.45),
        ("Sundial", square(*SUNDIAL, 0.32), GROVE + 0.45, GROVE + 1.5),
    ]
    return [
        {"geometry": shape, "name": name, "base_lvl": base, "eaves_lvl": eaves}
        for name, shape, base, eaves in parts
    ]


def roof_rows() -> list[Row]:
    """A flat roof with a parapet that oversails the pavilion by 0.4 m."""
    roof = rect(AXIS_X - 4.0, 0.8, AXIS_X + 4.0, 6.0)
    levels = {"base_lvl": BASIN + 3.0, "top_lvl": BASIN + 3.2}
    return [{"geometry": roof, "name": "Pavilion roof", "parapet_m": 0.25} | levels]


def canopy_rows() -> list[Row]:
    """The slab of the tea canopy on posts of its own: 2.70 m of headroom beneath it."""
    return [
        {
            "geometry": CANOPY,
            "name": "Tea canopy",
            "base_lvl": BASIN + 2.7,
            "top_lvl": BASIN + 2.9,
            "post_m": 2.7,
            "beam_m": 0.0,
            "material": "zinc sheet",
        }
    ]


def post_rows() -> list[Row]:
    """Posts of the belvedere: with levels, for they stand under a deck."""
    posts = [square(22.0, y, 0.22) for y in (DECK[0] + 0.4, DECK[1] - 0.4)]
    return [
        {"geometry": post, "name": "Belvedere post", "base_lvl": BASIN, "top_lvl": GROVE} for post in posts
    ]


def kiln_rows() -> list[Row]:
    """
    The old lime kiln, measured in feet: plinth with its draw arch, body with its pot, buttress.

    The plan stays on the setting-out grid in metres; the levels are in feet.
    """
    y = NORTH - 3.1
    body = rect(3.9, y - 2.5, 9.1, y + 2.5)
    arch = rect(3.9, y - 0.9, 5.2, y + 0.9)
    pot = disc(1.1, centre=(6.5, y))
    buttresses = [rect(3.1, foot, 3.9, foot + 0.9) for foot in (y - 2.5, y + 1.6)]
    spring, rim = LOWER + 2.0, LOWER + 4.1
    parts = [
        ("Draw arch stage", body - arch, LOWER, spring),
        ("Kiln body", body - pot, spring, rim),
        ("Buttress south", buttresses[0], LOWER, LOWER + 2.6),
        ("Buttress north", buttresses[1], LOWER, LOWER + 2.6),
    ]
    return [
        {"geometry": shape, "name": name, "base_ft": round(base / FOOT, 9), "top_ft": round(top / FOOT, 9)}
        | {"material": "rubble stone"}
        for name, shape, base, top in parts
    ]


def seat_rows() -> list[Row]:
    """Benches as centre lines."""
    lines = {
        "Basin bench": [
            [(11.0, 9.5), (11.0, 11.3)],
            [(11.0, 17.7), (11.0, 19.5)],
            [(21.0, 9.5), (21.0, 11.3)],
            [(21.0, 17.7), (21.0, 19.5)],
        ],
        "Apse bench": [arc(R_APSE - 0.75, -75, 75, centre=APSE, facet=10)],
        "Court bench": [arc(R_COURT - 0.6, -60, 18)],
        "Deck bench": [[(26.7, DECK[0] + 1.2), (26.7, DECK[1] - 1.2)]],
        "Grove bench": [[(27.5, 11.6), (29.5, 11.6)], [(25.6, 1.4), (25.6, 3.4)], [(25.6, 6.6), (25.6, 8.6)]],
        "Ledge bench": [arc(R_GROVE + 0.9, 30, 42), arc(R_GROVE + 0.9, 54, 66)],
        "Lawn bench": [[(4.55, 23.0), (4.55, 25.0)], [(4.55, 30.0), (4.55, 32.0)]],
        "Tea bench": [[(13.6, 6.4), (15.2, 6.4)], [(17.8, 6.4), (19.4, 6.4)]],
        "Vine bench": [[(28.4, -7.3), (30.0, -7.3)], [(30.6, -7.3), (32.2, -7.3)]],
        "Lookout bench": [arc(1.45, -60, 30, centre=LOOKOUT_AT, facet=15.0)],
    }
    return [
        {"geometry": LineString(line), "name": name, "width_m": 0.45, "height_m": 0.45}
        for name, group in lines.items()
        for line in group
    ]


def planter_rows() -> list[Row]:
    """Planters in the herb court, on the bastion and the deck, beside the stair, under the canopy."""
    south, north = DECK
    herb = [rect(7.5, y, 8.6, y + 1.8) for y in (2.7, 4.95, 7.2)]
    herb += [rect(5.8, y, 6.9, y + 1.8) for y in (4.95, 7.2)]
    deck = [rect(21.6, y, 23.2, y + 0.7) for y in (south + 0.4, north - 1.1)]
    deck += [rect(26.0, y, 27.0, y + 0.6) for y in (south + 0.3, north - 0.9)]
    groups: list[tuple[str, float, list[Polygon]]] = [
        ("Herb bed", 0.45, herb),
        ("Bastion planter", 0.6, [rect(7.45, 9.9, 9.1, 11.1)]),
        ("Deck planter", 0.5, deck),
        ("Stair planter", 0.7, [square(23.3, 11.2, 1.0), square(23.3, 17.8, 1.0)]),
        ("Tea planter", 0.6, [rect(11.2, 6.0, 12.0, 8.0), rect(21.0, 6.0, 21.8, 8.0)]),
        ("Vine planter", 0.5, [rect(27.0, -4.3, 29.0, -3.6), rect(30.6, -4.3, 32.6, -3.6)]),
    ]
    return [
        {"geometry": shape, "name": name, "height_m": height, "rim_m": 0.1, "soil_m": round(height / 5, 2)}
        for name, height, shapes in groups
        for shape in shapes
    ]


def rail_lines() -> dict[str, list[tuple[float, float]]]:
    """Course of every rail: along copings, deck, bastions and the outer side of the ramp."""
    y, half, inset = CENTRE[1], 0.2, 0.1
    edge, ramp = EDGE - half, 7.35
    rim, south, north = y + 3.85, DECK[0] + 0.1, DECK[1] - 0.1
    rest, foot = RAMP_HEAD + RUN, RAMP_HEAD + RUN + LANDING
    return {
        "Lane rail south": [(edge, 0.4), (edge, 9.3)],
        "Lane rail north": [(edge, 19.7), (edge, y + R_BASIN - half)],
        "Grove end rail": [(edge, y + R_BASIN), (edge, y + R_GROVE)],
        "Ledge end rail": [(edge, y + R_GROVE), (edge, NORTH - half)],
        "Bastion rail south": [(EDGE, 9.65), (7.2, 9.65), (7.2, 11.5)],
        "Bastion rail north": [(7.2, 17.5), (7.2, 19.4)],
        "Grove rail south": [(24.3, 0.4), (24.3, 11.9)],
        "Grove rail": [(24.3, 17.1), (24.3, DECK[0] - 0.1)],
        "Grove rail north": [*arc(R_BASIN - half, 24, 90), (EDGE + inset, y + R_BASIN - half)],
        "Ledge rail": [
            (28.3, 21.8),
            (27.8, 21.8),
            *arc(R_GROVE - half, 0, 90),
            (EDGE + inset, y + R_GROVE - half),
        ],
        "Ledge rail east": [(31.3, 21.8), (32.3, 21.8)],
        "Switchback rail foot": [(19.3, -1.55), (24.4, -1.55)],
        "Switchback rail": [(19.3, -2.3), (19.3, -5.55), (26.6, -5.55)],
        "Court rail": [(14.4, rim), (13.45, rim), *arc(R_COURT - 0.15, 132, 342)],
        "Court rail north": [*arc(R_COURT - 0.15, 18, 48), (19.55, rim), (18.6, rim)],
        "Deck rail": [(24.3, south), (21.3, south), (21.3, north), (24.0, north)],
        "Ramp rail lower": [(ramp, foot), (ramp, foot + RUN)],
        "Ramp rail rest": [(ramp, rest), (ramp, foot)],
        "Ramp rail upper": [(ramp, RAMP_HEAD), (ramp, rest)],
    }


def rail_rows() -> list[Row]:
    """Rails 1.10 m high: glazed around the belvedere, bars everywhere else."""
    return [
        {"geometry": LineString(line), "name": name, "height_m": 1.1}
        | {"form": "panel" if name == "Deck rail" else "bars"}
        for name, line in rail_lines().items()
    ]
