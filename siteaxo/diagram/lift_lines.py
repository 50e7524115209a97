"""
Lift lines: from corners of what is pulled up to where they belong, as far as they are seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..solids.faces import PART_CODE, Faces, normals, take
from ..view.dashes import Dashes
from ..view.page import PageFaces, onto_page
from ..view.projection import View, planometric
from ..view.tolerance import Tolerance
from .sight_lines import seen_parts
from .tiers import Tiers

MOST: Final = 4
"""Lift lines of one tier: at its corners farthest left, right, down and up the page."""
NEAR: Final = 0.05  # corners no farther apart than this in plan match [m]
APART: Final = 0.12  # lift lines of one tier are apart by this share of its width on the page [-]
ALONG: Final = 0.01  # lines nearer than this share of the drawing's width run along each other [-]
UPRIGHT: Final = 1e-6
UNDER: Final = 0.05  # what a corner stands on lies no higher above it than this [m]

_Line = tuple[int, int, np.ndarray, np.ndarray]
"""Tier held up, tier at the foot, foot and head."""


@dataclass(frozen=True, kw_only=True)
class LiftLines:
    """
    Lift lines before anything hides them.

    Parameters
    ----------
    tier : ndarray of int, shape (n,)
        The tier that each holds up.
    below : ndarray of int, shape (n,)
        The tier at its foot; -1 for the plan.
    xyz : ndarray, shape (n, 2, 3)
        Foot and head where the tiers are drawn, in the local plane [m].
    """

    tier: np.ndarray
    below: np.ndarray
    xyz: np.ndarray

    def __len__(self) -> int:
        return len(self.tier)


def lift_lines(
    faces: Faces,
    tier: np.ndarray,
    tiers: Tiers,
    lift: np.ndarray,
    view: View,
    *,
    plan_level: float | None = None,
) -> LiftLines:
    """
    Find the lift lines of all tiers.

    A line goes from a corner of the outline of a tier to the nearest tier below that has
    something under that corner, or to the plan.

    Parameters
    ----------
    faces : Faces
        Faces where they really are [m].
    tier : ndarray of int, shape (f,)
        Tier of each.
    tiers : Tiers
        The tiers.
    lift : ndarray, shape (t,)
        How far each is lifted [m].
    view : View
        The view.
    plan_level : float, optional
        Level that the plan is drawn at [m]; no line goes down to it when left out.

    Returns
    -------
    LiftLines
    """
    rows: list[_Line] = []
    tops = [_tops(take(faces, np.flatnonzero(tier == number))) for number in range(len(tiers))]
    for number in range(len(tiers)):
        for corner in _corners(faces, tier == number, view):
            below, level = _foot(tops[:number], corner)
            if below >= 0:
                foot = level + float(lift[below])
            elif plan_level is None:
                continue
            else:
                foot = plan_level
            head = corner + np.array([0.0, 0.0, lift[number]])
            if head[2] > foot + NEAR:
                rows.append((number, below, np.array([corner[0], corner[1], foot]), head))
    rows = _without_doubles(rows, view)
    return LiftLines(
        tier=np.array([row[0] for row in rows], dtype=np.int64),
        below=np.array([row[1] for row in rows], dtype=np.int64),
        xyz=np.array([row[2:] for row in rows], dtype=float).reshape(-1, 2, 3),
    )


def _without_doubles(rows: list[_Line], view: View) -> list[_Line]:
    """Leave out lines that run along others, which hold up more."""
    if not rows:
        return rows
    page = np.array([(row[2], row[3]) for row in rows]) @ view.matrix[:2].T
    x, low, high = page[:, 0, 0], page[:, 0, 1], page[:, 1, 1]
    near = np.abs(x[:, None] - x) <= ALONG * max(float(np.ptp(x)), NEAR)
    beside = near & (low <= high[:, None] + NEAR) & (high >= low[:, None] - NEAR)
    longer = (high - low)[:, None] - (high - low)
    first = np.arange(len(rows))
    better = (longer > 1e-9) | ((np.abs(longer) <= 1e-9) & (first[:, None] < first))
    covered = (beside & better).any(axis=0)
    return [row for row, gone in zip(rows, covered, strict=True) if not gone]


def _corners(faces: Faces, mine: np.ndarray, view: View) -> np.ndarray:
    """A few far apart corners of the plan of some faces, each at its lowest point; shape (c, 3)."""
    hard = np.flatnonzero(mine & (faces.part != PART_CODE["crown"]))
    chosen = take(faces, hard if len(hard) else np.flatnonzero(mine))
    if not len(chosen.xyz):
        return np.zeros((0, 3))
    order = np.lexsort((chosen.xyz[:, 2], np.rint(chosen.xyz[:, 1] * 1e3), np.rint(chosen.xyz[:, 0] * 1e3)))
    xyz = chosen.xyz[order]
    new = np.flatnonzero((np.abs(np.diff(xyz[:, :2], axis=0)) > 1e-3).any(axis=1)) + 1
    xyz = xyz[np.concatenate([[0], new])]
    hull = shapely.convex_hull(shapely.multipoints(xyz[:, :2]))
    rim = shapely.distance(shapely.points(xyz[:, :2]), shapely.boundary(hull)) if hull.area else 0.0
    xyz = xyz[np.broadcast_to(rim, len(xyz)) <= 1e-6]
    page = xyz[:, :2] @ view.matrix[:2, :2].T
    width = float(np.ptp(page[:, 0]))
    kept: list[int] = []
    for direction in ((-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)):
        far = int(np.argmax(page @ direction))
        if all(abs(page[far, 0] - page[other, 0]) >= APART * width for other in kept) or not kept:
            kept.append(far)
    return xyz[kept[:MOST]]


@dataclass(frozen=True, kw_only=True)
class _Tops:
    """Upper sides of one tier in plan."""

    page: PageFaces
    tree: shapely.STRtree


def _tops(faces: Faces) -> _Tops:
    up = normals(faces)[:, 2] > UPRIGHT
    plan = onto_page(
        take(faces, np.flatnonzero(up)),
        planometric(turn=0.0, height_factor=0.0),
        np.zeros(3),
        Tolerance(),
    )
    return _Tops(page=plan, tree=shapely.STRtree(plan.polygon))


def _foot(tops: list[_Tops], corner: np.ndarray) -> tuple[int, float]:
    """The next tier below that has something under a corner, and its level there; -1 where none has."""
    point = shapely.Point(corner[:2])
    for number in range(len(tops) - 1, -1, -1):
        rows = tops[number].tree.query(point, predicate="dwithin", distance=NEAR)
        level = tops[number].page.depth_at(rows, np.broadcast_to(corner[:2], (len(rows), 2)))
        level = level[level <= corner[2] + UNDER]
        if len(level):
            return number, float(level.max())
    return -1, np.nan


def seen_of_lines(
    xyz: np.ndarray, faces: PageFaces, view: View, origin: np.ndarray, tolerance: Tolerance
) -> Dashes:
    """
    Part free lines where faces hide them.

    Parameters
    ----------
    xyz : ndarray, shape (n, 2, 3)
        Ends of the lines in the local plane [m].
    faces : PageFaces
        Everything that may hide them.
    view, origin
        As for the faces.
    tolerance : Tolerance
        A face hides a line from which it is nearer to the viewer than its depth.

    Returns
    -------
    Dashes
        What is seen, as parameters along each line.
    """
    page = view.to_page((xyz - origin).reshape(-1, 3)).reshape(-1, 2, 3)
    return seen_parts(page, faces.polygon, faces.depth_at, slack=tolerance.depth, shortest=tolerance.dash)
