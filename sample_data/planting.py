"""
The planting of Wrenlow Quarry Garden: trees in a grove, along the quarry face and in loose groups; hedges.
"""

from __future__ import annotations

import numpy as np
from groundwork import Row
from setting_out import arc
from shapely import LineString, Point

SEED = 1847
GROVE_X = (26.5, 29.0, 31.5)
GROVE_Y = (1.9, 4.4, 6.9, 9.4)
GATE_TREES = ((2.2, 10.6), (2.2, 18.4))

# species: height, crown diameter, clear stem [m]
SPECIES = {
    "Tilia × europaea": (5.2, 3.1, 2.1),
    "Sorbus aria": (4.0, 3.4, 1.5),
    "Betula pendula": (4.8, 3.4, 1.8),
    "Malus sylvestris": (3.8, 3.5, 1.5),
    "Acer campestre": (4.6, 3.6, 1.7),
    "Cercidiphyllum japonicum": (4.4, 3.6, 1.7),
}


def tree_places() -> list[tuple[str, str, tuple[float, float]]]:
    """Species, group and place of every tree."""
    groups = [
        ("Tilia × europaea", "grove", [(x, y) for y in GROVE_Y for x in GROVE_X]),
        ("Sorbus aria", "quarry face", [*arc(15.55, 0, 90, facet=90 / 8), (13.45, 45.05), (10.4, 45.05)]),
        ("Sorbus aria", "quarry face", [(32.05, 23.4), (32.05, 26.45)]),
        ("Betula pendula", "lower lawn", [(1.8, 23.2), (1.7, 27.4), (2.8, 29.3), (2.3, 33.8), (3.3, 36.2)]),
        ("Malus sylvestris", "basin lawn", [(13.3, 22.3), (19.6, 22.3), (22.5, 23.0)]),
        ("Malus sylvestris", "gate", list(GATE_TREES)),
        ("Acer campestre", "pavilion", [(10.7, 3.0), (22.4, 3.0)]),
        ("Cercidiphyllum japonicum", "north lawn", [(20.9, 34.6), (19.2, 36.0), (17.3, 36.4)]),
    ]
    return [(species, group, place) for species, group, places in groups for place in places]


def tree_rows() -> list[Row]:
    """Trees with a little of the spread that living things have."""
    spread = np.random.default_rng(SEED)
    rows = []
    for species, group, place in tree_places():
        height, crown, stem = SPECIES[species]
        loose = 0.02 if group == "grove" else 0.1
        height *= 1 + spread.uniform(-loose, loose)
        crown *= 1 + spread.uniform(-loose, loose)
        row = {"geometry": Point(place), "species": species, "group": group}
        sizes = {"height_m": round(height, 1), "crown_m": round(crown, 1), "stem_m": stem}
        rows.append(row | sizes)
    return rows


def hedge_rows() -> list[Row]:
    """Hedges as centre lines with width and height."""
    lines = [
        ("Lane hedge north", [(0.45, 19.6), (0.45, 26.97), (2.7, 45.6)], 0.7, 1.2),
        ("Lane hedge south", [(6.96, 0.92), (1.85, 9.32)], 0.7, 1.2),
        ("Ramp hedge", [(6.95, 19.6), (6.95, 37.6)], 0.5, 0.6),
        ("Shade hedge south", [(20.75, 26.2), (24.05, 26.2)], 0.7, 0.9),
        ("Shade hedge north", [(20.75, 32.8), (23.1, 32.8)], 0.7, 0.9),
        ("Grove hedge west", [(24.95, 0.5), (24.95, 10.6)], 0.6, 0.9),
        ("Pavilion hedge west", [(10.2, 0.8), (10.2, 8.0)], 0.6, 0.8),
        ("Pavilion hedge east", [(23.5, 0.8), (23.5, 8.0)], 0.6, 0.8),
    ]
    return [
        {"geometry": LineString(line), "name": name, "width_m": width, "height_m": height}
        for name, line, width, height in lines
    ]
