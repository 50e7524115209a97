"""
Bonds of paving and walling: where the joints of units lie in a plane.

A bond is a few families of parallel joints. The joints of one family lie at equal distances,
and each is either unbroken or a row of equal dashes that is shifted from one line to the next.

References
----------
The tiling of the 90° herringbone of units 2 : 1, bricks [0,2]×[0,1] and [0,1]×[1,3] on the lattice
(1,1), (2,−2), and its joints of (w + l)/(w·l) per area were derived for this library.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from ..angles import cos_deg, sin_deg
from ..ragged import spread


@dataclass(frozen=True, kw_only=True)
class Family:
    """
    Parallel joints in a plane.

    Parameters
    ----------
    angle : float
        Their direction [degrees anticlockwise from the first axis].
    spacing : float
        Distance from one to the next [m].
    pitch : float
        Least distance between two that run side by side [m].
    dash, period : float
        Length of a dash and distance to the next; unbroken where infinite [m].
    start, shift : float
        Where the dashes of the first line start, and how much farther along those of each
        following line do [m].
    offset : float
        How far the first line lies across [m].
    """

    angle: float
    spacing: float
    pitch: float
    dash: float = math.inf
    period: float = math.inf
    start: float = 0.0
    shift: float = 0.0
    offset: float = 0.0


Bond = tuple[Family, ...]


def stack_bond(length: float, width: float) -> Bond:
    """Unbroken joints both ways."""
    return (
        Family(angle=0.0, spacing=width, pitch=width),
        Family(angle=90.0, spacing=length, pitch=length),
    )


def running_bond(length: float, width: float) -> Bond:
    """Courses with every second one shifted by half a unit."""
    return (
        Family(angle=0.0, spacing=width, pitch=width),
        Family(
            angle=90.0, spacing=length / 2, pitch=length, dash=width, period=2 * width, start=0.0, shift=width
        ),
    )


def basket_weave(length: float, width: float) -> Bond:
    """Squares of units laid side by side, every second square turned by 90°."""
    side, units = length, max(round(length / width), 1)
    cell = {"spacing": side, "pitch": width, "dash": side, "period": 2 * side, "shift": side}
    inner = [
        family
        for unit in range(1, units)
        for family in (
            Family(angle=0.0, offset=unit * width, **cell),
            Family(angle=90.0, offset=-unit * width, start=side, **cell),
        )
    ]
    return (
        Family(angle=0.0, spacing=side, pitch=side),
        Family(angle=90.0, spacing=side, pitch=side),
        *inner,
    )


def herringbone(length: float, width: float, *, turned: float = 0.0) -> Bond:
    """
    Units at right angles to one another in steps of one width.

    Parameters
    ----------
    length, width : float
        Of a unit; the length a whole multiple of the width [m].
    turned : float
        0 for the 90° herringbone, 45 for the 45° one [degrees].
    """
    dash, period = length + width, 2 * length
    return (
        Family(
            angle=turned,
            spacing=width,
            pitch=width,
            dash=dash,
            period=period,
            start=-width,
            shift=width,
        ),
        Family(
            angle=turned + 90.0,
            spacing=width,
            pitch=width,
            dash=dash,
            period=period,
            start=0.0,
            shift=-width,
        ),
    )


@dataclass(frozen=True, kw_only=True)
class Joints:
    """
    Straight joints in the planes of faces.

    Parameters
    ----------
    ab : ndarray, shape (n, 2, 2)
        End points along both axes of the face's plane [m].
    face : ndarray of int, shape (n,)
        Which face each lies on, not descending.
    """

    ab: np.ndarray
    face: np.ndarray

    @classmethod
    def joined(cls, parts: list[Joints]) -> Joints:
        """Several one after another, sorted by face."""
        if not parts:
            return cls(ab=np.zeros((0, 2, 2)), face=np.zeros(0, dtype=np.int64))
        face = np.concatenate([part.face for part in parts])
        order = np.argsort(face, kind="stable")
        return cls(ab=np.concatenate([part.ab for part in parts])[order], face=face[order])


def joints_of(family: Family, boxes: np.ndarray) -> Joints:
    """
    Lay a family of joints over boxes.

    Parameters
    ----------
    family : Family
        The joints.
    boxes : ndarray, shape (f, 4)
        Least along, least across, greatest along, greatest across the family's direction [m].

    Returns
    -------
    Joints
        Every joint that meets a box, cut to the box along its own direction.
    """
    first = np.ceil((boxes[:, 1] - family.offset) / family.spacing - 1e-9).astype(np.int64)
    last = np.floor((boxes[:, 3] - family.offset) / family.spacing + 1e-9).astype(np.int64)
    count = np.maximum(last - first + 1, 0)
    face = np.repeat(np.arange(len(boxes)), count)
    line = spread(first, count)
    low, high = boxes[face, 0], boxes[face, 2]
    if math.isinf(family.period):
        return _turned(low, high, family.offset + line * family.spacing, face, family.angle)
    origin = family.start + line * family.shift
    begin = np.floor((low - origin - family.dash) / family.period).astype(np.int64) + 1
    end = np.ceil((high - origin) / family.period).astype(np.int64) - 1
    dashes = np.maximum(end - begin + 1, 0)
    row = np.repeat(np.arange(len(line)), dashes)
    start = origin[row] + spread(begin, dashes) * family.period
    near, far = np.maximum(start, low[row]), np.minimum(start + family.dash, high[row])
    real = far > near
    row, near, far = row[real], near[real], far[real]
    return _turned(near, far, family.offset + line[row] * family.spacing, face[row], family.angle)


def _turned(begin: np.ndarray, end: np.ndarray, across: np.ndarray, face: np.ndarray, angle: float) -> Joints:
    c, s = cos_deg(angle), sin_deg(angle)
    ab = np.stack(
        [np.column_stack([c * along - s * across, s * along + c * across]) for along in (begin, end)], axis=1
    )
    return Joints(ab=ab, face=face)


def thinned_bond(bond: Bond, room: Sequence[float]) -> Bond:
    """
    Take every second joint of a bond whose joints would run into one another.

    Unbroken joints that lie too near are every second one. Of broken ones between them those
    that lie too near are left out, and others thinned both ways, so that a running bond still
    reads as one. Where all joints are broken, all are every second one. Each joint that is
    drawn is one that there is.

    Parameters
    ----------
    bond : tuple of Family
        The joints.
    room : sequence of float
        Distance of each family's joints as a share of the least there may be.

    Returns
    -------
    tuple of Family
        The same where all have room; empty where even every second joint has none.

    Examples
    --------
    >>> sparse = thinned_bond(running_bond(0.2, 0.1), [0.7, 1.4])
    >>> [(family.angle, family.spacing) for family in sparse]
    [(0.0, 0.2), (90.0, 0.2)]
    """
    if min(room) >= 1.0:
        return bond
    pairs = list(zip(bond, room, strict=True))
    unbroken = [(family, share) for family, share in pairs if math.isinf(family.period)]
    if min(share for _, share in unbroken or pairs) < 0.5:
        return ()
    thinned = [family if share >= 1.0 else _every_second(family) for family, share in unbroken or pairs]
    between = [_both_ways(family) for family, share in pairs if unbroken and share >= 1.0]
    return (*thinned, *(family for family in between if not math.isinf(family.period)))


def _every_second(family: Family) -> Family:
    return replace(family, spacing=2 * family.spacing, pitch=2 * family.pitch, shift=2 * family.shift)


def _both_ways(family: Family) -> Family:
    return replace(_every_second(family), period=2 * family.period)


def joint_length(length: float, width: float) -> float:
    """
    Length of joints per area of one-size paving [m/m²].

    The same for stack bond, running bond, basket weave and herringbone.

    Examples
    --------
    >>> round(joint_length(0.2, 0.1), 9)
    15.0
    """
    return (length + width) / (length * width)


def units_per_area(length: float, width: float) -> float:
    """
    Units per area, joints included in the size [1/m²].

    Examples
    --------
    >>> round(units_per_area(8 * 0.0254, 4 * 0.0254) * 0.3048**2, 9)
    4.5
    """
    return 1 / (length * width)


BONDS: Final[Mapping[str, Callable[[float, float], Bond]]] = MappingProxyType(
    {
        "stack bond": stack_bond,
        "running bond": running_bond,
        "basket weave": basket_weave,
        "herringbone": herringbone,
        "herringbone 45": lambda length, width: herringbone(length, width, turned=45.0),
    }
)
"""Bonds of units of one size, by name."""
