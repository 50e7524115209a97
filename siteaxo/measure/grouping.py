"""
Rows of features put together: sums, counts and unions by group.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from ..solids.linked import linked
from ..solids.stack import Stack


def distinct(stack: Stack, number: np.ndarray, count: int) -> np.ndarray:
    """How many features each group holds, parts of one counted once."""
    features = stack.features
    frame = pd.DataFrame({"group": number, "layer": features.layer, "id": features.source_id.astype(str)})
    return np.bincount(frame.drop_duplicates()["group"], minlength=count).astype(float)


def summed(values: np.ndarray, number: np.ndarray, count: int) -> np.ndarray:
    """Sums by group; NaN where no value of a group is known."""
    known = np.isfinite(values)
    total = np.bincount(number, np.where(known, values, 0.0), count)
    return np.where(np.bincount(number, known, count) > 0, total, np.nan)


def places(stack: Stack, number: np.ndarray, count: int) -> np.ndarray:
    """Place of each group: that of its first feature in the stacking order."""
    least = np.full(count, np.inf)
    np.minimum.at(least, number, stack.features.order * len(number) + np.arange(len(number)))
    return least


def united(shapes: np.ndarray, number: np.ndarray, count: int) -> np.ndarray:
    """
    Union of the shapes of each group, empty where it has none.

    Only shapes that meet are united; the others are put beside them, which is much quicker for the
    many features that stand by themselves.
    """
    there = np.flatnonzero(~(shapely.is_missing(shapes) | shapely.is_empty(shapes)))
    own, group = shapes[there], number[there]
    one, other = shapely.STRtree(own).query(own, predicate="intersects")
    alike = group[one] == group[other]
    knot = linked(len(own), one[alike], other[alike])
    alone = np.bincount(knot, minlength=len(own))[knot] == 1
    knots, place = np.unique(knot[~alone], return_inverse=True)
    joined = shapely.unary_union(_collected(own[~alone], place, len(knots))[:, None], axis=1)
    parts, whole = shapely.get_parts(np.concatenate([own[alone], joined]), return_index=True)
    return _collected(parts, np.concatenate([group[alone], group[knots]])[whole], count)


def _collected(shapes: np.ndarray, number: np.ndarray, count: int) -> np.ndarray:
    """What is in each group put together: nothing, the shape itself, or many in one."""
    found = np.full(count, shapely.GeometryCollection(), dtype=object)
    other = shapely.get_type_id(shapes) != shapely.GeometryType.POLYGON
    mixed = np.bincount(number, other, count) > 0
    for rows, gather in ((~mixed, shapely.multipolygons), (mixed, shapely.geometrycollections)):
        some = np.flatnonzero(rows[number])
        some = some[np.argsort(number[some], kind="stable")]
        if len(some):
            groups, place = np.unique(number[some], return_inverse=True)
            found[groups] = gather(shapes[some], indices=place)
    single = np.flatnonzero(np.bincount(number, minlength=count) == 1)
    found[single] = shapely.get_geometry(found[single], 0)
    return found
