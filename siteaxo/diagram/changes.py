"""
What is new, changed, kept and removed between two states of a site.

Features are paired twice: first those that are alike in layer, footprint, levels and material,
whatever their ids; then those left that share layer and id and lie on one another. The rest is
new or removed. So ids that were numbered anew do not count as changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas
import numpy as np
import pandas as pd
import shapely

from ..solids.stack import Stack
from ..source.features import Features

NEW, CHANGED, KEPT, REMOVED = CHANGES = ("new", "changed", "kept", "removed")
"""What may have become of a feature."""
COLUMNS: Final = (
    "change",
    "what",
    "layer",
    "source_id",
    "role",
    "material",
    "base_before",
    "top_before",
    "base",
    "top",
    "area_before",
    "area",
)
SAME_PLACE: Final = 0.01  # footprints nowhere farther apart are alike [m]
SAME_LEVEL: Final = 0.005  # levels that differ by less are alike [m]
SAME_AREA: Final = 1e-3  # share by which areas of like footprints may differ [-]


@dataclass(frozen=True, kw_only=True)
class State:
    """
    Features of one state, parts of one feature joined; arrays of length n.

    Parameters
    ----------
    layer, source_id, role, material : ndarray of object
        What each is.
    geometry : ndarray of geometry
        Footprints as read, in the plane that all states share [m].
    base, top : ndarray
        Levels as settled [m].
    """

    layer: np.ndarray
    source_id: np.ndarray
    role: np.ndarray
    material: np.ndarray
    geometry: np.ndarray
    base: np.ndarray
    top: np.ndarray

    def __len__(self) -> int:
        return len(self.layer)


def state_of(stack: Stack, as_read: Features) -> State:
    """
    Join the parts of every feature of a site.

    Parameters
    ----------
    stack : Stack
        The site, for its levels.
    as_read : Features
        Its features as they were read, for their footprints: what is let into ground does not
        change the ground.

    Returns
    -------
    State
    """
    read, settled = _keyed(as_read), _keyed(stack.features)
    shapes = read.groupby(["layer", "source_id"], sort=False)["geometry"].agg(_joined)
    rows = settled.groupby(["layer", "source_id"], sort=False).agg(
        role=("role", "first"),
        material=("material", "first"),
        own=("geometry", _joined),
        base=("base", "min"),
        top=("top", "max"),
    )
    geometry = shapes.reindex(rows.index)
    geometry = geometry.where(geometry.notna(), rows["own"])
    return State(
        layer=rows.index.get_level_values("layer").to_numpy(dtype=object),
        source_id=rows.index.get_level_values("source_id").to_numpy(dtype=object),
        role=rows["role"].to_numpy(dtype=object),
        material=rows["material"].to_numpy(dtype=object),
        geometry=geometry.to_numpy(dtype=object),
        base=rows["base"].to_numpy(dtype=float),
        top=rows["top"].to_numpy(dtype=float),
    )


def _keyed(features: Features) -> pd.DataFrame:
    names = np.array([key.name for key in features.layers], dtype=object)
    roles = np.array([key.role.name for key in features.layers], dtype=object)
    return pd.DataFrame(
        {
            "layer": names[features.layer],
            "source_id": features.source_id.astype(str).astype(object),
            "role": roles[features.layer],
            "material": features.material,
            "geometry": pd.Series(list(features.geometry), dtype=object),
            "base": features.base,
            "top": features.top,
        }
    )


def _joined(shapes: pd.Series) -> Any:
    return shapes.iloc[0] if len(shapes) == 1 else shapely.union_all(shapes.to_numpy(dtype=object))


def differences(before: State, after: State, *, crs: Any = None) -> geopandas.GeoDataFrame:
    """
    Compare two states of a site.

    Parameters
    ----------
    before, after : State
        The states.
    crs : optional
        CRS of the plane they share.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for every feature of either, with COLUMNS beside its footprint: what is new,
        changed and kept in the order of *after*, then what is removed. ``what`` names what has
        changed; areas are plan areas [m²], levels are in metres.
    """
    first, second = _alike(before, after)
    old, changed = _same_name(before, after, first, second)
    pair = np.full(len(after), -1)
    pair[second], pair[changed] = first, old
    change = np.full(len(after), NEW, dtype=object)
    change[second], change[changed] = KEPT, CHANGED
    what = np.full(len(after), "", dtype=object)
    what[changed] = _what(before, after, old, changed)
    gone = np.setdiff1d(np.arange(len(before)), pair[pair >= 0])
    rows = [_table(after, before, pair, change, what), _removed(before, gone)]
    table = pd.concat([row for row in rows if len(row)] or rows[:1], ignore_index=True)
    return geopandas.GeoDataFrame(table, geometry="geometry", crs=crs)


def _alike(before: State, after: State) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of features that are alike, each in one pair at most, those of one id first."""
    tree = shapely.STRtree(shapely.centroid(after.geometry))
    a, b = tree.query(shapely.centroid(before.geometry), predicate="dwithin", distance=SAME_PLACE)
    same = (before.layer[a] == after.layer[b]) & (before.role[a] == after.role[b])
    same &= before.material[a] == after.material[b]
    same &= ~(np.abs(before.base[a] - after.base[b]) > SAME_LEVEL)
    same &= ~(np.abs(before.top[a] - after.top[b]) > SAME_LEVEL)
    a, b = a[same], b[same]
    close = _same_outline(before.geometry[a], after.geometry[b])
    a, b = a[close], b[close]
    return _single(a, b, before.source_id[a] == after.source_id[b])


