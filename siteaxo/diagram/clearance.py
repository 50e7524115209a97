"""
How far tiers are lifted so that nothing hides anything, found from their outlines on the page.

Of what is pulled up the page, nothing is hidden when the whole of it lies above the whole of
what it came from, column by column. So the least shift is the greatest difference between the
upper side of what lies below and the under side of what lies above, over the columns they share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..checks import finite
from ..errors import ViewError
from ..solids.faces import PART_CODE, Faces
from ..view.page import PageFaces
from .envelope import highest_over

AIR: Final = 0.04  # left free between two tiers, as a share of the drawing's size on the page [-]
_UPSIDE_DOWN: Final = np.array([1.0, -1.0])


@dataclass(frozen=True, kw_only=True)
class Outline:
    """The outline of one tier on the page, as segments, shape (s, 2, 2) [m]."""

    ends: np.ndarray

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top [m]."""
        low, high = self.ends.min(axis=(0, 1)), self.ends.max(axis=(0, 1))
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))

    def moved(self, up: float) -> Outline:
        """The same outline farther up the page."""
        return Outline(ends=self.ends + np.array([0.0, up]))


def outline_of(polygons: np.ndarray) -> Outline | None:
    """
    Join page polygons to one outline; None where there are none.

    Parameters
    ----------
    polygons : ndarray of Polygon or MultiPolygon, shape (n,)
        Page polygons [m].
    """
    whole = shapely.union_all(polygons) if len(polygons) else shapely.Polygon()
    rings = shapely.get_exterior_ring(shapely.get_parts(whole))
    rings = rings[~shapely.is_missing(rings)]
    if not len(rings):
        return None
    xy, owner = shapely.get_coordinates(rings, return_index=True)
    joined = np.flatnonzero(owner[1:] == owner[:-1])
    return Outline(ends=np.stack([xy[joined], xy[joined + 1]], axis=1))


def outlines_of(page: PageFaces, tier: np.ndarray, count: int) -> list[Outline | None]:
    """Outline of each tier; *tier* is that of every page face, shape (m,)."""
    crown = page.faces.part == PART_CODE["crown"]
    hull, owner = _hulls(page, np.flatnonzero(crown))
    return [
        outline_of(np.concatenate([page.polygon[~crown & (tier == number)], hull[tier[owner] == number]]))
        for number in range(count)
    ]


def _hulls(page: PageFaces, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The hull of the facets of every crown, which is convex, and one of its faces."""
    if not len(rows):
        return np.empty(0, dtype=object), rows
    solid = page.faces.solid[rows]
    order = np.argsort(solid, kind="stable")
    _, first, place = np.unique(solid[order], return_index=True, return_inverse=True)
    parts, owner = shapely.get_parts(page.polygon[rows[order]], return_index=True)
    return shapely.convex_hull(shapely.multipolygons(parts, indices=place[owner])), rows[order[first]]


def least_shift(below: Outline, above: Outline) -> float:
    """
    Least shift up the page from which on one outline lies clear of another.

    Parameters
    ----------
    below, above : Outline
        What stays and what is shifted.

    Returns
    -------
    float
        Shift at which they just touch [m]; minus infinity where they share no column.

    Examples
    --------
    >>> square = outline_of(np.array([shapely.box(0, 0, 4, 3)]))
    >>> least_shift(square, square)
    3.0
    """
    left = max(below.ends[:, :, 0].min(), above.ends[:, :, 0].min())
    right = min(below.ends[:, :, 0].max(), above.ends[:, :, 0].max())
    if right <= left:
        return -np.inf
    x = np.unique(np.concatenate([below.ends[:, :, 0].ravel(), above.ends[:, :, 0].ravel(), [left, right]]))
    x = x[(x >= left) & (x <= right)]
    upper, under = highest_over(below.ends, x), highest_over(above.ends * _UPSIDE_DOWN, x)
    return float((upper + under).max())


def automatic_lifts(outlines: Sequence[Outline | None], rise: float) -> np.ndarray:
    """
    Lift every tier just so far that nothing hides anything.

    Parameters
    ----------
    outlines : sequence of Outline or None
        Outline of each tier where it really is, the lowest first.
    rise : float
        Page metres per metre of height, above zero.

    Returns
    -------
    ndarray, shape (t,)
        Lift of each tier, the lowest 0 [m].
    """
    there = [one for one in outlines if one is not None]
    air = AIR * size_of(there)
    lift = np.zeros(len(outlines))
    placed: list[Outline] = []
    for number, outline in enumerate(outlines):
        if outline is None:
            lift[number] = lift[max(number - 1, 0)]
            continue
        shift = max((least_shift(one, outline) for one in placed), default=-air)
        least = lift[number - 1] + air / rise if number else 0.0
        lift[number] = max((shift + air) / rise, least) if placed else 0.0
        placed.append(outline.moved(lift[number] * rise))
    return lift


def size_of(outlines: Sequence[Outline]) -> float:
    """Greatest width or height of outlines on the page together [m]."""
    if not outlines:
        return 0.0
    boxes = np.array([one.box for one in outlines])
    return float(max(boxes[:, 2].max() - boxes[:, 0].min(), boxes[:, 3].max() - boxes[:, 1].min()))


def lifts_from_gaps(faces: Faces, tier: np.ndarray, count: int, gaps: float | Sequence[float]) -> np.ndarray:
    """
    Lift every tier so that it stands clear of the one below by given gaps.

    Parameters
    ----------
    faces : Faces
        Faces where they really are.
    tier : ndarray of int, shape (f,)
        Tier of each.
    count : int
        Number of tiers.
    gaps : float or sequence of float
        From the highest point of each tier to the lowest of the next [m].

    Returns
    -------
    ndarray, shape (t,)
        Lift of each tier, the lowest 0 [m].

    Raises
    ------
    ViewError
        If there is not one gap between every two tiers, or one is not finite.
    """
    single = isinstance(gaps, int | float)
    given = [float(gaps)] * (count - 1) if isinstance(gaps, int | float) else list(gaps)
    if len(given) != count - 1:
        raise ViewError(
            f"There are {count} tiers and {len(given)} gaps; give {count - 1}, or one for all.",
            field="gaps",
            value=gaps,
        )
    for gap in given:
        finite(gap, "gaps" if single else "a gap", ViewError)
    level, owner = faces.xyz[:, 2], tier[faces.vertex_face]
    lift = np.zeros(count)
    highest = -np.inf
    for number in range(count):
        own = level[owner == number]
        if number:
            own_low = own.min(initial=np.inf)
            lift[number] = highest + given[number - 1] - own_low if np.isfinite(own_low + highest) else 0.0
        highest = own.max() + lift[number] if len(own) else highest + (given[number - 1] if number else 0.0)
    return lift
