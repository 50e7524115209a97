"""
Scale bar, north arrow and axis key.

All of it is drawn on axes whose units are millimetres from the sheet's lower left corner.

References
----------
ISO 129-1 (arrows; from memory).
"""

from __future__ import annotations

from functools import partial
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon

from ..angles import cos_deg, sin_deg
from ..craft.style import Style
from ..diagram.layers import ViewRecord
from ..units import MEASURES, points_from_mm
from .lettering import RULE_MM, SMALL_MM, USUAL_MM, letter, rule, rule_box, stepped
from .page import Box, Placement
from .scales import BAR_MM, bar_length

RING_MM: Final = 7.0
HALO_MM: Final = 1.0
AXIS_MM: Final = 8.0
_TRUE: Final = 1e-6
_ALIKE: Final = 0.05  # sine of the angle between axes under which their letters would touch [-]


def scale_bar(
    axes: Axes,
    left: float,
    bottom: float,
    placement: Placement,
    style: Style,
    note: str = "",
    *,
    letters_mm: float = SMALL_MM,
) -> None:
    """
    Draw a bar of alternating parts with their metres or feet.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    left, bottom : float
        Where its lower left corner lies [mm].
    placement : Placement
        The scale.
    style : Style
        Ink and paper.
    note : str
        A line beneath it.
    letters_mm : float
        Height of its letters, which its thickness goes with [mm].
    """
    size = letters_mm / SMALL_MM
    length, parts = bar_length(placement.scale, placement.unit)
    measure = MEASURES[placement.unit]["m"]
    part_mm = length * 1000 / placement.scale / parts
    write = partial(letter, axes, height_mm=letters_mm, colour=style.ink)
    for part in range(parts):
        fill = style.paper if part % 2 else style.ink
        box = Box(left=left + part * part_mm, bottom=bottom, width=part_mm, height=1.5 * size)
        rule_box(axes, box, RULE_MM, style.ink, f"scale_bar_{part}", fill=fill)
    for tick in range(parts + 1):
        x = left + tick * part_mm
        text = f"{length / measure.metric * tick / parts:g}"
        write(x, bottom + 3.0 * size, text, room_mm=part_mm, align="center")
    write(left + parts * part_mm + 3.4 * size, bottom + 3.0 * size, measure.word, room_mm=8.0)
    write(left, bottom - 3.6 * size, note, room_mm=(BAR_MM + 10.0) * size)


def north_arrow(
    axes: Axes,
    x: float,
    y: float,
    north_angle: float,
    style: Style,
    *,
    tag: str = "",
    letters_mm: float = SMALL_MM,
    halo: bool = False,
) -> None:
    """
    Draw an arrow to true north.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    x, y : float
        Middle of the arrow [mm].
    north_angle : float
        Direction of true north on the sheet [degrees anticlockwise from right].
    style : Style
        Ink and paper.
    tag : str
        Added to the names of its parts.
    letters_mm : float
        Height of the smallest letters on the sheet, which all of it goes with [mm].
    halo : bool
        Lay paper under it, so that it stands out from what is drawn there.
    """
    size = letters_mm / SMALL_MM
    along = np.array([cos_deg(north_angle), sin_deg(north_angle)])
    across = np.array([-along[1], along[0]])
    middle = np.array([x, y])
    tail, neck, tip = (middle + size * reach * along for reach in (-RING_MM, 2.0, RING_MM))
    mark, high = middle + (RING_MM + 2.6) * size * along, stepped(USUAL_MM, letters_mm)
    if halo:
        _halo(axes, middle, mark, high, size, style, tag)
    ring = Circle((x, y), RING_MM * size, fill=False, edgecolor=style.ink, linewidth=points_from_mm(RULE_MM))
    ring.set(clip_on=False, gid=f"north_ring{tag}")
    axes.add_artist(ring)
    rule(axes, [tail[0], neck[0]], [tail[1], neck[1]], 0.35, style.ink, gid=f"north_shaft{tag}")
    _head(
        axes,
        np.array([tip, neck + 1.6 * size * across, neck - 1.6 * size * across]),
        style,
        f"north_head{tag}",
    )
    letter(axes, mark[0], mark[1] - high / 2, "N", high, colour=style.ink, room_mm=8.0 * size, align="center")


