"""
Pairs of page faces whose insides overlap.

Boxes first (one bulk query of a tree), then separating axes for convex pairs, then the
library's own predicate for the rest. Contacts thinner than ``THIN`` do not count.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from ..errors import ViewError
from .page import PageFaces
from .pieces import SIDES, Pieces
from .tolerance import THIN

CHUNK = 1 << 18
QUERY = 20_000  # faces asked for at once
MOST_PAIRS = 30_000_000  # about 1 GiB of pairs


def in_chunks(function: Callable[..., np.ndarray], *columns: np.ndarray, size: int = CHUNK) -> np.ndarray:
    """Apply a row-wise function to a bounded number of rows at a time."""
    count = len(columns[0])
    if count <= size:
        return function(*columns)
    cuts = range(0, count, size)
    return np.concatenate([function(*(column[cut : cut + size] for column in columns)) for cut in cuts])


def overlapping_pairs(
    page: PageFaces, pieces: Pieces, *, core: np.ndarray | None = None, tree: shapely.STRtree | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the unordered pairs of faces that overlap on the page.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    pieces : Pieces
        Their convex pieces.
    core : ndarray of bool, shape (m,), optional
        Only pairs with at least one of these faces are wanted; all when left out.
    tree : shapely.STRtree, optional
        A tree of the page polygons.

    Returns
    -------
    first, second : ndarray of int, shape (p,)
        Rows of *page*, ``first < second``; pairs within one solid are included.
    """
    first, second = box_pairs(page, np.ones(len(page), dtype=bool) if core is None else core, tree)
    convex = pieces.whole[first] & pieces.whole[second]
    apart = np.zeros(len(first), dtype=bool)
    corner = np.full((len(page), SIDES, 2), np.nan)
    corner[pieces.whole] = pieces.corner[pieces.start[:-1][pieces.whole]]
    side = np.zeros((len(page), SIDES, 3))
    side[pieces.whole] = pieces.side[pieces.start[:-1][pieces.whole]]
    rows = np.flatnonzero(convex)
    i, j = first[rows], second[rows]
    apart[rows] = in_chunks(
        lambda a, b: _beyond_a_side(side[a], corner[b]) | _beyond_a_side(side[b], corner[a]), i, j
    )
    rest = np.flatnonzero(~convex)
    apart[rest] = ~_overlap(page.polygon, first[rest], second[rest])
    return first[~apart], second[~apart]


def box_pairs(
    page: PageFaces, core: np.ndarray, tree: shapely.STRtree | None
) -> tuple[np.ndarray, np.ndarray]:
    """Unordered pairs with a core face whose boxes overlap by more than a contact."""
    inner, search = np.flatnonzero(core), tree or shapely.STRtree(page.polygon)
    found, count = [np.zeros((2, 0), dtype=np.int64)], 0
    for cut in range(0, len(inner), QUERY):
        item, other = search.query(page.polygon[inner[cut : cut + QUERY]])
        item = inner[cut + item]
        once = (item < other) | ((item > other) & ~core[other])
        found.append(np.stack([np.minimum(item, other)[once], np.maximum(item, other)[once]]))
        count += found[-1].shape[1]
        if count > MOST_PAIRS:
            raise ViewError(
                f"More than {MOST_PAIRS:,} pairs of faces overlap on the page, which is too many to compare "
                "at once. Draw in smaller tiles (tile=200), or draw parts of the site, or simplify features "
                "with very many corners."
            )
    first, second = np.concatenate(found, axis=1)
    low = np.maximum(page.box[first, :2], page.box[second, :2])
    high = np.minimum(page.box[first, 2:], page.box[second, 2:])
    meet = (high - low > THIN).all(axis=1)
    return first[meet], second[meet]


def _beyond_a_side(side: np.ndarray, corner: np.ndarray) -> np.ndarray:
    """Whether all corners lie outside one of the sides of the other polygon."""
    inside = np.full(len(side), np.inf)
    for k in range(SIDES):
        distance = side[:, k, None, 0] * corner[:, :, 0] + side[:, k, None, 1] * corner[:, :, 1]
        np.minimum(inside, distance.max(axis=1) + side[:, k, 2], out=inside)
    return inside <= THIN


def _overlap(polygon: np.ndarray, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Whether the insides of general polygons meet."""
    many_sided = shapely.get_num_coordinates(polygon)
    swap = many_sided[first] < many_sided[second]
    a, b = np.where(swap, second, first), np.where(swap, first, second)
    order = np.argsort(a, kind="stable")
    shapely.prepare(polygon[np.unique(a)])
    result = np.zeros(len(a), dtype=bool)
    meeting = order[shapely.intersects(polygon[a[order]], polygon[b[order]])]
    result[meeting] = ~shapely.touches(polygon[a[meeting]], polygon[b[meeting]])
    return result
