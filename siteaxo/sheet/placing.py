"""
Finding room for words: where a box of text hides no line, no other text, and leaves the sheet at no side.

Candidates are tried in a fixed order and the first that is free is taken, so that the same
drawing gets the same words in the same places.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely

from .page import Bounds

_DEEP: Final = 0.85
MOST_CANDIDATES: Final = 3000


@dataclass
class Room:
    """
    What words must keep away from.

    Parameters
    ----------
    lines : ndarray of LineString
        Drawn lines [m on the page].
    areas : ndarray of Polygon or MultiPolygon
        Drawn areas, none over another.
    quiet : ndarray of bool
        Which of them may carry words about something else.
    window : tuple of float
        Left, bottom, right and top of what may be written on [m].
    shadows : ndarray of Polygon or MultiPolygon
        Where words lie only if there is no better place.
    shades : sequence of tuple of str and float
        Tone and opacity of each of them.
    gap : float
        Distance that words keep from leaders [m].
    built : ndarray of Polygon or MultiPolygon
        What is seen of buildings, which leaders to anything else go round if they can.
    marks : ndarray, shape (m, 4)
        Boxes of marks that are drawn over everything else [m]. A leader may begin in one.
    standing : ndarray of Polygon or MultiPolygon
        People and crowns, each of which a leader rather goes round.
    surface : ndarray of int, shape (n,)
        Which of the areas are one surface, such as the faces of sloping ground: these have one number.
    """

    lines: np.ndarray
    areas: np.ndarray
    quiet: np.ndarray
    window: Bounds
    shadows: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=object))
    shades: Sequence[tuple[str, float]] = ()
    gap: float = 0.0
    built: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=object))
    marks: np.ndarray = field(default_factory=lambda: np.empty((0, 4)))
    standing: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=object))
    surface: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    taken: list[np.ndarray] = field(default_factory=list)
    leaders: list[np.ndarray] = field(default_factory=list)

    def __post_init__(self) -> None:
        if not len(self.surface):
            self.surface = np.arange(len(self.areas))
        self._line_tree = shapely.STRtree(self.lines)
        self._area_tree = shapely.STRtree(self.areas)
        self._shadow_tree = shapely.STRtree(self.shadows)
        self._built_tree = shapely.STRtree(self.built)
        self._standing_tree = shapely.STRtree(self.standing)

    def bar(self, shapes: np.ndarray) -> None:
        """Let leaders go round further areas, as round buildings."""
        self.built = np.concatenate([self.built, shapes])
        self._built_tree = shapely.STRtree(self.built)

    def _boxes(self) -> list[shapely.Geometry]:
        """Marks and words that are there."""
        return [shapely.box(*box) for box in (*self.marks, *self.taken)]

    def free(self, boxes: np.ndarray) -> np.ndarray:
        """
        Which boxes hide nothing.

        Parameters
        ----------
        boxes : ndarray, shape (n, 4)
            Left, bottom, right, top [m].

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        left, bottom, right, top = self.window
        fits = np.asarray((boxes[:, :2] >= (left, bottom)).all(axis=1))
        fits &= np.asarray((boxes[:, 2:] <= (right, top)).all(axis=1))
        for other in (*self.marks, *self.taken):
            apart = (boxes[:, :2] >= other[2:]).any(axis=1) | (boxes[:, 2:] <= other[:2]).any(axis=1)
            fits &= apart
        shapes = shapely.box(*boxes.T)
        rows = np.flatnonzero(fits)
        fits[rows[self._line_tree.query(shapes[rows], predicate="intersects")[0]]] = False
        if self.leaders:
            rows = np.flatnonzero(fits)
            strings = shapely.linestrings(np.array(self.leaders))
            near = shapely.STRtree(strings).query(shapes[rows], predicate="dwithin", distance=self.gap)
            fits[rows[near[0]]] = False
        return fits

    def bare(self, boxes: np.ndarray) -> np.ndarray:
        """Which boxes lie on bare paper, shape (n,)."""
        return np.bincount(self.met_by(boxes)[0], minlength=len(boxes)) == 0

    def free_turned(self, shapes: np.ndarray) -> np.ndarray:
        """Which polygons, of any direction, hide nothing, shape (n,)."""
        others = [*self._boxes(), shapely.box(*self.window).exterior]
        leaders = [shapely.LineString(leader) for leader in self.leaders]
        fits = np.ones(len(shapes), dtype=bool)
        fits[self._line_tree.query(shapes, predicate="intersects")[0]] = False
        fits[shapely.STRtree(others).query(shapes, predicate="intersects")[0]] = False
        fits[shapely.STRtree(leaders).query(shapes, predicate="dwithin", distance=self.gap)[0]] = False
        return fits

    def take_turned(self, corners: np.ndarray) -> None:
        """Note that a rectangle of any direction is there, by boxes along it; corners (4, 2) [m]."""
        long, wide = (float(np.hypot(*(corners[k] - corners[0]))) for k in (1, 3))
        share = np.linspace(0.0, 1.0, max(int(np.ceil(long / wide)), 1) + 1)[:, None]
        low, high = (begin + share * (end - begin) for begin, end in (corners[:2], corners[:1:-1]))
        four = np.stack([low[:-1], low[1:], high[:-1], high[1:]])
        self.taken.extend(np.concatenate([four.min(axis=0), four.max(axis=0)], axis=1))

    def bare_of_lines(self, region: shapely.Geometry, gap: float) -> shapely.Geometry:
        """What of a region lies so far from all lines, words and leaders [m]."""
        near = self.lines[self._line_tree.query(region, predicate="dwithin", distance=gap)]
        taken = self._boxes()
        leaders = [shapely.LineString(leader) for leader in self.leaders]
        return shapely.difference(region, shapely.union_all(shapely.buffer([*near, *taken, *leaders], gap)))

    def ground(self, boxes: np.ndarray) -> np.ndarray:
        """Return the area that holds each box as a whole, shape (n,); -1 where none does."""
        return self.holders(shapely.box(*boxes.T))

    def met_by(self, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Pairs of a box and an area that it meets, shape (p,) each."""
        row, area = self._area_tree.query(shapely.box(*boxes.T), predicate="intersects")
        return row, area

    def holders(self, shapes: np.ndarray) -> np.ndarray:
        """Return the area that holds each polygon as a whole, shape (n,); -1 where none does."""
        row, area = self._area_tree.query(shapes, predicate="within")
        holder = np.full(len(shapes), -1)
        holder[row] = area
        return holder

    def shaded(self, boxes: np.ndarray) -> np.ndarray:
        """Which boxes meet a shadow, shape (n,)."""
        return self.in_shade(shapely.box(*boxes.T))

    def in_shade(self, shapes: np.ndarray) -> np.ndarray:
        """Which polygons meet a shadow, shape (n,)."""
        meets = np.zeros(len(shapes), dtype=bool)
        meets[self._shadow_tree.query(shapes, predicate="intersects")[0]] = True
        return meets

    def clear(self, leaders: np.ndarray, *, words_only: bool = False) -> np.ndarray:
        """Which straight leaders, shape (n, 2, 2), cross no word and, unless told, no other leader."""
        strings = shapely.linestrings(leaders)
        fits = np.ones(len(leaders), dtype=bool)
        others = [shapely.box(*box) for box in self.taken]
        marks = shapely.box(*self.marks.T)
        within = shapely.intersects_xy(marks[:, None], *leaders[:, 0].T[:, None])
        crossed = shapely.intersects(marks[:, None], strings) & ~within
        fits &= ~crossed.any(axis=0)
        if not words_only:
            others += [shapely.LineString(leader) for leader in self.leaders]
        if others:
            hit = shapely.STRtree(others).query(strings, predicate="intersects")[0]
            fits[np.unique(hit)] = False
        return fits

    def goes_round(self, leaders: np.ndarray) -> np.ndarray:
        """Which straight leaders, shape (n, 2, 2), cross no building but that in which they begin."""
        strings = shapely.linestrings(leaders)
        near = np.unique(self._built_tree.query(strings, predicate="intersects")[1])
        if not len(near):
            return np.ones(len(leaders), dtype=bool)
        slack = max(self.gap, 1e-3) / 10  # faces of one building lie side by side
        whole = shapely.get_parts(shapely.union_all(shapely.buffer(self.built[near], slack)))
        core = shapely.buffer(whole, -2 * slack)
        own = shapely.contains_xy(core, leaders[:, :1, 0], leaders[:, :1, 1])
        within = shapely.length(shapely.intersection(strings[:, None], whole)) * ~own
        return np.asarray(within.sum(axis=1) <= 4 * slack)

    def met(self, leaders: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """How many drawn lines, and how many people and crowns but its own, each leader crosses (n,) each."""
        strings = shapely.linestrings(leaders)
        lines = self._line_tree.query(strings, predicate="intersects")[0]
        row, thing = self._standing_tree.query(strings, predicate="intersects")
        own = shapely.intersects_xy(self.standing[thing], *leaders[row, 0].T)
        return np.bincount(lines, minlength=len(leaders)), np.bincount(row[~own], minlength=len(leaders))

    def areas_at(self, shape: shapely.Geometry) -> np.ndarray:
        """Return the areas that a shape meets, in their order."""
        return np.sort(self._area_tree.query(shape, predicate="intersects"))

    def seen_within(
        self, shape: shapely.Geometry, least: float
    ) -> list[tuple[int, tuple[str, float] | None]]:
        """
        Areas that a shape meets in more than the *least* area [m²], in the light or in a shadow.

        Each comes with the tone and opacity of the shadow that lies on it, None in the light; one that
        lies in both, or in several shadows, comes several times.
        """
        rows = self.areas_at(shape)
        parts = shapely.intersection(self.areas[rows], shape)
        dark = np.sort(self._shadow_tree.query(shape, predicate="intersects"))
        cast = shapely.intersection(self.shadows[dark], shape)
        shaded = shapely.area(shapely.intersection(parts[:, None], cast[None, :]))
        light = shapely.area(parts) - shaded.sum(axis=1)
        found = [(int(row), None) for row in rows[light > least]]
        return found + [(int(rows[k]), self.shades[dark[m]]) for k, m in np.argwhere(shaded > least)]

    def take(self, box: np.ndarray, leader: np.ndarray | None = None) -> None:
        """Note that a box, and the leader to it, are there."""
        self.taken.append(box)
        if leader is not None:
            self.leaders.append(leader)

    def drop(self, box: np.ndarray, leader: np.ndarray | None = None) -> None:
        """Forget a box that was taken, and the leader to it."""
        self.taken = [one for one in self.taken if one is not box]
        self.leaders = [one for one in self.leaders if one is not leader]

    def inside(self, region: shapely.Geometry, extent: np.ndarray, step: float) -> np.ndarray | None:
        """
        Find a place in a region for a box, as near to its middle as there is.

        Parameters
        ----------
        region : Polygon
            Where it must lie as a whole.
        extent : ndarray, shape (4,)
            The box about the place: left, bottom, right, top, the first two below zero [m].
        step : float
            Distance of the places that are tried [m].

        Returns
        -------
        ndarray, shape (2,) or None
        """
        middle = pole(region)
        low, high = np.array(region.bounds[:2]) - extent[:2], np.array(region.bounds[2:]) - extent[2:]
        if (high <= low).any():
            return None
        step = max(step, float(np.sqrt((high - low).prod() / MOST_CANDIDATES)))
        columns, rows = (np.arange(a, b, step) for a, b in zip(low, high, strict=True))
        places = np.column_stack([one.ravel() for one in np.meshgrid(columns, rows)])
        places = np.concatenate([middle[None], places])
        away = np.hypot(*(places + (extent[:2] + extent[2:]) / 2 - middle).T)
        places = places[np.lexsort((places[:, 0], places[:, 1], np.round(away, 6)))]
        boxes = np.concatenate([places, places], axis=1) + extent
        shapely.prepare(region)
        places = places[shapely.contains_properly(region, shapely.box(*boxes.T))]
        boxes = np.concatenate([places, places], axis=1) + extent
        free = np.flatnonzero(self.free(boxes))
        lit = free[~self.shaded(boxes[free])]
        best = lit if len(lit) else free
        return places[best[0]] if len(best) else None


def pole(region: shapely.Geometry) -> np.ndarray:
    """Middle of a polygon, shape (2,) [m]: its centroid if that lies deep inside, else its deepest point."""
    size = max(region.bounds[2] - region.bounds[0], region.bounds[3] - region.bounds[1])
    circle = shapely.maximum_inscribed_circle(region, tolerance=size / 200)
    centroid = shapely.centroid(region)
    deep = region.contains(centroid) and region.boundary.distance(centroid) >= _DEEP * circle.length
    return np.array(centroid.coords[0] if deep else circle.coords[0])
