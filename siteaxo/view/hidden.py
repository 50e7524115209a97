"""
The visible part of every face: the face less all that is in front of it.

Occluders are subtracted one at a time, the largest overlap first, for many faces at
once; a face that is used up drops out. Faces with very many occluders have them united
first, group by group. Every subtraction is balanced (see :mod:`.overlay`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..ragged import spread
from .depth import Hiding
from .local import MANY as LARGE
from .local import near_regions
from .order import starts
from .overlay import Redone, subtracted
from .page import PageFaces
from .shapes import Shapes
from .silhouettes import Hiders, with_silhouettes
from .unions import united_on_grid

MANY = 24  # from this number on, occluders are united before they are subtracted
CHUNK = 8192  # faces reduced at once
FEW = 64  # faces that are not worth another thread

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
        How many chunks of faces are worked on at once.
    tick : callable, optional
        Called with the share done, 0 to 1; may raise to stop.

    Returns
    -------
    VisibleFaces
    """
    polygon, taken, redone = page.polygon.copy(), np.zeros(len(page)), Redone()
    hiders = _united(page, _largest_first(page, _near(page, with_silhouettes(page, hiding, core))))
    start = starts(hiders.hidden, len(page))
    faces = np.flatnonzero(start[1:] > start[:-1])
    size = min(CHUNK, max(-(-len(faces) // max(threads, 1)), FEW))
    chunks = [faces[cut : cut + size] for cut in range(0, len(faces), size)]
    work = [_Work(page.shapes.take(rows), hiders, start[rows], start[rows + 1]) for rows in chunks]
    for number, (rows, done) in enumerate(zip(chunks, _all_done(work, threads), strict=True)):
        polygon[rows], taken[rows], tally = done
        redone.add(tally.checked, tally.redone, tally.worst)
        if tick is not None:
            tick((number + 1) / len(chunks))
    return VisibleFaces(polygon=polygon, hidden_area=taken, redone=redone)


@dataclass(frozen=True)
class _Work:
    """Some faces, and the run of hiders of each."""

    faces: Shapes
    hiders: Hiders
    start: np.ndarray
    end: np.ndarray

    def done(self) -> tuple[np.ndarray, np.ndarray, Redone]:
        """What is left of the faces, how much has been taken away, and what was redone."""
        count, tally = len(self.faces), Redone()
        polygon, taken = np.full(count, None, dtype=object), np.zeros(count)
        rows, rest, at = np.arange(count), self.faces, self.start
        while len(rows):
            rest, gone = subtracted(rest, self.hiders.shapes.take(self.hiders.by[at]), tally)
            taken[rows] += gone
            at = at + 1
            more = (at < self.end[rows]) & (rest.corners > 0)
            ended, going = np.flatnonzero(~more), np.flatnonzero(more)
            polygon[rows[ended]] = rest.polygons(ended)
            rest, rows, at = rest.take(going), rows[going], at[going]
        return polygon, taken, tally


def _all_done(work: list[_Work], threads: int) -> Iterator[tuple[np.ndarray, np.ndarray, Redone]]:
    """Do pieces of work, a few at once, and return them in order."""
    if threads <= 1 or len(work) <= 1:
        yield from map(_Work.done, work)
        return
    with ThreadPoolExecutor(threads) as pool:
        try:
            yield from pool.map(_Work.done, work)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _near(page: PageFaces, hiders: Hiders) -> Hiders:
    """Reduce hiders of very many corners to what lies near the faces that they hide."""
    rows = np.flatnonzero(hiders.shapes.corners[hiders.by] >= LARGE)
    if not len(rows):
        return hiders
    polygons, box = hiders.shapes.polygons(hiders.by[rows]), page.box.take(hiders.hidden[rows], axis=0)
    return hiders.put(rows, near_regions(polygons, box))


def _largest_first(page: PageFaces, hiders: Hiders) -> Hiders:
    """Sort hiders by face, then by overlap of boxes downward; empty ones are left out."""
    left, bottom, right, top = hiders.shapes.box.take(hiders.by, axis=0).T
    box = page.box.take(hiders.hidden, axis=0)
    overlap = np.maximum(np.minimum(right, box[:, 2]) - np.maximum(left, box[:, 0]), 0.0)
    overlap *= np.maximum(np.minimum(top, box[:, 3]) - np.maximum(bottom, box[:, 1]), 0.0)
    real = np.flatnonzero(np.isfinite(overlap))  # the box of an empty shape is not a number
    return hiders.take(real[np.lexsort((-overlap[real], hiders.hidden[real]))])


def _united(page: PageFaces, hiders: Hiders) -> Hiders:
    """Unite the hiders of faces that have very many; what the first of them covers is not looked at."""
    hidden, first, count = np.unique(hiders.hidden, return_index=True, return_counts=True)
    crowded = np.flatnonzero(count >= MANY)
    if not len(crowded):
        return hiders
    largest = hiders.shapes.polygons(hiders.by[first[crowded]])
    shapely.prepare(largest)
    open_ = ~shapely.covers(largest, page.polygon[hidden[crowded]])
    largest, face = largest[open_], crowded[open_]
    rows, run = spread(first[face] + 1, count[face] - 1), np.repeat(np.arange(len(face)), count[face] - 1)
    beyond = ~shapely.covers(largest[run], hiders.shapes.polygons(hiders.by[rows]))
    run = np.concatenate([np.arange(len(face)), run[beyond]])
    order, rows = np.argsort(run, kind="stable"), np.concatenate([first[face], rows[beyond]])
    unions = united_on_grid(hiders.shapes.polygons(hiders.by[rows[order]]), run[order], len(face))
    kept = np.repeat(count < MANY, count)
    kept[first[crowded]] = True
    return hiders.put(first[face], unions).take(np.flatnonzero(kept))
