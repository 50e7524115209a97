"""
Plan symbols of trees, shrubs and hedges, for the view from straight above.

Each is drawn about the stem, in the local plane, from the plant's own chance numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
import shapely

from ..plugins import PlugInError, PlugIns, is_foreign, plug_ins
from .repeatable import numbers, numbers_for

Lines = list[np.ndarray]

LOBE: Final = 0.62  # width of the lobes of an outline at full size [m]
BOW: Final = 7  # points to a lobe
HEDGE_LOBE: Final = 0.38  # width of the lobes of a hedge [m]
HEDGE_INSET: Final = 0.16  # how far they begin within its sides [m]


def plan_symbol(kind: str, radius: float, *key: object, detail: str = "texture") -> Lines:
    """
    Draw one plant as it is drawn on plans.

    Parameters
    ----------
    kind : {"deciduous", "conifer", "columnar", "palm", "shrub"} or str
        What it is; or the id of a plug-in's symbol.
    radius : float
        Radius of its crown [m].
    *key
        What its chance numbers are drawn from: a seed, a layer, an id.
    detail : {"outline", "texture"}
        The outline alone, or branches or needles within it too.

    Returns
    -------
    list of ndarray, shape (k, 2)
        Lines about the stem, none farther out than the radius; the first is the outline,
        closed [m].

    Raises
    ------
    PlugInError
        If there is no such symbol of a plug-in, or it fails.

    Examples
    --------
    >>> len(plan_symbol("columnar", 1.0, "poplar", detail="outline"))
    1
    """
    outline, inner = added_symbols().get(kind, "symbol") if is_foreign(kind) else SYMBOLS[kind]
    chance = numbers(128, *key, "symbol")
    try:
        lines = [outline(radius, chance)]
        return lines if detail == "outline" else lines + inner(radius, chance)
    except Exception as problem:
        if not is_foreign(kind):
            raise
        raise PlugInError(
            f"The plug-in {kind!r} failed ({type(problem).__name__}: {problem}). This is a fault of "
            f"{outline.__module__}, not of siteaxo or of your data: tell whoever made it.",
            field=kind,
        ) from problem


def hedge_symbol(footprint: shapely.Polygon, *key: object) -> Lines:
    """
    Draw a hedge on plan: its sides as rows of lobes, within its footprint.

    Parameters
    ----------
    footprint : Polygon
        Where it stands [m].
    *key
        What its chance numbers are drawn from.

    Returns
    -------
    list of ndarray, shape (k, 2)
        One closed line for each ring.
    """
    narrow = 2 * footprint.area / footprint.length  # about its width
    deep = min(1.0, 0.25 * narrow / HEDGE_INSET)
    inner = shapely.buffer(footprint, -deep * HEDGE_INSET, join_style="mitre")
    rings = shapely.get_rings(shapely.orient_polygons(shapely.get_parts(inner)))
    count = np.maximum(np.rint(shapely.length(rings) / HEDGE_LOBE), 3).astype(int)
    lines = []
    for number, (ring, lobes) in enumerate(zip(rings, count, strict=True)):
        chance = numbers_for([lobes], [f"{number}"], *key, "hedge")
        cut = np.concatenate([[0.0], np.cumsum(0.7 + 0.6 * chance)])
        points = shapely.get_coordinates(shapely.line_interpolate_point(ring, cut / cut[-1], normalized=True))
        lines.append(_bows(points, swell=0.28 * deep, outward=1.0))
    return lines


def _lobed(radius: float, chance: np.ndarray) -> np.ndarray:
    """A closed line of lobes that swell outward."""
    count = int(np.clip(round(2 * np.pi * radius / LOBE), 7, 40))
    share = 0.7 + 0.6 * np.resize(chance, count)
    angle = 2 * np.pi * (np.cumsum(share) / share.sum() + chance[-1])
    angle = np.append(angle, angle[0] + 2 * np.pi)
    swell = 0.30
    inner = radius / (np.cos(np.pi / count) + 2 * swell * np.sin(np.pi / count))
    points = 0.97 * min(inner, radius) * np.column_stack([np.cos(angle), np.sin(angle)])
    line = _bows(points, swell=swell, outward=1.0)
    return line * min(1.0, radius / np.hypot(*line.T).max())


def _spiked(radius: float, chance: np.ndarray) -> np.ndarray:
    """A closed line of spikes, as of needles."""
    count = int(np.clip(round(2 * np.pi * radius / 0.45), 11, 48))
    angle = 2 * np.pi * (np.arange(2 * count) / (2 * count) + chance[-1])
    reach = np.where(
        np.arange(2 * count) % 2,
        0.80 + 0.06 * np.resize(chance, 2 * count),
        0.97 + 0.03 * np.resize(chance[::-1], 2 * count),
    )
    ring = radius * np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])
    return np.concatenate([ring, ring[:1]])


def _round(radius: float, chance: np.ndarray) -> np.ndarray:
    """A circle."""
    angle = np.linspace(0.0, 2 * np.pi, 49)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _fronded(radius: float, chance: np.ndarray) -> np.ndarray:
    """A closed line round the fronds of a palm: a star with rounded points."""
    angle = np.linspace(0.0, 2 * np.pi, 9 * 12 + 1)
    wave = np.abs(np.cos(4.5 * (angle + 2 * np.pi * chance[0])))
    reach = 0.52 + 0.48 * wave**0.8
    return radius * np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])


def _branches(radius: float, chance: np.ndarray) -> Lines:
    """Branches from the stem, each with two forks."""
    lines: Lines = [0.035 * _round(radius, chance)]
    for k, own in enumerate(chance[:35].reshape(7, 5)):
        angle = 2 * np.pi * (k / 7 + 0.09 * (own[0] - 0.5) + chance[40])
        length = radius * (0.62 + 0.24 * own[1])
        bend = 0.28 * (own[2] - 0.5)
        main = _twig(np.zeros(2), angle, length, bend)
        lines.append(main)
        for start, side, share in ((2, 1, 0.42 + 0.14 * own[3]), (3, -1, 0.36 + 0.14 * own[4])):
            lines.append(_twig(main[start], angle + side * 0.62, share * length, -bend))
    return lines


def _twig(start: np.ndarray, angle: float, length: float, bend: float) -> np.ndarray:
    share = np.linspace(0.0, 1.0, 6)
    x, y = length * share, length * bend * share * (1 - share) * 2
    cosine, sine = np.cos(angle), np.sin(angle)
    return start + np.column_stack([x * cosine - y * sine, x * sine + y * cosine])


def _needles(radius: float, chance: np.ndarray) -> Lines:
    """Straight rays from the stem, long and short in turn."""
    count = 16
    angle = 2 * np.pi * ((np.arange(count) + 0.4 * (chance[:count] - 0.5)) / count + chance[60])
    begin = radius * np.where(np.arange(count) % 2, 0.10, 0.34)
    end = radius * (0.66 + 0.14 * chance[count : 2 * count])
    ray = np.column_stack([np.cos(angle), np.sin(angle)])
    return list(np.stack([begin[:, None] * ray, end[:, None] * ray], axis=1))


def _inner_ring(radius: float, chance: np.ndarray) -> Lines:
    """A smaller circle, a little off the middle, and the stem."""
    off = 0.06 * radius * (chance[:2] - 0.5)
    return [0.62 * _round(radius, chance) + off, 0.05 * _round(radius, chance)]


def _ribs(radius: float, chance: np.ndarray) -> Lines:
    """The ribs of nine fronds."""
    angles = 2 * np.pi * (np.arange(9) / 9 - chance[0])
    bends = 0.3 * (chance[1:10] - 0.5)
    return [_twig(np.zeros(2), float(a), 0.9 * radius, float(b)) for a, b in zip(angles, bends, strict=True)]


def _tufts(radius: float, chance: np.ndarray) -> Lines:
    """A few bows within the outline."""
    count = int(np.clip(round(5 * radius), 4, 16))
    own = chance[: 3 * count].reshape(count, 3)
    angle = 2 * np.pi * ((np.arange(count) + own[:, 0]) / count)
    at = (
        0.55
        * radius
        * np.sqrt(0.25 + 0.75 * own[:, 1])[:, None]
        * np.column_stack([np.cos(angle), np.sin(angle)])
    )
    size = min(0.3, 0.4 * radius)
    half = 0.5 * size * np.column_stack([-np.sin(angle), np.cos(angle)])
    return [
        _bows(np.stack([p - h, p, p + h]), swell=0.4, outward=-1.0) for p, h in zip(at, half, strict=True)
    ]


def _bows(points: np.ndarray, *, swell: float, outward: float) -> np.ndarray:
    """A line of bows from point to point; on an anticlockwise ring they swell outward."""
    step = np.diff(points, axis=0)
    side = np.column_stack([step[:, 1], -step[:, 0]]) * outward
    angle = np.linspace(0.0, np.pi, BOW)[:-1]
    along, across = (1 - np.cos(angle)) / 2, swell * np.sin(angle)
    line = points[:-1, None] + along[:, None] * step[:, None] + across[:, None] * side[:, None]
    return np.concatenate([line.reshape(-1, 2), points[-1:]])


Outline = Callable[[float, np.ndarray], np.ndarray]
Inner = Callable[[float, np.ndarray], Lines]

SYMBOLS: Final[Mapping[str, tuple[Outline, Inner]]] = MappingProxyType(
    {
        "deciduous": (_lobed, _branches),
        "conifer": (_spiked, _needles),
        "columnar": (_round, _inner_ring),
        "palm": (_fronded, _ribs),
        "shrub": (_lobed, _tufts),
    }
)
"""How the outline of each kind of plant is drawn, and what is within."""


def added_symbols() -> PlugIns:
    """Plan symbols of plug-ins."""
    return plug_ins("siteaxo.symbols", _fits)


def _fits(name: str, value: object) -> tuple[Outline, Inner]:
    """Check a plug-in's symbol: two functions of a radius and chance numbers."""
    if not (isinstance(value, tuple) and len(value) == 2 and all(callable(part) for part in value)):
        raise PlugInError("its entry point must name a pair of functions, outline and what is within")
    return value
