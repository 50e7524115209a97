"""
The surfaces of Wrenlow Quarry Garden: paving, lawn, water and paths, trimmed to the terraces.

Every surface is what is left of its terrace once walls, steps, ramp, buildings, hedges, water,
paths and the surfaces before it are taken out, so that nothing overlaps or hangs over an edge.
"""

from __future__ import annotations

import hillside
import lodge
import meadow
import shapely
from fittings import building_rows, kiln_rows
from groundwork import (
    AXIS_X,
    AXIS_Y,
    EDGE,
    GARDEN,
    SPUR,
    Row,
    court,
    deck,
    free_walls,
    plinth_step_rows,
    ramp_rows,
    step_rows,
    terraces,
    wall_rows,
)
from planting import GATE_TREES, GROVE_X, GROVE_Y, hedge_rows
from setting_out import BASIN, CENTRE, arc, disc, pieces, rect, square, strip
from shapely import LineString, Polygon

FLAGS, BRICK, HOGGIN, SETTS, SLABS = (
    "limestone flags",
    "clay brick",
    "hoggin",
    "granite setts",
    "concrete slabs",
)
WEAVE = "clay brick in basket weave"
RILL = rect(AXIS_X - 0.25, AXIS_Y + 4.45, AXIS_X + 0.25, 22.3)
POOL = rect(AXIS_X - 2.5, AXIS_Y - 4.0, AXIS_X + 2.5, AXIS_Y + 4.0)
WALL_POOL = rect(12.0, CENTRE[1] + 6.6, 15.0, CENTRE[1] + 7.6)
YARD = 38.3  # y of the edge between the lower walk and the kiln yard
ALL = rect(-5.0, -20.0, 50.0, 60.0)

Surface = tuple[str, str, str, Polygon]  # terrace, name, material or "lawn", where it reaches


def water_rows() -> list[Row]:
    """The basin and the wall pool, with bed and water level."""
    return [
        {"geometry": POOL, "name": "Basin", "bed_level": BASIN - 0.75, "water_level": BASIN - 0.25},
        {"geometry": WALL_POOL, "name": "Wall pool", "bed_level": BASIN - 0.45, "water_level": BASIN - 0.15},
    ]


def rill_rows() -> list[Row]:
    """The rill from the basin toward the court: let into what it lies in."""
    return [{"geometry": RILL, "name": "Rill", "drop_m": 0.12}]


def path_rows() -> list[Row]:
    """Gravel walks as centre lines with a width."""
    x, y = CENTRE
    ledge = LineString([(x + 13.4, 22.0), *arc(13.4, 0, 90), (EDGE, y + 13.4)])
    lower = LineString([(5.8, 19.5), (5.8, YARD - 0.8), (9.1, YARD - 0.8)])
    return [
        {"geometry": lower, "name": "Lower walk", "width_m": 1.6},
        {"geometry": ledge, "name": "Ledge walk", "width_m": 1.4},
        *hillside.path_rows(),
    ]


def _tree_pits() -> Polygon:
    """Square openings in the paving around trees."""
    grove = [square(x, y, 1.2) for x in GROVE_X for y in GROVE_Y]
    return shapely.union_all([*grove, *(square(x, y, 1.2) for x, y in GATE_TREES)])


def _obstacles() -> Polygon:
    """All that interrupts a surface."""
    solid = [
        *wall_rows(),
        *step_rows(),
        *plinth_step_rows(),
        *ramp_rows(),
        *building_rows(),
        *kiln_rows(),
        *water_rows(),
    ]
    solid += [*rill_rows(), *lodge.lodge_rows(), *lodge.bothy_rows(), *lodge.shed_rows(), *lodge.store_rows()]
    solid += [*lodge.brow_wall_rows(), *hillside.block_rows()]
    lines = [*hedge_rows(), *path_rows(), *hillside.field_path_rows(), *hillside.brow_path_rows()]
    shapes = [row["geometry"] for row in solid] + [strip(row["geometry"], row["width_m"]) for row in lines]
    return shapely.union_all(shapely.force_2d([*shapes, free_walls(), _tree_pits()]))