def _same_outline(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Whether footprints are alike within the tolerance."""
    area = shapely.area(one)
    near = np.abs(area - shapely.area(other)) <= SAME_AREA * np.maximum(area, 1.0)
    near[near] = shapely.hausdorff_distance(one[near], other[near]) <= SAME_PLACE
    return near


def _single(a: np.ndarray, b: np.ndarray, better: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Some pairs such that nothing is in two of them, better ones first."""
    order = np.lexsort((b, a, ~better))
    a, b = a[order], b[order]
    kept_a, kept_b = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    while len(a):
        lead = np.zeros(len(a), dtype=bool)
        lead[np.unique(a, return_index=True)[1]] = True
        only = np.zeros(len(a), dtype=bool)
        only[np.unique(b, return_index=True)[1]] = True
        chosen = lead & only
        kept_a.append(a[chosen])
        kept_b.append(b[chosen])
        free = ~np.isin(a, a[chosen]) & ~np.isin(b, b[chosen])
        a, b = a[free], b[free]
    return np.concatenate(kept_a), np.concatenate(kept_b)


def _same_name(
    before: State, after: State, first: np.ndarray, second: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of what is left that share layer and id and lie on one another."""
    left = np.setdiff1d(np.arange(len(before)), first)
    right = np.setdiff1d(np.arange(len(after)), second)
    frame = pd.DataFrame({"layer": before.layer[left], "id": before.source_id[left], "a": left})
    other = pd.DataFrame({"layer": after.layer[right], "id": after.source_id[right], "b": right})
    pairs = frame.merge(other, on=["layer", "id"])
    a, b = pairs["a"].to_numpy(dtype=np.int64), pairs["b"].to_numpy(dtype=np.int64)
    meet = shapely.dwithin(before.geometry[a], after.geometry[b], SAME_PLACE)
    return a[meet], b[meet]


def _what(before: State, after: State, old: np.ndarray, new: np.ndarray) -> list[str]:
    """Name what has changed of pairs of features."""
    words = {
        "outline": ~_same_outline(before.geometry[old], after.geometry[new]),
        "base": np.abs(before.base[old] - after.base[new]) > SAME_LEVEL,
        "top": np.abs(before.top[old] - after.top[new]) > SAME_LEVEL,
        "material": before.material[old] != after.material[new],
        "role": before.role[old] != after.role[new],
    }
    table = np.stack(list(words.values()), axis=1)
    return [", ".join(name for name, true in zip(words, row, strict=True) if true) for row in table]


def _table(after: State, before: State, pair: np.ndarray, change: Any, what: Any) -> pd.DataFrame:
    known = pair >= 0
    old = np.maximum(pair, 0)

    def earlier(values: np.ndarray) -> np.ndarray:
        return np.where(known, values[old] if len(values) else np.nan, np.nan).astype(float)

    columns = {
        "change": change,
        "what": what,
        "layer": after.layer,
        "source_id": after.source_id,
        "role": after.role,
        "material": after.material,
        "base_before": earlier(before.base),
        "top_before": earlier(before.top),
        "base": after.base,
        "top": after.top,
        "area_before": earlier(shapely.area(before.geometry)),
        "area": shapely.area(after.geometry),
    }
    return pd.DataFrame({**columns, "geometry": pd.Series(list(after.geometry), dtype=object)})


def _removed(before: State, rows: np.ndarray) -> pd.DataFrame:
    nothing = np.full(len(rows), np.nan)
    columns = {
        "change": np.full(len(rows), REMOVED, dtype=object),
        "what": np.full(len(rows), "", dtype=object),
        **{name: getattr(before, name)[rows] for name in ("layer", "source_id", "role", "material")},
        "base_before": before.base[rows],
        "top_before": before.top[rows],
        "base": nothing,
        "top": nothing,
        "area_before": shapely.area(before.geometry[rows]),
        "area": nothing,
    }
    return pd.DataFrame({**columns, "geometry": pd.Series(list(before.geometry[rows]), dtype=object)})


def summary_of(table: pd.DataFrame) -> pd.DataFrame:
    """
    Count a table of differences.

    Parameters
    ----------
    table : pandas.DataFrame
        Differences, with the column ``state`` where there are several states.

    Returns
    -------
    pandas.DataFrame
        By state, role and change: how many features, and their plan area before and after [m²].
    """
    keys = [*(["state"] if "state" in table else []), "role", "change"]
    some = table.groupby(keys, sort=False, observed=True)
    return some.agg(
        features=("change", "size"), area_before=("area_before", "sum"), area=("area", "sum")
    ).reset_index()
