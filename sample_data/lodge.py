"""
What is built on the meadow at Wrenlow: the lodge, the bothy, the potting shed, a store, the pergola.

The lodge is known by its storeys, the bothy by the Z of its eaves, the potting shed by the Z of
its floor; its roof was measured plane by plane.
"""

from __future__ import annotations

import numpy as np
import shapely
from groundwork import Row
from hillside import brow_walls
from setting_out import GROVE, rect
from shapely import Polygon

LODGE = rect(35.8, -9.7, 41.0, -5.7) | rect(37.4, -5.7, 41.0, -1.8)
STORE = rect(15.3, -9.6, 17.2, -7.6)
BOTHY = rect(17.2, -10.0, 21.4, -7.2)
SHED = rect(22.6, -9.9, 26.2, -7.6)
PERGOLA = rect(27.4, -7.9, 32.6, -4.7)
EAVES, FLOOR, SHED_EAVES = 15.65, 13.40, 16.25  # of the bothy, and of the potting shed
RIDGES = 0.75  # of the potting shed above its eaves [m]
OVERSAIL = 0.3
COPING, OVERHANG = 0.12, 0.06  # of the walls that hold the Brow


def lodge_rows() -> list[Row]:
    """The keeper's lodge, by storeys; it stands on its yard."""
    return [{"geometry": LODGE, "name": "Keeper's lodge", "storeys": 2, "storey_m": 2.5}]


def bothy_rows() -> list[Row]:
    """The bothy, as a polygon whose Z is its eaves; it stands in the meadow."""
    return [{"geometry": _at(BOTHY, EAVES, -0.02), "name": "Bothy", "material": "rubble stone"}]


def shed_rows() -> list[Row]:
    """The potting shed, as a polygon whose Z is its floor."""
    return [
        {"geometry": _at(SHED, FLOOR, 0.02), "name": "Potting shed", "height_m": round(SHED_EAVES - FLOOR, 3)}
    ]


def store_rows() -> list[Row]:
    """A lean-to in the corner of the lodge, a kit from abroad: its height is in US survey feet."""
    return [{"geometry": STORE, "name": "Log store", "height_ft": 7.25}]


def _at(shape: Polygon, level: float, off: float) -> Polygon:
    """A rectangle at a level, but for one corner that was found a little off."""
    xy = shapely.get_coordinates(shape)[:4]
    return Polygon(np.column_stack([xy, np.round(level + off * (np.arange(4) == 1), 3)]))


def roof_rows() -> list[Row]:
    """Roofs by their pitch; they stand on what is below them."""
    lodge = LODGE.buffer(OVERSAIL, join_style="mitre")
    bothy = BOTHY.buffer(OVERSAIL, join_style="mitre")
    parts = [
        ("Lodge roof", lodge, "hip", 38.0, "slate"),
        ("Bothy roof", bothy, "gable", 42.0, "clay tiles"),
        ("Store roof", STORE, "shed", 14.0, "slate"),
    ]
    return [
        {"geometry": shape, "name": name, "form": form, "pitch_deg": pitch, "material": material}
        for name, shape, form, pitch, material in parts
    ]


def plane_rows() -> list[Row]:
    """The roof of the potting shed: two low ridges and a valley, plane by plane, as measured."""
    x0, y0, x1, y1 = SHED.buffer(0.15, join_style="mitre").bounds
    low, high = SHED_EAVES, SHED_EAVES + RIDGES
    quarter = (x1 - x0) / 4
    rows = []
    for bay in range(2):
        left, ridge, right = (x0 + quarter * (2 * bay + k) for k in range(3))
        for name, (a, za), (b, zb) in (
            ("west", (left, low), (ridge, high)),
            ("east", (ridge, high), (right, low)),
        ):
            corners = [(a, y0, za), (b, y0, zb), (b, y1, zb), (a, y1, za)]
            rows.append({"geometry": Polygon(corners), "name": f"Bay {bay + 1} {name}", "material": "glass"})
    return rows


def pergola_rows() -> list[Row]:
    """The pergola on the vine terrace: 2.30 m of headroom beneath its bearers."""
    return [
        {
            "geometry": PERGOLA,
            "name": "Vine pergola",
            "base_lvl": GROVE + 2.3,
            "top_lvl": GROVE + 2.55,
            "post_m": 2.4,
            "beam_m": 0.6,
            "material": "larch timber",
        }
    ]


def brow_wall_rows() -> list[Row]:
    """Walls that hold the Brow: their stone, with the levels of foot and bed of the coping."""
    return [
        {"geometry": shape, "name": name, "foot_lvl": GROVE, "cope_lvl": round(level - COPING, 3)}
        | {"material": "coursed limestone"}
        for name, shape, level in brow_walls()
    ]


def coping_rows() -> list[Row]:
    """Their copings, which oversail on both sides."""
    return [
        {
            "geometry": shape.buffer(OVERHANG, join_style="mitre"),
            "name": f"Coping of the {name}",
            "bed_lvl": round(level - COPING, 3),
            "cope_lvl": level,
        }
        for name, shape, level in brow_walls()
    ]