def _plan() -> list[Surface]:
    """The surfaces in the order in which they take their place."""
    x, y = CENTRE
    basin_court = rect(EDGE, 8.8, 24.1, 20.0) | rect(0.0, 9.5, EDGE, 19.5)
    shade = rect(20.0, y - 2.95, 25.0, y + 2.95)
    rim = disc(6.4) | rect(EDGE, 20.0, 11.5, 40.0) | rect(EDGE, y + 3.5, x, 40.0)
    return [
        ("Lower terrace", "Entrance axis", FLAGS, rect(0.0, AXIS_Y - 1.5, 7.05, AXIS_Y + 1.5)),
        ("Lower terrace", "Forecourt", WEAVE, rect(0.0, 9.5, 7.05, 19.5)),
        ("Lower terrace", "Herb court", BRICK, rect(3.75, 0.0, 9.1, 9.5)),
        ("Lower terrace", "Kiln yard", HOGGIN, rect(0.0, YARD, 9.1, 46.0)),
        ("Lower terrace", "Lower lawn", "lawn", rect(0.0, 19.5, 5.0, YARD)),
        ("Basin terrace", "Basin surround", BRICK, POOL.buffer(0.45, join_style="mitre")),
        ("Basin terrace", "Basin court", FLAGS, basin_court),
        (GARDEN, "Tea terrace", BRICK, rect(11.0, 5.6, 22.0, 8.8)),
        (GARDEN, "Pavilion lawn", "lawn", rect(EDGE, 0.0, 24.1, 8.8)),
        ("Basin terrace", "Axis walk", FLAGS, rect(x - 1.2, 20.0, x + 1.2, 26.0)),
        ("Basin terrace", "Shade bed", HOGGIN, shade),
        ("Basin terrace", "Rim walk", BRICK, rim),
        (GARDEN, "Ramp foot", FLAGS, SPUR),
        ("Basin terrace", "Basin lawn", "lawn", ALL),
        ("Grove terrace", "East axis", FLAGS, rect(24.5, AXIS_Y - 3.3, 40.0, AXIS_Y + 3.3)),
        ("Grove terrace", "Stair foot", FLAGS, rect(28.0, AXIS_Y + 3.3, 33.0, 22.0)),
        ("Grove terrace", "Grove floor", HOGGIN, rect(24.5, 0.0, 33.0, 11.2)),
        ("Grove terrace", "Grove walk", HOGGIN, ALL),
        ("Quarry ledge", "Ledge lawn", "lawn", ALL),
        ("Sunken court", "Court middle", BRICK, disc(1.6, centre=(x, y - 1.0))),
        ("Sunken court", "Court floor", FLAGS, ALL),
        ("Vine terrace", "Pergola floor", BRICK, lodge.PERGOLA.buffer(0.3, join_style="mitre")),
        ("Vine terrace", "Vine walk", HOGGIN, ALL),
        ("Lodge yard", "Doorstep", SLABS, rect(37.4, -1.8, 41.5, -1.0)),
        ("Lodge yard", "Lodge yard", SETTS, ALL),
        ("Steps head", "Steps head", SETTS, ALL),
        ("Brow landing", "Brow landing", SETTS, ALL),
        ("Lookout", "Lookout floor", SETTS, ALL),
        ("Bothy court", "Bothy court", SETTS, ALL),
        ("Tilted green", "Tilted green", "lawn", ALL),
        ("Picnic green", "Picnic green", "lawn", ALL),
        ("Meadow", "Meadow", "lawn", ALL),
    ]


def surface_rows() -> list[Row]:
    """Every piece of paving and lawn."""
    ground, taken = terraces(), _obstacles()
    ground["Basin terrace"] -= court()
    ground["Grove terrace"] -= deck()
    ground |= {name: shape for name, (shape, _, _) in hillside.terraces().items()}
    ground |= {
        "Tilted green": hillside.green(),
        "Picnic green": hillside.picnic(),
        "Bothy court": hillside.court(),
        "Lookout": hillside.lookout(),
        "Meadow": meadow.hill() - hillside.cut_by() - SPUR,
    }
    rows = []
    for terrace, name, material, reach in _plan():
        shape = (ground[terrace] & reach) - taken
        ground[terrace] -= shape
        rows += [{"geometry": piece, "name": name, "material": material} for piece in pieces(shape)]
    return rows


def paving_rows() -> list[Row]:
    """Paving of three materials."""
    return [row for row in surface_rows() if row["material"] != "lawn"]


def lawn_rows() -> list[Row]:
    """Lawns."""
    lawns = [row for row in surface_rows() if row["material"] == "lawn"]
    swards = {"Meadow": "hay meadow"}
    return [
        {
            "geometry": row["geometry"],
            "name": row["name"],
            "sward": swards.get(row["name"], "rye and clover"),
        }
        for row in lawns
    ]
