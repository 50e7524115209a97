"""
North arrow and axis key of one of several drawings: in corners that are free of it.

The rule
    Corners of the room of a drawing are tried one after another, the upper right one first. The
    north arrow takes the first in which nothing is drawn or written; where there is none, that in
    which it covers least, and stands out from what is under it. The axis key stands beside the
    arrow, under or over it, or in another corner, where nothing is drawn; else it is left out,
    as the caption or the title says the same in words.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from matplotlib.axes import Axes

from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from .behind import grounds
from .cautioned import boxes_of_marks, cautioned_mm
from .lettering import SMALL_MM
from .noticed import noticed_mm
from .page import Box, Placement
from .symbols import axis_key, north_arrow

FROM_SIDE_MM: Final = 14.0
"""From the sides of the room of a drawing to the middle of a sign in its corner [mm]."""
APART_MM: Final = 24.0
"""From the middle of a sign to that of the next [mm]."""
REACH_MM: Final = 12.0
"""From the middle of a sign to where drawings may begin [mm]."""
LINE_MM: Final = 0.5
"""Width that lines count with where signs cover them [mm]."""


@dataclass(frozen=True, kw_only=True)
class Signs:
    """
    Where north arrow and axis key of a drawing lie.

    Parameters
    ----------
    arrow : ndarray, shape (2,)
        Middle of the north arrow [mm].
    covers : bool
        Whether it lies on something that is drawn.
    axes : ndarray, shape (2,), optional
        Middle of the axis key, where there is room for one [mm].
    """

    arrow: np.ndarray
    covers: bool
    axes: np.ndarray | None


def draw_signs(
    axes: Axes, drawing: DiagramLayers, placement: Placement, style: Style, tag: str, *, keyed: bool
) -> None:
    """
    Draw the north arrow of a drawing and, if wanted, its axis key.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    drawing : DiagramLayers
        The drawing as it is shown.
    placement : Placement
        Where it lies.
    style : Style
        Ink and paper.
    tag : str
        Added to the names of their parts.
    keyed : bool
        Whether an axis key is wanted.
    """
    signs = signs_of(drawing, placement, keyed=keyed)
    look: dict[str, Any] = {"tag": tag, "letters_mm": placement.sheet.lettering_mm}
    x, y = signs.arrow
    north_arrow(axes, x, y, drawing.view.north_angle, style, halo=signs.covers, **look)
    if signs.axes is not None:
        x, y = signs.axes
        axis_key(axes, x, y, drawing.view, style, **look)


def signs_of(drawing: DiagramLayers, placement: Placement, *, keyed: bool) -> Signs:
    """
    Find where north arrow and axis key of a drawing lie.

    Parameters
    ----------
    drawing, placement, keyed
        As for :func:`draw_signs`.
    """
    space, size = placement.space, placement.sheet.lettering_mm / SMALL_MM
    drawn = _Drawn(drawing, placement, REACH_MM * size)
    corners = _corners(space, FROM_SIDE_MM * size)
    covered = [drawn.under(place) for place, _ in corners]
    arrow, inward = corners[int(np.argmin(covered))]
    key = None
    if keyed:
        others = [place for place, _ in corners if np.abs(place - arrow).max() >= APART_MM * size]
        beside = (arrow + way * APART_MM * size for way in (inward * [1, 0], inward * [0, 1]))
        places = (place for place in (*beside, *others) if _within(place, space, REACH_MM * size))
        key = next((place for place in places if not drawn.under(place)), None)
    return Signs(arrow=arrow, covers=min(covered) > 0, axes=key)


def _corners(space: Box, inset: float) -> list[tuple[np.ndarray, np.ndarray]]:
    """Places in the four corners, the upper right one first, and the ways from there inward."""
    return [
        (np.array([x, y]), np.array([to_middle, downward]))
        for x, to_middle in ((space.right - inset, -1.0), (space.left + inset, 1.0))
        for y, downward in ((space.top - inset, -1.0), (space.bottom + inset, 1.0))
    ]


def _within(place: np.ndarray, space: Box, reach: float) -> bool:
    """Whether a sign lies in the room of its drawing."""
    low, high = np.array([space.left, space.bottom]), np.array([space.right, space.top])
    return bool((place - reach >= low).all() and (place + reach <= high).all())


class _Drawn:
    """What is drawn and written in the room of a drawing, by millimetres of the sheet."""

    def __init__(self, drawing: DiagramLayers, placement: Placement, reach: float) -> None:
        self.space, self.window = placement.space, placement.window
        self.mm, self.reach = placement.scale / 1000, reach
        self.shapes = np.concatenate([*_shapes(drawing, placement), _lists(drawing, placement)])
        self.tree = shapely.STRtree(self.shapes)

    def under(self, place: np.ndarray) -> float:
        """How much lies under a sign, lines by a width [mm²]."""
        middle = np.array(self.window[:2]) + (place - [self.space.left, self.space.bottom]) * self.mm
        reach = self.reach * self.mm
        box = shapely.box(*(middle - reach), *(middle + reach))
        within = shapely.intersection(self.shapes[self.tree.query(box, predicate="intersects")], box)
        line = shapely.get_dimensions(within) == 1
        long, large = shapely.length(within[line]).sum(), shapely.area(within[~line]).sum()
        return float(long / self.mm * LINE_MM + large / self.mm**2)


def _shapes(drawing: DiagramLayers, placement: Placement) -> Iterator[np.ndarray]:
    """Faces, lines, what is drawn beside them, and the grounds of words and marks."""
    yield np.asarray(drawing.faces.geometry.array, dtype=object)
    edges = drawing.edges
    yield np.asarray(edges.geometry.array, dtype=object)
    for name, table in drawing.extra.items():
        if name not in ("patterns", "finding_marks", "caution_marks"):
            yield np.asarray(table.geometry.array, dtype=object)
    if "labels" in drawing.extra:
        labels = drawing.extra["labels"]
        yield shapely.polygons(grounds(labels[labels["line_mm"] == 0], scale=placement.scale))
    yield shapely.box(*boxes_of_marks(drawing, placement.scale).T)


def _lists(drawing: DiagramLayers, placement: Placement) -> np.ndarray:
    """What the lists of findings and cautions at the right take up."""
    sheet = placement.sheet.name
    width = (noticed_mm(drawing, sheet) + cautioned_mm(drawing, sheet)) * placement.scale / 1000
    _, bottom, right, top = placement.window
    return np.array([shapely.box(right - width, bottom, right, top)] if width else [], dtype=object)
