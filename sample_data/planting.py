"""
The planting of Wrenlow Quarry Garden: trees in a grove, along the quarry face and in loose groups; hedges.
"""

from __future__ import annotations

import numpy as np
from groundwork import DECK, NORTH, Row, along_lane
from setting_out import CENTRE, arc
from shapely import LineString, Point

SEED = 1847
GROVE_X = (26.5, 29.0, 31.5)
GROVE_Y = (1.9, 4.4, 6.9, 9.4)
R_FACE = 14.9  # the row along the quarry face
GATE_TREES = ((2.2, 10.6), (2.2, 18.4))
ORCHARD = ((11.6, -3.0), (13.6, -1.9), (13.6, -7.6), (16.9, -11.2), (21.6, -11.4), (25.0, -11.2))

# species: height, crown diameter, clear stem [m], form of the crown
SPECIES = {
    "Tilia × europaea": (5.2, 3.1, 2.1, "round"),
    "Sorbus aria": (4.0, 3.3, 2.1, "round"),
    "Betula pendula": (4.8, 3.4, 1.8, "conical"),
    "Malus sylvestris": (4.2, 3.5, 2.1, "spreading"),
    "Acer campestre": (4.8, 3.6, 2.1, "round"),
    "Cercidiphyllum japonicum": (4.6, 2.8, 2.1, "round"),
    "Pyrus communis": (3.4, 2.8, 1.1, "round"),
    "Populus simonii": (5.6, 1.5, 0.7, "columnar"),
    "Quercus robur": (5.5, 5.2, 2.2, "spreading"),
}


def tree_places() -> list[tuple[str, str, tuple[float, float]]]:
    """Species, group and place of every tree."""
    east, north = CENTRE[0] + R_FACE, CENTRE[1] + R_FACE
    groups = [
        ("Tilia × europaea", "grove", [(x, y) for y in GROVE_Y for x in GROVE_X]),
        ("Sorbus aria", "quarry face", [*arc(R_FACE, 0, 90, facet=90 / 8), (13.5, north), (10.5, north)]),
        ("Sorbus aria", "quarry face", [(east, 25.7)]),
        ("Betula pendula", "lower lawn", [(1.8, 23.2), (1.7, 27.4), (2.8, 29.3), (2.3, 33.8), (3.3, 36.2)]),
        ("Malus sylvestris", "basin lawn", [(12.4, 21.2), (20.7, 21.2), (22.3, 22.6)]),
        ("Malus sylvestris", "gate", list(GATE_TREES)),
        ("Acer campestre", "pavilion", [(10.7, 3.0), (22.4, 3.0)]),
        ("Cercidiphyllum japonicum", "north lawn", [(20.85, 32.95), (18.9, 34.14), (17.2, 34.55)]),
        ("Pyrus communis", "orchard", list(ORCHARD)),
        ("Populus simonii", "lodge", [(34.3, y) for y in (-9.8, -8.0, -6.2, -4.4)]),
        ("Quercus robur", "brow", [(40.1, 9.3)]),
    ]
    return [(species, group, place) for species, group, places in groups for place in places]


def tree_rows() -> list[Row]:
    """Trees with a little of the spread that living things have."""
    spread = np.random.default_rng(SEED)
    rows = []
    for species, group, place in tree_places():
        height, crown, stem, form = SPECIES[species]
        loose = 0.02 if group == "grove" else 0.07
        height *= 1 + spread.uniform(-loose, loose)
        crown *= 1 + spread.uniform(-loose, loose)
        row = {"geometry": Point(place), "species": species, "group": group, "form": form}
        sizes = {"height_m": round(height, 1), "crown_m": round(crown, 1), "stem_m": stem}
        rows.append(row | sizes)
    return rows


def hedge_rows() -> list[Row]:
    """Hedges as centre lines with width and height."""
    south, north = DECK[0] - 0.8, DECK[1] + 0.8
    lines = [
        ("Lane hedge north", along_lane(0.45, 19.6, NORTH - 0.4), 0.7, 1.2),
        ("Lane hedge south", along_lane(0.45, 0.9, 9.0), 0.7, 1.2),
        ("Ramp hedge", [(6.95, 19.6), (6.95, 36.6)], 0.5, 0.6),
        ("Shade hedge south", [(20.75, south), (24.05, south)], 0.7, 0.9),
        ("Shade hedge north", [(20.75, north), (23.1, north)], 0.7, 0.9),
        ("Grove hedge west", [(24.95, 0.5), (24.95, 10.6)], 0.6, 0.9),
        ("Pavilion hedge west", [(10.2, 0.8), (10.2, 8.0)], 0.6, 0.8),
        ("Pavilion hedge east", [(23.5, 0.8), (23.5, 8.0)], 0.6, 0.8),
        ("Vine hedge", [(27.1, -8.15), (32.8, -8.15)], 0.5, 0.7),
    ]
    return [
        {"geometry": LineString(line), "name": name, "width_m": width, "height_m": height}
        for name, line, width, height in lines
    ]
