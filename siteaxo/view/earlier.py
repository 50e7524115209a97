"""
The drawing made last time, and what of it still holds.

What is seen of a solid follows from that solid and from those whose boxes on the page meet its own. So
where solids have come, gone or changed, whatever meets them is drawn again, and all else is as it was.
Solids are told by their names (see :mod:`.kept`), wherever they stand in the scene.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..keeping import Arrays, digest
from ..ragged import ragged
from .balance import Balance
from .dashes import Dashes
from .finishing import Part
from .kept import Named, columns, flat, raised, table
from .overlay import Redone
from .tolerance import Tolerance


@dataclass(frozen=True, kw_only=True)
class Known:
    """
    What solids are told by.

    Parameters
    ----------
    name : ndarray of uint8, shape (s, 32)
        Their names.
    rank, group : ndarray of int, shape (s,)
        As in their scene.
    sides : ndarray, shape (6, s)
        Left, bottom, right, top, farthest and nearest of each on the page [m].
    face_start, edge_start : ndarray of int, shape (s + 1,)
        Where the faces and edges of each begin, sorted by solid.
    """

    name: np.ndarray
    rank: np.ndarray
    group: np.ndarray
    sides: np.ndarray
    face_start: np.ndarray
    edge_start: np.ndarray

    @classmethod
    def of(cls, whole: Named, sides: np.ndarray) -> Known:
        """Take from a scene what its solids are told by."""
        return cls(
            name=whole.name,
            rank=whole.scene.rank,
            group=whole.scene.group,
            sides=sides,
            face_start=whole.index.face_start,
            edge_start=whole.index.edge_start,
        )

    @property
    def state(self) -> np.ndarray:
        """What tells the scene from others on the page, as bytes, shape (20,)."""
        return np.frombuffer(bytes.fromhex(digest(*vars(self).values())), dtype=np.uint8)


def written(part: Part, whole: Named, known: Known) -> Arrays:
    """Write a drawing as arrays, its faces and edges numbered by solid."""
    index = whole.index
    place = np.empty(len(index.edge_order), dtype=np.int64)
    place[index.edge_order] = np.arange(len(place))
    apart = part.numbered(np.arange(len(known.rank)), index.face_place, place)
    return flat(apart) | columns(known, "known")


def still(arrays: Arrays, whole: Named, known: Known, limits: Tolerance) -> tuple[Part, np.ndarray]:
    """
    Take from an earlier drawing what holds for a scene.

    Parameters
    ----------
    arrays : dict of str to ndarray
        What :func:`written` wrote.
    whole : Named
        The scene.
    known : Known
        What its solids are told by.
    limits : Tolerance
        As for drawing.

    Returns
    -------
    part : Part
        What is seen of solids that nothing new or gone meets, numbered as in the scene.
    holds : ndarray of bool, shape (s,)
        Which these are.
    """
    now = unmoved(table(Known, arrays, "known"), known, limits)
    holds = np.zeros(len(known.rank), dtype=bool)
    holds[now[now >= 0]] = True
    return of_some(arrays, whole, now), holds


def of_some(arrays: Arrays, whole: Named, now: np.ndarray) -> Part:
    """
    Take from an earlier drawing what is seen of some solids.

    Parameters
    ----------
    arrays : dict of str to ndarray
        What :func:`written` wrote.
    whole : Named
        The scene.
    now : ndarray of int
        Where each solid of the earlier drawing stands in the scene, -1 where it is left out.

    Returns
    -------
    Part
        Numbered as in the scene.
    """
    before = table(Known, arrays, "known")
    part = _of_solids(arrays, now, before.face_start)
    face = _moved(before.face_start, whole.index.face_start, now, whole.index.face_order)
    edge = _moved(before.edge_start, whole.index.edge_start, now, whole.index.edge_order)
    return part.numbered(now, face, edge)


def unmoved(before: Known, known: Known, limits: Tolerance) -> np.ndarray:
    """Where each earlier solid stands now, -1 if it does not or if something new or gone meets it."""
    margin = 10 * limits.page
    old, new = _alike(before.name, known.name)
    now = np.full(len(before.rank), -1)
    if not _in_one_order(before, known, old, new):
        return now
    now[old] = new
    gone, come = np.ones(len(before.rank), dtype=bool), np.ones(len(known.rank), dtype=bool)
    gone[old] = come[new] = False
    changed = np.concatenate([before.sides[:4, gone], known.sides[:4, come]], axis=1)
    left, bottom, right, top = changed[:, np.isfinite(changed[0])]
    around = shapely.box(left - margin, bottom - margin, right + margin, top + margin)
    seen = old[np.isfinite(before.sides[0, old])]
    met = shapely.STRtree(around).query(shapely.box(*before.sides[:4, seen]))[0]
    now[seen[met]] = -1
    return now


def _alike(before: np.ndarray, now: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of rows that hold the same bytes; of several such rows the first is paired with the first."""
    rows = np.ascontiguousarray(np.concatenate([before, now])).view(f"V{before.shape[1]}").ravel()
    number = np.unique(rows, return_inverse=True)[1].ravel()
    old, new = (_counted(part) for part in (number[: len(before)], number[len(before) :]))
    pairs = np.intersect1d(old, new, assume_unique=True, return_indices=True)
    order = np.argsort(pairs[1])
    return pairs[1][order], pairs[2][order]


