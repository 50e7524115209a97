"""
A view study on one sheet: small pictures side by side, all at one scale, the best first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from matplotlib.patches import PathPatch

from ..craft.colours import hex_from_rgb, oklab_from_rgb, rgb_from_hex, rgb_from_oklab
from ..craft.style import Style
from ..errors import SheetError
from ..solids.faces import normals
from ..solids.stack import Stack
from ..units import points_from_mm
from .canvas import Keep, SheetFigure, drawing_defaults
from .compound import Compound, line_path
from .facets import surfaces_of
from .lettering import SMALL_MM, USUAL_MM, length_mm
from .page import Box
from .plain import PlainSheet, plain_sheet
from .small_outlines import small_outlines

TARGET_TONES: Final = ("#2d6e8e", "#b8652a", "#5d7a35", "#7d4f86", "#a8423f", "#3f7d6d")
"""Tones of targets, one after another."""
PALE: Final = 0.62  # how far other things are lightened towards paper [0 to 1]
FINE_MM: Final = 0.09
CAPTION_MM: Final = 15.0
BAR_MM: Final = 14.0
GUTTER_MM: Final = 8.0  # free at the right of a cell, so that its note is not read with the next name
NEARLY: Final = 0.85  # layouts whose pictures are so nearly as large as the largest are as good [-]
ROOM: Final = 0.94  # share of its cell that the largest picture fills [-]


@dataclass(frozen=True, kw_only=True)
class Picture:
    """
    One small picture.

    Parameters
    ----------
    name : str
        What stands under it.
    matrix : ndarray, shape (3, 3)
        The view, squared up.
    face : ndarray of int, shape (k,)
        Faces of which something is seen.
    polygon : ndarray of Polygon or MultiPolygon, shape (k,)
        What is seen of them [m on the page].
    shares : mapping of str to float
        What stands beside bars under it [0 to 1].
    note : str
        A short remark, such as the score.
    aside : bool
        Whether the view was set aside.
    """

    name: str
    matrix: np.ndarray
    face: np.ndarray
    polygon: np.ndarray
    shares: Mapping[str, float]
    note: str
    aside: bool


def study_sheet(
    pictures: Sequence[Picture],
    *,
    stack: Stack,
    targets: Mapping[str, np.ndarray],
    site: str,
    reason: str,
    sheet: str = "A3",
    orientation: str = "landscape",
    title: str = "View study",
    columns: int | None = None,
    style: Style | None = None,
    keep: Keep | None = None,
) -> SheetFigure:
    """
    Set small pictures of views on one sheet.

    Parameters
    ----------
    pictures : sequence of Picture
        The views, the best first.
    stack : Stack
        The solids.
    targets : mapping of str to ndarray of int
        Features of each target; they are drawn in a strong tone, all else pale.
    site : str
        Name of the site.
    reason : str
        The recommendation in words.
    sheet, orientation, title, style, keep
        As for other sheets.
    columns : int, optional
        How many lie side by side; what lets them be largest when left out.

    Returns
    -------
    SheetFigure

    Raises
    ------
    SheetError
        If there is nothing to show, or no room.
    """
    if not any(len(one.polygon) for one in pictures):
        raise SheetError("There is no picture to show; study views with pictures=True.", field="pictures")
    with drawing_defaults():
        explained = (
            "Bars: share of the true surface that is seen, undersides and what stands against something "
            "left out. Score: weighted mean of these shares and of how large things are drawn, less the "
            "share of plan edges that fall on others. All pictures are at one scale."
        )
        page = plain_sheet(
            sheet=sheet,
            orientation=orientation,
            title=title,
            site=site,
            lines=(reason, explained),
            style=style,
            keep=keep,
        )
        boxes = [_bounds(one) for one in pictures]
        cells = _cells(page.space, boxes, columns)
        scale = min(_fitting(box, cell) for box, cell in zip(boxes, cells, strict=True))
        if scale <= 0:
            raise SheetError(
                f"{len(pictures)} pictures do not fit on {sheet}; show fewer of them.",
                field="sheet",
                value=sheet,
            )
        colours = {name: TARGET_TONES[k % len(TARGET_TONES)] for k, name in enumerate(targets)}
        whole = surfaces_of(stack)
        tones = _tones(stack, targets, colours, page.style)
        for number, (one, box, cell) in enumerate(zip(pictures, boxes, cells, strict=True), start=1):
            _picture(page, one, box, cell, scale, stack, tones, whole, f"view_{number}")
            _caption(page, one, cell, number, colours)
        page.figure.description = f"{title} of {site}: {len(pictures)} views side by side. {reason}"
    return page.figure


def _bounds(picture: Picture) -> tuple[float, float, float, float]:
    left, bottom, right, top = (float(one) for one in shapely.total_bounds(picture.polygon))
    return left, bottom, right, top


def _cells(space: Box, boxes: Sequence[tuple[float, ...]], columns: int | None) -> list[Box]:
    """Equal cells row by row, as many side by side as lets pictures be largest."""
    count = len(boxes)
    tried = range(1, count + 1) if columns is None else [max(1, min(columns, count))]

    def laid(across: int) -> list[Box]:
        rows = -(-count // across)
        width, height = space.width / across, space.height / rows
        return [
            Box(
                left=space.left + k % across * width,
                bottom=space.top - (k // across + 1) * height,
                width=width,
                height=height,
            )
            for k in range(count)
        ]

    def size(across: int) -> float:
        return min(_fitting(box, cell) for box, cell in zip(boxes, laid(across), strict=True))

    sizes = {across: size(across) for across in tried}
    good = [across for across in tried if sizes[across] >= NEARLY * max(sizes.values())]
    return laid(
        min(good, key=lambda across: (-(-count // across) * across - count, _oblong(laid(across)[0])))
    )


def _oblong(cell: Box) -> float:
    """How far a cell less its caption is from square."""
    high = max(cell.height - CAPTION_MM, 1e-9)
    return max(cell.width / high, high / max(cell.width, 1e-9))


def _fitting(box: tuple[float, ...], cell: Box) -> float:
    """Millimetres to the metre at which a picture fits its cell."""
    wide, high = max(box[2] - box[0], 1e-9), max(box[3] - box[1], 1e-9)
    return ROOM * min((cell.width - 4.0) / wide, (cell.height - CAPTION_MM - 4.0) / high)


def _tones(
    stack: Stack, targets: Mapping[str, np.ndarray], colours: Mapping[str, str], style: Style
) -> tuple[np.ndarray, np.ndarray]:
    """Tone of each feature lying level, and whether it belongs to a target."""
    features = stack.features
    role, material = features.of_role("name"), features.material.astype(str)
    tone = np.array([_paler(style.top(str(a), str(b)), style) for a, b in zip(role, material, strict=True)])
    tone, target = tone.astype(object), np.zeros(len(features), dtype=bool)
    for name, rows in targets.items():
        tone[rows], target[rows] = colours[name], True
    return tone, target


def _paler(colour: str, style: Style) -> str:
    one, paper = (oklab_from_rgb(rgb_from_hex(each)) for each in (colour, style.paper))
    return hex_from_rgb(np.clip(rgb_from_oklab(one + PALE * (paper - one)), 0.0, 1.0))


def _picture(
    page: PlainSheet,
    picture: Picture,
    box: tuple[float, ...],
    cell: Box,
    scale: float,
    stack: Stack,
    tones: tuple[np.ndarray, np.ndarray],
    whole: np.ndarray,
    gid: str,
) -> None:
    """Draw what one view shows, tones first, then thin outlines."""
    place = Box(
        left=cell.left, bottom=cell.bottom + CAPTION_MM, width=cell.width, height=cell.height - CAPTION_MM
    )
    axes = page.axes_on(place, gid)
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    axes.set_xlim(middle[0] - place.width / scale / 2, middle[0] + place.width / scale / 2)
    axes.set_ylim(middle[1] - place.height / scale / 2, middle[1] + place.height / scale / 2)
    faces, style = stack.scene.faces, page.style
    row = stack.solid_feature[faces.solid[picture.face]]
    shade = style.light.shades(normals(faces)[picture.face], picture.matrix)
    soft = np.where(tones[1][row], 1, 0)
    key = np.array([f"{tones[0][r]} {s} {k}" for r, s, k in zip(row, shade, soft, strict=True)])
    areas = Compound(picture.polygon, closed=True)
    for one in np.unique(key):
        colour, step, _ = one.split(" ")
        path = areas.path(np.flatnonzero(key == one))
        if path is not None:
            axes.add_artist(PathPatch(path, facecolor=style.shaded(colour, int(step)), linewidth=0.0))
    lines = line_path(small_outlines(picture.polygon, whole[picture.face], scale, line_mm=FINE_MM))
    if lines is not None:
        ink = style.hidden_ink
        axes.add_artist(PathPatch(lines, fill=False, edgecolor=ink, linewidth=points_from_mm(FINE_MM)))


def _caption(page: PlainSheet, picture: Picture, cell: Box, number: int, colours: Mapping[str, str]) -> None:
    """Write number and name of a view, and its shares as bars."""
    style, y = page.style, cell.bottom + CAPTION_MM - USUAL_MM - 1.0
    left, room = cell.left + 2.0, cell.width - 2.0 - GUTTER_MM
    note = length_mm(picture.note, SMALL_MM) + 2.0
    page.write(left, y, f"{number}  {picture.name}", USUAL_MM, room=room - note)
    page.write(left + room, y, picture.note, SMALL_MM, room=note + 1.0, align="right")
    if number == 1 and not picture.aside:
        page.rule(left, left + length_mm(f"{number}  {picture.name}", USUAL_MM), y - 1.0, 0.35)
    y -= 1.6
    bars = list(picture.shares.items())
    longest = max(length_mm(f"100% {name}", SMALL_MM) for name, _ in bars)
    across = 2 if len(bars) > 3 or (len(bars) > 1 and longest < 0.6 * room / 2 - 4.0) else 1
    width = room / across
    for k, (name, share) in enumerate(bars[: 3 * across]):
        x, base = left + k % across * width, y - (k // across + 1) * 3.4
        bar = min(BAR_MM, 0.36 * width)
        page.fill(Box(left=x, bottom=base, width=bar, height=1.8), "#eeeeec")
        page.fill(
            Box(left=x, bottom=base, width=max(bar * share, 0.01), height=1.8),
            colours.get(name, style.hidden_ink),
        )
        page.write(x + bar + 1.5, base, f"{share:.0%} {name}", SMALL_MM, room=width - bar - 3.0)
