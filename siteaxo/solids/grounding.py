"""
What stands on sloping ground, what is draped over it, and what is let into it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import shapely

from ..source.features import Features, LayerKey
from .bank_ends import look_at_ends, look_at_left_out
from .banks import with_banks
from .carriers import water_under
from .cutting import share_of
from .terrain import FORM, Terrain
from .tin import Tin
from .upon import lies_upon

DRAPED: Final = ("lawn", "paving", "path")  # roles that follow the ground
DRAPE: Final = "drape"
MOSTLY: Final = 0.5  # share of a footprint that must lie on something else than the ground [-]
LEVEL: Final = 1e-3  # what stands so little above the ground still stands in it [m]
GRADED_TO_TOP: Final = ("ground", "surfaces")  # themes whose banks meet their top; of others, their base
RAKING: Final = ("hedge", "wall")  # roles that rise and fall with the ground, if all of them stands on it
ALONG: Final = ("rail",)  # roles that follow the tops of walls that rake
WHOLLY: Final = 0.98  # share of a footprint that must lie on the ground alone for that [-]
AFLOAT: Final = ("tree", "none")  # forms that stand on water where they lie on it, not on the ground below
BENEATH: Final = "ground beneath it"
LET_IN: Final = ("ground", "terrace", "lawn", "water", "paving", "path", "ramp", "steps", "deck")
_OVERHEAD: Final = ("roof", "canopy", "tree", "drape", "levels", "none", FORM)


def stand_on_ground(features: Features, terrain: Terrain) -> tuple[Features, Terrain, np.ndarray]:
    """
    Give what lies on the ground its levels.

    Footprints stand at the lowest level under them, so that nothing floats. Lawns, paving
    and paths without a level of their own follow the ground, and so do hedges and walls
    that stand on nothing else: they rake with it and are as high all along. Rails along walls
    that rake stand on these. Pools with a drop lie by that much below the lowest place of
    their rim. Banks are made first, from the tops of what is laid and from the
    floors of what is built.

    Parameters
    ----------
    features : Features
        With footprints; levels not settled yet.
    terrain : Terrain
        The ground.

    Returns
    -------
    features : Features
        What follows the ground has the form "drape".
    terrain : Terrain
        With banks around what asks for them.
    support : ndarray of int, shape (n,)
        The wall that each rail along one that rakes stands on; -1 for all else.
    """
    terrain = _banked(features, terrain)
    waiting = np.isnan(features.base) & features.below & ~shapely.is_empty(features.geometry)
    low, high = np.full((2, len(features)), np.nan)
    low[waiting], _, high[waiting] = terrain.tin.levels_under(features.geometry[waiting])
    drape = np.zeros(len(features), dtype=bool)
    stands = np.zeros(len(features), dtype=bool)
    may_drape = np.isin(features.of_role("name"), DRAPED) & np.isnan(features.top) & np.isfinite(low)
    rakes = np.isin(features.of_role("name"), RAKING) & np.isnan(features.top) & np.isfinite(low)
    loose = np.isin(features.of_role("form"), AFLOAT)
    for order in np.unique(features.order[waiting]):  # what is draped carries nothing that comes later
        rows = np.flatnonzero(waiting & (features.order == order) & np.isfinite(low))
        best, whole = _shares(features, rows, order, ~drape)
        on_it = rows[(best <= MOSTLY) & (best <= 1 - np.minimum(whole, 1.0))]
        if loose[on_it].any():
            on_it = on_it[~loose[on_it] | (water_under(features, features.geometry, on_it) < 0)]
        drape[on_it[may_drape[on_it]]] = True
        pools = on_it[(let_in_by_drop(features) & ~drape)[on_it]]
        low[pools] = _rims(features.geometry[pools], terrain.tin, low[pools])
        low[pools] -= features.drop[pools] + np.nan_to_num(features.height[pools])
        alone = rows[(whole <= 1 - WHOLLY) & rakes[rows]]
        drape[alone[_all_over(features.geometry[alone], terrain.tin)]] = True
        stands[on_it] = True
    support = _walls_under(features, stands, drape)
    settled = _settled(_regraded(features, terrain.tin), stands, drape, low, high, support)
    return settled, terrain, support


def let_in_by_drop(features: Features) -> np.ndarray:
    """What a drop lets into what it lies on, shape (n,)."""
    let_in = (features.of_role("flat") & features.of_role("cuts")).astype(bool)
    return let_in & (np.nan_to_num(features.drop) > 0)


def _rims(footprints: np.ndarray, tin: Tin, low: np.ndarray) -> np.ndarray:
    """Lowest level of the ground along outlines; *low* where there is none, shape (n,) [m]."""
    along = tin.levels_under(shapely.boundary(footprints))[0]
    return np.where(np.isnan(along), low, along)


def cut_ground(features: Features, terrain: Terrain) -> Tin:
    """
    Open the ground up where something stands in it.

    Parameters
    ----------
    features : Features
        With all levels settled.
    terrain : Terrain
        The ground, with its banks.

    Returns
    -------
    Tin
        Without the footprints of what reaches below the ground all over its footprint, and
        of what is let into these, such as a pool in a terrace.
    """
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    rows = np.flatnonzero(area & ~np.isin(features.of_role("form"), _OVERHEAD))
    stands = stands_in(features, rows, terrain.tin)
    if not stands.any():
        return terrain.tin
    opened = shapely.union_all(features.geometry[rows[stands]])
    sunken = features.geometry[rows[~stands & features.of_role("cuts")[rows].astype(bool)]]
    opened = shapely.union_all([opened, *sunken[_set_in(sunken, opened)]])
    return terrain.tin.within(opened, outside=True)


def stands_in(features: Features, rows: np.ndarray, tin: Tin) -> np.ndarray:
    """Which of *rows* reach below the ground all over their footprint, or lie below its rim, shape (m,)."""
    low = tin.levels_under(features.geometry[rows])[0]
    pools = let_in_by_drop(features)[rows]
    low[pools] = _rims(features.geometry[rows[pools]], tin, low[pools])
    return np.asarray(
        (features.base[rows] <= low + LEVEL) & ~np.isin(features.of_role("form")[rows], _OVERHEAD)
    )


def walked_ground(features: Features, terrain: Terrain) -> Tin:
    """The ground that is left where terraces, surfaces, steps and ramps are let into it."""
    return cut_ground(features.take(np.flatnonzero(np.isin(features.of_role("name"), LET_IN))), terrain)


def draped_heights(features: Features, rows: np.ndarray, tin: Tin) -> np.ndarray:
    """Heights above the ground of *rows* of features that follow it, shape (m,) [m]."""
    return features.top[rows] - tin.levels_under(features.geometry[rows])[2]


def _set_in(footprints: np.ndarray, area: shapely.Geometry) -> np.ndarray:
    """Which footprints have an area all around them."""
    around = shapely.buffer(area, LEVEL, join_style="mitre")
    shapely.prepare(around)
    return shapely.covers(around, shapely.get_exterior_ring(footprints))


def _banked(features: Features, terrain: Terrain) -> Terrain:
    """The ground graded to the tops of what is laid on it, and to the floors of what is built."""
    tin = terrain.tin
    area = (shapely.get_dimensions(features.geometry) == 2) & ~shapely.is_empty(features.geometry)
    laid = np.isin(features.of_role("theme"), GRADED_TO_TOP)
    level = np.where(laid, features.top, features.base)
    stands = np.flatnonzero(area & np.isfinite(features.bank) & ~laid & np.isnan(level))
    level[stands] = tin.levels_under(features.geometry[stands])[0]
    rows = np.flatnonzero(area & np.isfinite(features.bank) & np.isfinite(level))
    if not len(rows):
        return terrain
    rows = rows[np.argsort(level[rows], kind="stable")]
    terrace = area & (features.of_role("theme") == "ground") & (features.of_role("form") != FORM)
    others = np.setdiff1d(np.flatnonzero(terrace & np.isfinite(features.top)), rows)
    banks = with_banks(
        tin,
        features.geometry[rows],
        level[rows],
        features.bank[rows],
        slope=np.column_stack([features.slope_x[rows], features.slope_y[rows]]) * laid[rows, None],
        high=np.column_stack([features.high_x[rows], features.high_y[rows]]),
        others=features.geometry[others],
        group=features.first_part[rows],
    )
    laid_by = np.concatenate([others, rows[laid[rows]]])
    noticed = look_at_ends(features, rows[banks.bank], banks.end, laid_by)
    left_out = look_at_left_out(features, rows[banks.left_out])
    return replace(terrain, tin=banks.tin, findings=(*terrain.findings, *noticed, *left_out))


def _regraded(features: Features, tin: Tin) -> Features:
    """The ground's own levels after banks were made."""
    ground = features.of_role("form") == FORM
    base = np.where(ground, np.fmin(features.base, tin.xyz[:, 2].min()), features.base)
    top = np.where(ground, tin.xyz[:, 2].max(), features.top)
    return features.with_columns(base=base, top=top)


