"""
Rows of features put together: sums, counts and unions by group.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

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


def _groups(shapes: np.ndarray, number: np.ndarray, count: int) -> np.ndarray:
    """Collections of the shapes of each group, None left out."""
    there = np.flatnonzero([shape is not None for shape in shapes])
    there = there[np.argsort(number[there], kind="stable")]
    found = np.full(count, shapely.GeometryCollection(), dtype=object)
    rows, place = np.unique(number[there], return_inverse=True)
    if len(rows):
        found[rows] = shapely.geometrycollections(shapes[there], indices=place)
    return found


def united(shapes: np.ndarray, number: np.ndarray, count: int) -> np.ndarray:
    """Union of the shapes of each group, empty where it has none."""
    return shapely.unary_union(_groups(shapes, number, count)[:, None], axis=1)
