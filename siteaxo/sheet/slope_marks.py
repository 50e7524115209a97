"""
Marks of slopes: an arrow down the fall, one to how much it falls, and the levels at its two ends.

References
----------
ISO 129-1 (arrows, from memory); arrows that point down a fall with the slope as a ratio are
common practice on plans of levels.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..units import level_words
from .dimensions import reads_forward
from .label_rows import PAD_MM, LabelRows
from .leaders import LEADER_MM2, LEVEL_LEADERS_MM, with_leader
from .lettering import length_mm
from .placing import Room
from .slopes import SlopeRegion, slope_words

LEAST_MM: Final = 6.0  # arrows are at least so long [mm]
HEAD_MM: Final = (1.8, 0.45)  # length and half width of their heads [mm]
CLEAR_MM: Final = 0.4  # between an arrow and the lines of the drawing [mm]
BESIDE_MM: Final = 0.7  # between an arrow and its words [mm]
LANES: Final = 21  # places across a slope at which an arrow is tried
ALONG: Final = (0.5, 0.42, 0.58, 0.34, 0.66)  # shares of an arrow at which its slope is tried
FROM_END_MM: Final = (0.0, 1.0, 2.0, 3.0)  # from its ends at which levels are tried [mm]
NEARLY: Final = 0.9  # arrows so long, of the longest, are as good [-]
END: Final = 0.02  # an arrow ends at an end of its slope if their levels differ by less [m]
_NOTHING: Final = np.zeros((0, 2, 2))


def mark_slopes(
    rows: LabelRows, room: Room, regions: Iterable[SlopeRegion], told: set[tuple[str, str, str]]
) -> None:
    """
    Mark what falls, in the order given.

    An arrow lies on what is seen of a slope and crosses nothing. Its slope, and the level of
    each of its ends that is an end of the slope, are written along it. One of these without
    room there stands at the end of a leader, where the slope is large and the feature does not
    tell the same elsewhere; with more of them there is no mark.

    Parameters
    ----------
    rows : LabelRows
        Where the marks go.
    room : Room
        What they keep away from.
    regions : iterable of SlopeRegion
        The slopes.
    told : set of tuple of str
        Layer, id and text of what is written; more is added.
    """
    for region in regions:
        _mark(rows, room, region, told)


def _mark(rows: LabelRows, room: Room, region: SlopeRegion, told: set[tuple[str, str, str]]) -> None:
    """Draw the arrow that has most of its words beside it."""
    mm, best = rows.scale / 1000, None
    large = region.region.area >= LEADER_MM2 * mm**2
    for arrow in _arrows(room, region, mm):
        words = _words(rows, room, region, arrow, mm)
        placed = sum(word.box is not None for word in words)
        if placed < len(words) - large:
            continue
        if best is None or placed > best[0]:
            best = (placed, arrow, words)
        if placed == len(words):
            break
    if best is None:
        return
    _, arrow, words = best
    what = {"layer": region.layer, "source_id": region.source_id, "role": region.role}
    rows.line(_strokes(arrow, mm), {**what, "kind": "slope mark"})
    room.leaders.append(arrow)
    for word in sorted(words, key=lambda one: one.box is None):
        named = {**what, "kind": word.kind}
        key = (region.layer, region.source_id, word.text)
        if word.box is None:
            if large and key not in told:
                place, small = word.place[None], rows.small_mm
                if with_leader(rows, room, place, word.text, small, named, LEVEL_LEADERS_MM, mark=_NOTHING):
                    told.add(key)
            continue
        told.add(key)
        look = rows.look_on(room, word.box)
        room.take_turned(word.box)
        start, along = _stand(word.box, mm)
        rows.words(word.text, start, along, rows.small_mm, {**named, **look})


@dataclass(frozen=True, kw_only=True)
class _Word:
    """A text, what kind it is, the place it is about, and the corners of its box where there is room."""

    text: str
    kind: str
    place: np.ndarray
    box: np.ndarray | None


def _words(rows: LabelRows, room: Room, region: SlopeRegion, arrow: np.ndarray, mm: float) -> list[_Word]:
    """The slope by the middle of an arrow, and levels by its ends."""
    across = np.array([-region.fall[1], region.fall[0]])
    ends, height = _at_edges(region, arrow, mm), rows.small_mm
    level = region.levels_at(ends)
    told = [(slope_words(region.slope), "slope", arrow.mean(axis=0) + CLEAR_MM * mm * across, 0)]
    for k, own in enumerate((region.high, region.low)):
        if abs(level[k] - own) < END:
            told.append((level_words(float(own), rows.unit), "slope level", ends[k], 1 + k))
    shapely.prepare(region.region)
    words: list[_Word] = []
    for text, kind, place, number in told:
        size = np.array([length_mm(text, height) + 2 * PAD_MM, height + 2 * PAD_MM]) * mm
        boxes = _boxes(arrow, size, number, mm)
        shapes = shapely.polygons(boxes)
        others = [shapely.Polygon(word.box) for word in words if word.box is not None]
        fits = shapely.contains_properly(region.region, shapes)
        fits &= ~shapely.intersects(shapes, shapely.union_all(others))
        free = np.flatnonzero(fits)
        free = free[room.free_turned(shapes[free])]
        words.append(_Word(text=text, kind=kind, place=place, box=boxes[free[0]] if len(free) else None))
    return words


def _arrows(room: Room, region: SlopeRegion, mm: float) -> np.ndarray:
    """
    Arrows down a slope that cross nothing, shape (n, 2, 2).

    Those from end to end come first, then those in the middle; none is much shorter than the longest.
    """
    across = np.array([-region.fall[1], region.fall[0]])
    aside, ahead = (shapely.get_coordinates(region.region) @ way for way in (across, region.fall))
    lanes = np.linspace(aside.min(), aside.max(), LANES + 2)[1:-1]
    ends = np.array([ahead.min() - mm, ahead.max() + mm])
    lines = shapely.linestrings(lanes[:, None, None] * across + ends[:, None] * region.fall)
    bare = room.bare_of_lines(region.region, CLEAR_MM * mm)
    part, lane = shapely.get_parts(shapely.intersection(lines, bare), return_index=True)
    length = shapely.length(part)
    least = max(LEAST_MM * mm, NEARLY * float(length.max(initial=0.0)))
    long = np.flatnonzero(length >= least)
    arrows = shapely.get_coordinates(part[long]).reshape(-1, 2, 2)
    order = np.argsort(arrows @ region.fall, axis=1)
    arrows = np.take_along_axis(arrows, order[:, :, None], axis=1)
    reach = 2 * CLEAR_MM * mm * float(np.abs(region.plane[1:] @ region.fall))
    off = np.abs(region.levels_at(arrows) - [region.high, region.low]) > reach + END
    return arrows[np.lexsort((np.abs(lane[long] - (LANES - 1) / 2), off.sum(axis=1)))]


def _at_edges(region: SlopeRegion, arrow: np.ndarray, mm: float) -> np.ndarray:
    """Both ends of an arrow, moved onto the edge of its slope where they stop just short of it (2, 2)."""
    beyond = arrow + 2 * CLEAR_MM * mm * np.array([-region.fall, region.fall])
    met = shapely.intersection(
        shapely.linestrings(np.stack([arrow, beyond], axis=1)), shapely.boundary(region.region)
    )
    at = ~shapely.is_empty(met)
    places = arrow.copy()
    places[at] = shapely.get_coordinates(shapely.centroid(met[at]))
    return places


def _boxes(arrow: np.ndarray, size: np.ndarray, number: int, mm: float) -> np.ndarray:
    """
    Boxes of a text along an arrow, by its middle (0), its upper end (1) or its lower end (2).

    Corners run from where the text begins, anticlockwise as it is read, shape (n, 4, 2).
    """
    length = float(np.hypot(*(arrow[1] - arrow[0])))
    along = (arrow[1] - arrow[0]) / length
    away = size[0] / 2 + np.array(FROM_END_MM) * mm
    ahead = (np.array(ALONG) * length, away, length - HEAD_MM[0] * mm - away)[number]
    reads = along if reads_forward(arrow) else -along
    up = np.array([-reads[1], reads[0]])
    middle = arrow[0] + ahead[:, None] * along
    aside = (size[1] / 2 + (BESIDE_MM - PAD_MM) * mm) * up
    middle = np.stack([middle + aside, middle - aside], axis=1).reshape(-1, 1, 2)
    corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * size / 2
    return middle + corner @ np.array([reads, up])


def _stand(box: np.ndarray, mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Where a text in a box begins, and the way it is read."""
    along = (box[1] - box[0]) / np.hypot(*(box[1] - box[0]))
    return box[0] + PAD_MM * mm * (along + np.array([-along[1], along[0]])), along


def _strokes(arrow: np.ndarray, mm: float) -> np.ndarray:
    """The shaft of an arrow and the two strokes of its head, shape (3, 2, 2)."""
    along = (arrow[1] - arrow[0]) / np.hypot(*(arrow[1] - arrow[0]))
    across = np.array([-along[1], along[0]])
    long, wide = HEAD_MM
    barbs = [arrow[1] + mm * (-long * along + side * wide * across) for side in (1, -1)]
    return np.array([arrow, *([arrow[1], barb] for barb in barbs)])
