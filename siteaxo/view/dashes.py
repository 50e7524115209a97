"""
Edges on the page, and dashes: parts of edges as intervals that are merged and complemented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Final, Self

import numpy as np

from ..ragged import running_max, spread
from .order import by_group, heads, starts

_OWN: Final = ("xy", "depth", "source", "solid", "smooth")  # columns with a row for each edge


@dataclass(frozen=True, kw_only=True)
class PageEdges:
    """
    Edges on the page with their front faces.

    Parameters
    ----------
    xy : ndarray, shape (e, 2, 2)
        End points [m].
    depth : ndarray, shape (e, 2)
        Their depths [m].
    source : ndarray of int, shape (e,)
        Row of the Edges table; -1 for lines where two faces cross.
    solid : ndarray of int, shape (e,)
        The solid.
    smooth : ndarray of bool, shape (e,)
        Whether no line shows where both faces are seen.
    member_edge, member_face : ndarray of int, shape (k,)
        Front faces of the edges: edge row and page-face row, sorted by edge.
    left : ndarray of bool, shape (k,)
        Whether the face lies to the left of the edge on the page.
    """

    xy: np.ndarray
    depth: np.ndarray
    source: np.ndarray
    solid: np.ndarray
    smooth: np.ndarray
    member_edge: np.ndarray
    member_face: np.ndarray
    left: np.ndarray

    def __len__(self) -> int:
        return len(self.source)

    @cached_property
    def length(self) -> np.ndarray:
        """Page lengths, shape (e,) [m]."""
        xy = self.xy
        return np.hypot(xy[:, 1, 0] - xy[:, 0, 0], xy[:, 1, 1] - xy[:, 0, 1])

    @property
    def seam(self) -> np.ndarray:
        """Smooth edges with their two faces both turned to the viewer or both away, shape (e,)."""
        return self.smooth & (np.bincount(self.member_edge, minlength=len(self)) != 1)

    @cached_property
    def member_start(self) -> np.ndarray:
        """Where the front faces of each edge start, shape (e + 1,)."""
        return starts(self.member_edge, len(self))

    def owns(self, edge: np.ndarray, face: np.ndarray) -> np.ndarray:
        """Whether each face is a front face of the edge beside it, shape (n,)."""
        start = self.member_start
        own = np.zeros(len(edge), dtype=bool)
        last = max(len(self.member_face) - 1, 0)
        for k in range(int(np.diff(start).max(initial=0))):
            at = start[edge] + k
            own |= (at < start[edge + 1]) & (self.member_face[np.minimum(at, last)] == face)
        return own

    def without_members(self) -> PageEdges:
        """The same edges, their faces forgotten."""
        none = np.zeros(0, dtype=np.int64)
        return replace(self, member_edge=none, member_face=none, left=none.astype(bool))

    def take(self, rows: np.ndarray) -> PageEdges:
        """Some of the edges, with their faces."""
        own = {name: getattr(self, name).take(rows, axis=0) for name in _OWN}
        start = self.member_start
        count = start[rows + 1] - start[rows]
        member = spread(start[rows], count)
        return PageEdges(
            **own,
            member_edge=np.repeat(np.arange(len(rows)), count),
            member_face=self.member_face[member],
            left=self.left[member],
        )

    @classmethod
    def joined(cls, tables: list[PageEdges], order: np.ndarray) -> PageEdges:
        """
        Several tables, which are used up, in one, in the order given.

        Members are kept only where there is one table.
        """
        if len(tables) == 1:
            return tables.pop().take(order)
        columns = {name: [getattr(table, name) for table in tables] for name in _OWN}
        tables.clear()
        none = np.zeros(0, dtype=np.int64)
        own = {name: np.concatenate(columns.pop(name)).take(order, axis=0) for name in _OWN}
        return cls(**own, member_edge=none, member_face=none, left=none.astype(bool))


@dataclass(frozen=True, kw_only=True)
class Dashes:
    """
    Parts of edges.

    Parameters
    ----------
    edge : ndarray of int, shape (d,)
        Row of the page edges, not descending.
    begin, end : ndarray, shape (d,)
        Parameters along the edge, 0 to 1 [-].
    """

    edge: np.ndarray
    begin: np.ndarray
    end: np.ndarray

    def __len__(self) -> int:
        return len(self.edge)

    def xy(self, edges: PageEdges) -> np.ndarray:
        """End points on the page, shape (d, 2, 2) [m]."""
        line = edges.xy.take(self.edge, axis=0)
        start, share = line[:, :1], np.stack([self.begin, self.end], axis=1)
        return start + share[:, :, None] * (line[:, 1:] - start)

    def take(self, rows: np.ndarray) -> Dashes:
        """Some of the dashes."""
        return Dashes(edge=self.edge[rows], begin=self.begin[rows], end=self.end[rows])

    def moved(self, shift: int) -> Self:
        """The same dashes of edges that stand *shift* rows later."""
        return replace(self, edge=self.edge + shift)

    @classmethod
    def none(cls) -> Dashes:
        """No dashes."""
        return cls(edge=np.zeros(0, dtype=np.int64), begin=np.zeros(0), end=np.zeros(0))

    @classmethod
    def joined(cls, tables: Sequence[Self]) -> Self:
        """Several tables one after another."""
        return cls(**{f.name: np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(cls)})


@dataclass(frozen=True, kw_only=True)
class Doubles(Dashes):
    """
    Parts of dashes that lie on nearer ones.

    Parameters
    ----------
    edge : ndarray of int, shape (n,)
        The dash of which each is a part; they may overlap.
    begin, end : ndarray, shape (n,)
        Parameters along that dash, 0 to 1 [-].
    over : ndarray of int, shape (n,)
        The dash that it lies on.
    """

    over: np.ndarray

    def moved(self, shift: int) -> Self:
        """The same of dashes that stand *shift* rows later."""
        return replace(self, edge=self.edge + shift, over=self.over + shift)

    def numbered(self, row: np.ndarray) -> Doubles:
        """The same of dashes that stand at other rows."""
        return replace(self, edge=row[self.edge], over=row[self.over])

    def take(self, rows: np.ndarray) -> Doubles:
        """Some of them."""
        return Doubles(edge=self.edge[rows], begin=self.begin[rows], end=self.end[rows], over=self.over[rows])

    @classmethod
    def none(cls) -> Doubles:
        """None at all."""
        return cls(**vars(Dashes.none()), over=np.zeros(0, dtype=np.int64))


def complement(covered: Dashes, length: np.ndarray, shortest: float) -> tuple[Dashes, Dashes]:
    """
    Merge covered intervals and part each edge into bare and covered dashes.

    Parameters
    ----------
    covered : Dashes
        Intervals in any order, overlapping or not.
    length : ndarray, shape (e,)
        Length of every edge [m].
    shortest : float
        Bare dashes shorter than this count as covered, unless the edge is bare whole [m].

    Returns
    -------
    bare, covered : Dashes
    """
    count = len(length)
    order = by_group(covered.edge, covered.begin)
    edge, begin, end = covered.edge[order], covered.begin[order], covered.end[order]
    reach = running_max(edge, end)
    first = heads(edge)
    last = np.append(first[1:], True)[: len(edge)]
    untouched = np.ones(count, dtype=bool)
    untouched[edge] = False
    free = np.flatnonzero(untouched)
    gap_edge = np.concatenate([edge, edge[last], free])
    gap_begin = np.concatenate([np.where(first, 0.0, np.roll(reach, 1)), reach[last], np.zeros(len(free))])
    gap_end = np.concatenate([begin, np.ones(int(last.sum())), np.ones(len(free))])
    long = (gap_end - gap_begin) * length[gap_edge] >= shortest
    long[len(gap_edge) - len(free) :] = True
    long &= gap_end > gap_begin
    rows = np.flatnonzero(long)
    rows = rows[by_group(gap_edge[rows], gap_begin[rows])]
    bare = Dashes(edge=gap_edge[rows], begin=gap_begin[rows], end=gap_end[rows])
    return bare, _gaps_of(bare, count)


def _gaps_of(bare: Dashes, count: int) -> Dashes:
    """What sorted, disjoint dashes leave of every edge."""
    per_edge = np.bincount(bare.edge, minlength=count)
    slot = np.cumsum(per_edge + 1) - (per_edge + 1)  # one more gap than dashes
    place = slot[bare.edge] + np.arange(len(bare)) - np.repeat(np.cumsum(per_edge) - per_edge, per_edge)
    begin, end = np.zeros(len(bare) + count), np.ones(len(bare) + count)
    end[place], begin[place + 1] = bare.begin, bare.end
    real = np.flatnonzero(end > begin)
    edge = np.repeat(np.arange(count), per_edge + 1)
    return Dashes(edge=edge[real], begin=begin[real], end=end[real])