def _all_over(footprints: np.ndarray, tin: Tin) -> np.ndarray:
    """Which footprints have ground under all of them."""
    under = shapely.area(shapely.intersection(footprints, tin.outline))
    return under >= WHOLLY * shapely.area(footprints)


def _shares(
    features: Features, rows: np.ndarray, order: int, usable: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Share of rows of one role that the best of all but the ground carries, and all of these."""
    carries = features.of_role("supports").astype(bool) & usable
    carries &= (shapely.get_dimensions(features.geometry) == 2) & (features.order < order)
    under = np.flatnonzero(carries)
    best, whole = np.zeros(len(rows)), np.zeros(len(rows))
    if len(under) and len(rows):
        item, other = shapely.STRtree(features.geometry[under]).query(
            features.geometry[rows], predicate="intersects"
        )
        row, below = rows[item], under[other]
        share = share_of(features.geometry[row], features.geometry[below])
        share[lies_upon(features, features.geometry, row, below, share, grounded=True)] = 0.0
        np.maximum.at(best, item, share)
        np.add.at(whole, item, share)
    return best, whole


def _walls_under(features: Features, stands: np.ndarray, drape: np.ndarray) -> np.ndarray:
    """The wall that rakes under most of each rail on the ground, shape (n,); -1 where there is none."""
    name, support = features.of_role("name"), np.full(len(features), -1)
    rails = np.flatnonzero(stands & np.isnan(features.top) & np.isin(name, ALONG))
    walls = np.flatnonzero(drape & (name == "wall"))
    if not len(rails) or not len(walls):
        return support
    footprint, under = features.geometry[rails], features.geometry[walls]
    item, other = shapely.STRtree(under).query(footprint, predicate="intersects")
    share = shapely.area(shapely.intersection(footprint[item], under[other])) / shapely.area(footprint[item])
    order = np.argsort(share, kind="stable")
    order = order[share[order] > MOSTLY]
    support[rails[item[order]]] = walls[other[order]]
    return support


def _settled(
    features: Features,
    stands: np.ndarray,
    drape: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    support: np.ndarray,
) -> Features:
    base, top = features.base.copy(), features.top.copy()
    base_from, top_from = features.base_from.copy(), features.top_from.copy()
    base[stands] = np.fmin(low[stands], top[stands])
    base_from[stands] = np.where(base[stands] < low[stands], "its own top, below the ground", BENEATH)
    base_from[stands & let_in_by_drop(features) & ~drape] = f"{BENEATH}, less its drop"
    height = np.nan_to_num(features.height)
    along = np.flatnonzero(support >= 0)
    base[along] += height[support[along]]
    base_from[along] = [f"top of {features.name_of(row)}" for row in support[along]]
    raised = stands & np.isnan(top)
    top[raised] = base[raised] + height[raised]
    top[drape] = high[drape] + height[drape]
    top_from[raised & (top_from == "")] = "height above base"
    top_from[drape] = BENEATH
    layers, layer = _draped_layers(features, drape)
    return features.with_columns(
        layers=layers,
        layer=layer,
        base=base,
        top=top,
        below=features.below & ~stands,
        base_from=base_from,
        top_from=top_from,
    )


def _draped_layers(features: Features, drape: np.ndarray) -> tuple[tuple[LayerKey, ...], np.ndarray]:
    """Layers whose features follow the ground, apart from the rest of their layer."""
    layer, layers = features.layer.copy(), list(features.layers)
    for number in np.unique(layer[drape]):  # a handful of layers
        key = features.layers[number]
        layer[drape & (features.layer == number)] = len(layers)
        layers.append(replace(key, role=replace(key.role, form=DRAPE, supports=False, cuts=False), across=""))
    return tuple(layers), layer