def _counted(number: np.ndarray) -> np.ndarray:
    """Numbers made different for every row: how many rows before it have the same goes into them."""
    order = np.argsort(number, kind="stable")
    many = np.bincount(number)
    count = np.empty(len(number), dtype=np.int64)
    count[order] = ragged(many)[1]
    return number * (1 << 31) + count


def _in_one_order(before: Known, known: Known, old: np.ndarray, new: np.ndarray) -> bool:
    """Whether solids follow one another, outrank one another and belong together as they did."""
    ranks = [np.unique(of.rank[rows], return_inverse=True)[1] for of, rows in ((before, old), (known, new))]
    groups = [_first_met(of.group[rows]) for of, rows in ((before, old), (known, new))]
    alike = all(np.array_equal(one, other) for one, other in (ranks, groups))
    return alike and bool((np.diff(new) > 0).all())


def _first_met(group: np.ndarray) -> np.ndarray:
    """Groups told by the row at which each is met first."""
    _, first, which = np.unique(group, return_index=True, return_inverse=True)
    return np.asarray(first[which])


def _moved(before: np.ndarray, after: np.ndarray, now: np.ndarray, order: np.ndarray) -> np.ndarray:
    """Where faces or edges, sorted by solid, stand in the scene now; 0 where they do not."""
    shift = np.where(now >= 0, after[now] - before[:-1], 0)
    many = np.diff(before)
    row = np.arange(before[-1]) + np.repeat(shift, many)
    return np.where(np.repeat(now >= 0, many), order[np.minimum(row, len(order) - 1)], 0)


def _of_solids(arrays: Arrays, now: np.ndarray, face_start: np.ndarray) -> Part:
    """The part of a drawing that shows solids which are still there."""
    there = now >= 0
    face = np.flatnonzero(there[np.searchsorted(face_start, arrays["face"], side="right") - 1])
    part = raised(arrays, face)
    edge = np.flatnonzero(there[part.edges.solid])
    place = np.full(len(part.edges), -1)
    place[edge] = np.arange(len(edge))
    dash, hidden = (np.flatnonzero(place[one.edge] >= 0) for one in (part.dashes, part.hidden))
    row = np.full(len(part.dashes), -1)
    row[dash] = np.arange(len(dash))
    double = part.double.take(np.flatnonzero((row[part.double.edge] >= 0) & (row[part.double.over] >= 0)))
    kept = replace(
        part,
        visible=replace(part.visible, redone=Redone()),
        edges=part.edges.take(edge),
        dashes=_on(part.dashes.take(dash), place),
        kind=part.kind[dash],
        hidden=_on(part.hidden.take(hidden), place),
        hidden_seam=part.hidden_seam[hidden],
        double=double.numbered(row),
        pairs=0,
        tiles=0,
    )
    return replace(kept, balance=Balance.of(kept.area, kept.visible, kept.edges, kept.dashes, kept.hidden))


def _on(dashes: Dashes, place: np.ndarray) -> Dashes:
    """Dashes of edges that stand at other rows."""
    return replace(dashes, edge=place[dashes.edge])
