"""
The visible part of every face: the face less all that is in front of it.

Occluders are subtracted one at a time, the largest overlap first, for all faces at
once; a face that is used up drops out. Faces with very many occluders have them united
first, group by group. Every subtraction is balanced (see :mod:`.overlay`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import shapely

from .depth import Hiding
from .local import near_regions
from .order import starts
from .overlay import Redone, checked_difference
from .page import PageFaces
from .silhouettes import united, with_silhouettes

MANY = 24  # from this number on, occluders are united before they are subtracted
CHUNK = 5000

Tick = Callable[[float], None]


@dataclass(frozen=True, kw_only=True)
class VisibleFaces:
    """
    What is left of the faces.

    Parameters
    ----------
    polygon : ndarray of Polygon or MultiPolygon, shape (m,)
        Visible parts, empty where nothing is seen.
    hidden_area : ndarray, shape (m,)
        Area taken away, measured by overlays of its own [m²].
    redone : Redone
        What was checked and redone.
    """

    polygon: np.ndarray
    hidden_area: np.ndarray
    redone: Redone

    def take(self, rows: np.ndarray) -> VisibleFaces:
        """Some of the faces."""
        return replace(self, polygon=self.polygon[rows], hidden_area=self.hidden_area[rows])

    @classmethod
    def joined(cls, tables: Sequence[VisibleFaces]) -> VisibleFaces:
        """Several tables one after another, their checks added up."""
        redone = Redone()
        for table in tables:
            redone.add(table.redone.checked, table.redone.redone, table.redone.worst)
        return cls(
            polygon=np.concatenate([table.polygon for table in tables]),
            hidden_area=np.concatenate([table.hidden_area for table in tables]),
            redone=redone,
        )


def visible_parts(
    page: PageFaces,
    hiding: Hiding,
    *,
    core: np.ndarray | None = None,
    threads: int = 2,
    tick: Tick | None = None,
) -> VisibleFaces:
    """
    Subtract from each face what hides it.

    Parameters
    ----------
    page : PageFaces
        Faces on the page.
    hiding : Hiding
        Which face hides which.
    core : ndarray of bool, shape (m,), optional
        Only these faces are reduced; all when left out.
    threads : int
        How many array calls run at once.
    tick : callable, optional
        Called with the share done, 0 to 1; may raise to stop.

    Returns
    -------
    VisibleFaces
    """
    rest, taken, redone = page.polygon.copy(), np.zeros(len(page)), Redone()
    hidden, region = with_silhouettes(page, hiding, core)
    region = near_regions(region, page.box.take(hidden, axis=0))
    hidden, region = _united(*_largest_first(page, hidden, region))
    start = starts(hidden, len(page))
    count = np.diff(start)
    work = _Work(rest, taken, redone, threads)
    total, done = max(len(hidden), 1), 0
    for turn in range(int(count.max(initial=0))):
        rows = np.flatnonzero(count > turn)
        rows = rows[~shapely.is_empty(rest[rows])]
        for cut in range(0, len(rows), CHUNK):
            some = rows[cut : cut + CHUNK]
            work.subtract(some, region[start[some] + turn])
            done += len(some)
            if tick is not None:
                tick(min(done / total, 1.0))
    return VisibleFaces(polygon=rest, hidden_area=taken, redone=redone)


class _Work:
    """Subtraction in place over a few threads; each thread has rows of its own."""

    def __init__(self, rest: np.ndarray, taken: np.ndarray, redone: Redone, threads: int) -> None:
        self.rest, self.taken, self.redone, self.threads = rest, taken, redone, max(threads, 1)

    def subtract(self, rows: np.ndarray, region: np.ndarray) -> None:
        if self.threads == 1 or len(rows) < 64:
            shares = [self._part(rows, region)]
        else:
            with ThreadPoolExecutor(self.threads) as pool:
                split = zip(
                    np.array_split(rows, self.threads), np.array_split(region, self.threads), strict=True
                )
                shares = list(pool.map(lambda part: self._part(*part), split))
        for tally in shares:
            self.redone.add(tally.checked, tally.redone, tally.worst)

    def _part(self, rows: np.ndarray, region: np.ndarray) -> Redone:
        tally = Redone()
        left, gone = checked_difference(self.rest[rows], region, tally)
        self.rest[rows] = left
        self.taken[rows] += gone
        return tally


def _largest_first(page: PageFaces, hidden: np.ndarray, region: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Hidden faces and their occluders, by face, then by overlap of boxes downward."""
    left, bottom, right, top = shapely.bounds(region).T
    box = page.box.take(hidden, axis=0)
    overlap = np.maximum(np.minimum(right, box[:, 2]) - np.maximum(left, box[:, 0]), 0.0)
    overlap *= np.maximum(np.minimum(top, box[:, 3]) - np.maximum(bottom, box[:, 1]), 0.0)
    real = np.flatnonzero(np.isfinite(overlap))  # the box of an empty region is not a number
    order = real[np.lexsort((-overlap[real], hidden[real]))]
    return hidden[order], region[order]


def _united(hidden: np.ndarray, region: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unite the occluders of faces that have very many."""
    face, first, count = np.unique(hidden, return_index=True, return_counts=True)
    crowded = np.flatnonzero(count >= MANY)
    if not len(crowded):
        return hidden, region
    single = np.repeat(count < MANY, count)
    unions = united(region, first, count, crowded)
    merged_hidden = np.concatenate([hidden[single], face[crowded]])
    merged_region = np.concatenate([region[single], unions])
    order = np.argsort(merged_hidden, kind="stable")
    return merged_hidden[order], merged_region[order]