def _halo(
    axes: Axes, middle: np.ndarray, mark: np.ndarray, letter_mm: float, size: float, style: Style, tag: str
) -> None:
    """Lay paper under a north arrow and under its letter."""
    for name, place, reach in (
        ("letter", mark, 0.9 * letter_mm),
        ("ring", middle, (RING_MM + HALO_MM) * size),
    ):
        under = Circle((place[0], place[1]), reach, facecolor=style.paper, linewidth=0.0)
        under.set(clip_on=False, gid=f"north_halo_{name}{tag}")
        axes.add_artist(under)


def _head(axes: Axes, corners: np.ndarray, style: Style, gid: str) -> None:
    head = Polygon(corners, closed=True, facecolor=style.ink, linewidth=0.0)
    head.set(clip_on=False, snap=False, gid=gid)
    axes.add_artist(head)


def axis_vectors(view: ViewRecord) -> dict[str, np.ndarray]:
    """
    Page vectors of one metre along the base line (x), across it (y) and upward (z).

    Parameters
    ----------
    view : ViewRecord
        The view.

    Returns
    -------
    dict of str to ndarray, shape (2,)
        Their length is the scale of that direction against the drawing's [-].
    """
    c, s = cos_deg(view.base_line), sin_deg(view.base_line)
    site = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return dict(zip("xyz", site @ view.matrix[:2].T, strict=True))


def truth_in_words(view: ViewRecord) -> str:
    """
    Say which directions are true to scale, and how much the others are drawn at.

    Parameters
    ----------
    view : ViewRecord
        The view.

    Returns
    -------
    str
        E.g. "x, y, z true to scale" or "x, z true to scale; y at 0.5".
    """
    lengths = {name: float(np.hypot(*vector)) for name, vector in axis_vectors(view).items()}
    lengths = {name: length for name, length in lengths.items() if length > _TRUE}
    true = [name for name, length in lengths.items() if abs(length - 1) <= _TRUE]
    others = [
        f"{name} at {length:.3g}" for name, length in lengths.items() if name not in true and length > _TRUE
    ]
    return "; ".join([*([f"{', '.join(true)} true to scale"] if true else []), *others])


def axis_key(
    axes: Axes,
    x: float,
    y: float,
    view: ViewRecord,
    style: Style,
    *,
    tag: str = "",
    letters_mm: float = SMALL_MM,
) -> None:
    """
    Draw the three axes as they run on the page, each as long as its scale is.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    x, y : float
        Middle of the key [mm].
    view : ViewRecord
        The view.
    style : Style
        Ink.
    tag : str
        Added to the names of its parts.
    letters_mm : float
        Height of the smallest letters on the sheet, which all of it goes with [mm].
    """
    size = letters_mm / SMALL_MM
    vectors = axis_vectors(view)
    tips = AXIS_MM * size * np.array(list(vectors.values()))
    every = np.concatenate([np.zeros((1, 2)), tips * (1 + 2.4 / AXIS_MM)])
    start = np.array([x, y]) - (every.min(axis=0) + every.max(axis=0)) / 2
    words = _at_ends(vectors)
    for name, tip in zip(vectors, tips, strict=True):
        length = float(np.hypot(*tip))
        if length < 0.5:
            continue
        along = tip / length
        across = np.array([-along[1], along[0]])
        neck, end = start + tip - 1.8 * size * along, start + tip
        rule(axes, [start[0], neck[0]], [start[1], neck[1]], 0.25, style.ink, gid=f"axis_{name}{tag}")
        _head(
            axes,
            np.array([end, neck + 0.7 * size * across, neck - 0.7 * size * across]),
            style,
            f"axis_head_{name}{tag}",
        )
        if name in words:
            write = partial(letter, axes, height_mm=letters_mm, colour=style.ink, align="center")
            mark = end + 2.0 * size * along
            write(mark[0], mark[1] - letters_mm / 2, words[name], room_mm=4.0 * size * len(words[name]))


def _at_ends(vectors: dict[str, np.ndarray]) -> dict[str, str]:
    """
    What is written at the end of each axis; of axes that run alike the longest, or first, names all.

    Examples
    --------
    >>> _at_ends({"x": np.array([1.0, 0.0]), "y": np.array([0.0, 0.5]), "z": np.array([0.0, 1.0])})
    {'x': 'x', 'z': 'y, z'}
    """
    lengths = {name: float(np.hypot(*vector)) for name, vector in vectors.items()}
    ways = {name: vectors[name] / length for name, length in lengths.items() if length > _TRUE}
    words = {}
    for name, way in ways.items():
        alike = [other for other in ways if np.abs(ways[other] - way).max() < _ALIKE]
        if name == max(alike, key=lambda one: round(lengths[one], 6)):
            words[name] = ", ".join(alike)
    return words
