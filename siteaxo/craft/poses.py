"""
Figures of our own drawing, by the metre of their height.

A figure is a set of flat pieces that do not overlap, drawn at a height of one, with its
feet at zero and its stand point at the origin. Pieces are skin, hair, upper, lower,
shoes or thing; tones follow from these words.
"""

from __future__ import annotations

from typing import Final

import shapely
from shapely import Polygon

from .shapes import cloth, disc, layered, limb, mirrored, moved, scaled

Pieces = tuple[tuple[str, Polygon], ...]

SLIT: Final = 5e-4  # gaps this narrow between pieces close in the outline [-]


def outline_of(pieces: Pieces) -> Polygon:
    """The shape that pieces make together, slits between them closed."""
    whole = shapely.union_all([piece.buffer(SLIT, join_style="mitre") for _, piece in pieces])
    return shapely.simplify(whole.buffer(-SLIT, join_style="mitre"), SLIT)


def walking() -> Pieces:
    """Someone walking to the right, seen from the side."""
    return layered(
        ("skin", disc(0.142, 0.553, 0.019)),
        ("upper", limb((0.0, 0.80, 0.030), (0.058, 0.675, 0.026), (0.130, 0.570, 0.019))),
        ("shoes", limb((-0.180, 0.082, 0.020), (-0.122, 0.018, 0.015))),
        ("lower", limb((-0.008, 0.52, 0.058), (-0.040, 0.29, 0.038), (-0.165, 0.098, 0.024))),
        ("shoes", limb((0.136, 0.026, 0.022), (0.215, 0.034, 0.013))),
        ("lower", limb((0.006, 0.52, 0.060), (0.088, 0.30, 0.040), (0.132, 0.066, 0.026))),
        *side_body(),
        ("skin", disc(-0.092, 0.520, 0.019)),
        ("upper", limb((-0.006, 0.80, 0.034), (-0.062, 0.665, 0.028), (-0.088, 0.545, 0.020))),
    )


def strolling() -> Pieces:
    """Someone in a long coat, walking to the right with a bag on the shoulder."""
    coat = cloth(
        (-0.055, 0.845), (0.040, 0.845), (0.075, 0.74), (0.062, 0.58), (0.112, 0.31), (-0.105, 0.31),
        (-0.070, 0.58), (-0.078, 0.74), bends=(4, 5),
    )  # fmt: skip
    return layered(
        ("shoes", limb((-0.118, 0.062, 0.018), (-0.062, 0.016, 0.014))),
        ("lower", limb((-0.030, 0.32, 0.030), (-0.106, 0.085, 0.021))),
        ("shoes", limb((0.082, 0.022, 0.019), (0.150, 0.022, 0.013))),
        ("lower", limb((0.050, 0.32, 0.034), (0.078, 0.060, 0.022))),
        *side_body(),
        ("upper", coat),
        ("thing", cloth((-0.125, 0.60), (-0.012, 0.60), (-0.020, 0.475), (-0.125, 0.475))),
        ("skin", disc(-0.030, 0.520, 0.018)),
        ("upper", limb((-0.008, 0.80, 0.036), (-0.038, 0.665, 0.029), (-0.030, 0.545, 0.021))),
    )


def standing() -> Pieces:
    """Someone standing, seen from the front, one hand in a pocket."""
    return layered(
        ("shoes", limb((-0.062, 0.018, 0.018), (-0.082, 0.014, 0.014))),
        ("shoes", limb((0.066, 0.018, 0.018), (0.090, 0.014, 0.014))),
        ("lower", limb((-0.045, 0.51, 0.054), (-0.052, 0.29, 0.042), (-0.060, 0.050, 0.028))),
        ("lower", limb((0.045, 0.51, 0.054), (0.056, 0.29, 0.042), (0.068, 0.050, 0.028))),
        ("skin", disc(-0.158, 0.465, 0.019)),
        ("upper", limb((-0.100, 0.79, 0.034), (-0.142, 0.650, 0.027), (-0.156, 0.495, 0.020))),
        ("upper", limb((0.100, 0.79, 0.034), (0.150, 0.650, 0.027), (0.108, 0.535, 0.024))),
        *_front_body(),
    )


def waiting() -> Pieces:
    """Someone in a dress or long shirt, standing, seen from the front, arms folded."""
    dress = cloth(
        (-0.115, 0.835), (0.0, 0.858), (0.115, 0.835), (0.092, 0.70), (0.075, 0.60), (0.128, 0.345),
        (-0.128, 0.345), (-0.075, 0.60), (-0.092, 0.70), bends=(5, 6),
    )  # fmt: skip
    return layered(
        ("shoes", limb((-0.044, 0.018, 0.017), (-0.054, 0.014, 0.013))),
        ("shoes", limb((0.054, 0.018, 0.017), (0.070, 0.014, 0.013))),
        ("skin", limb((-0.048, 0.36, 0.034), (-0.044, 0.050, 0.022))),
        ("skin", limb((0.046, 0.36, 0.034), (0.054, 0.050, 0.022))),
        *_front_head(hair=0.070),
        ("upper", dress),
        ("upper", limb((-0.094, 0.785, 0.032), (-0.132, 0.670, 0.026), (-0.010, 0.655, 0.022))),
        ("upper", limb((0.094, 0.785, 0.032), (0.132, 0.670, 0.026), (0.020, 0.685, 0.022))),
        ("skin", limb((0.030, 0.683, 0.016), (-0.012, 0.690, 0.013))),
    )


def telling() -> Pieces:
    """Someone standing, turned to the right and speaking with one hand raised."""
    return layered(
        ("shoes", limb((-0.020, 0.020, 0.020), (0.058, 0.015, 0.014))),
        ("shoes", limb((-0.062, 0.020, 0.020), (0.006, 0.015, 0.014))),
        ("lower", limb((0.0, 0.52, 0.060), (0.004, 0.29, 0.042), (-0.012, 0.055, 0.028))),
        ("lower", limb((-0.008, 0.52, 0.060), (-0.036, 0.29, 0.042), (-0.054, 0.055, 0.028))),
        *side_body(),
        ("skin", limb((0.176, 0.715, 0.017), (0.196, 0.742, 0.012))),
        ("upper", limb((0.0, 0.80, 0.034), (0.048, 0.672, 0.028), (0.165, 0.700, 0.020))),
    )


def listening() -> Pieces:
    """Someone standing, turned to the right, the hands behind the back."""
    return layered(
        ("shoes", limb((-0.022, 0.020, 0.020), (0.052, 0.015, 0.014))),
        ("lower", limb((-0.004, 0.52, 0.062), (-0.006, 0.29, 0.046), (-0.018, 0.055, 0.030))),
        *side_body(),
        ("skin", disc(-0.080, 0.560, 0.018)),
        ("upper", limb((-0.012, 0.80, 0.035), (-0.072, 0.675, 0.028), (-0.070, 0.580, 0.022))),
    )


def pair() -> Pieces:
    """Two people standing and talking."""
    right = [(word, moved(piece, -0.21)) for word, piece in telling()]
    left = [(word, mirrored(moved(scaled(piece, 0.935), -0.20))) for word, piece in listening()]
    return layered(*right, *left)


def seated() -> Pieces:
    """Someone on a seat of 0.45 m, turned to the right; the origin is below the hips."""
    return layered(
        ("shoes", limb((0.232, 0.020, 0.020), (0.306, 0.015, 0.014))),
        ("lower", limb((0.250, 0.285, 0.042), (0.240, 0.055, 0.028))),
        ("lower", limb((0.0, 0.320, 0.062), (0.250, 0.290, 0.046))),
        *[(word, moved(piece, -0.012, -0.186)) for word, piece in side_body()],
        ("skin", disc(0.176, 0.375, 0.019)),
        ("upper", limb((-0.020, 0.595, 0.034), (0.022, 0.455, 0.028), (0.155, 0.385, 0.021))),
    )


def seated_front() -> Pieces:
    """Someone on a seat of 0.45 m, seen from the front."""
    return layered(
        ("shoes", limb((-0.060, 0.018, 0.019), (-0.072, 0.014, 0.014))),
        ("shoes", limb((0.066, 0.018, 0.019), (0.080, 0.014, 0.014))),
        ("lower", limb((-0.060, 0.290, 0.048), (-0.060, 0.050, 0.028))),
        ("lower", limb((0.060, 0.290, 0.048), (0.066, 0.050, 0.028))),
        *[(word, moved(piece, 0.0, -0.205)) for word, piece in _front_body()],
        ("upper", limb((-0.100, 0.585, 0.034), (-0.138, 0.450, 0.027), (-0.080, 0.345, 0.021))),
        ("upper", limb((0.100, 0.585, 0.034), (0.138, 0.450, 0.027), (0.080, 0.345, 0.021))),
        ("skin", disc(-0.066, 0.332, 0.020)),
        ("skin", disc(0.066, 0.332, 0.020)),
        ("lower", limb((-0.060, 0.280, 0.044), (-0.060, 0.180, 0.038))),
        ("lower", limb((0.060, 0.280, 0.044), (0.062, 0.180, 0.038))),
    )


def child(hand: float = 0.612) -> Pieces:
    """A child skipping to the right, both arms out, the one behind at the height of *hand*."""
    return layered(
        ("skin", disc(0.206, 0.708, 0.022)),
        ("upper", limb((0.010, 0.745, 0.034), (0.190, 0.700, 0.023))),
        ("shoes", limb((-0.170, 0.150, 0.025), (-0.135, 0.085, 0.018))),
        ("lower", limb((-0.010, 0.440, 0.064), (-0.030, 0.240, 0.046), (-0.155, 0.165, 0.031))),
        ("shoes", limb((0.072, 0.026, 0.026), (0.150, 0.020, 0.018))),
        ("lower", limb((0.010, 0.440, 0.066), (0.072, 0.250, 0.048), (0.066, 0.070, 0.031))),
        ("upper", limb((-0.004, 0.465, 0.074), (0.0, 0.60, 0.070), (0.004, 0.742, 0.058))),
        ("skin", disc(-0.158, hand, 0.022)),
        ("upper", limb((-0.006, 0.745, 0.036), (-0.146, 0.016 + 0.97 * hand, 0.023))),
        ("skin", limb((0.006, 0.800, 0.034), (0.014, 0.840, 0.034))),
        ("skin", disc(0.024, 0.902, 0.072, 0.086)),
        ("hair", _cap(0.016, 0.908, 0.082, 0.092)),
    )


def hand_in_hand() -> Pieces:
    """Someone walking to the right with a child by the hand."""
    small = [(word, moved(scaled(piece, 0.66), 0.165)) for word, piece in child(hand=0.83)]
    return layered(*small, *[(word, moved(piece, -0.10)) for word, piece in walking()])


def side_body() -> Pieces:
    """Trunk, neck and head of someone turned to the right."""
    return (
        ("skin", limb((-0.004, 0.840, 0.024), (0.006, 0.890, 0.024))),
        (
            "upper",
            limb((0.0, 0.510, 0.066), (-0.002, 0.640, 0.056), (0.002, 0.745, 0.068), (-0.006, 0.805, 0.052)),
        ),
        ("skin", disc(0.014, 0.930, 0.048, 0.063, -6)),
        ("hair", _cap(0.008, 0.934, 0.054, 0.066)),
    )


def _front_body() -> Pieces:
    """Trunk, neck and head of someone seen from the front."""
    trunk = cloth(
        (-0.128, 0.832), (-0.030, 0.862), (0.030, 0.862), (0.128, 0.832), (0.108, 0.70), (0.088, 0.60),
        (0.104, 0.455), (-0.104, 0.455), (-0.088, 0.60), (-0.108, 0.70), bends=(6, 7),
    )  # fmt: skip
    return (("upper", trunk), *_front_head())


def _front_head(hair: float = 0.0) -> Pieces:
    """Neck and head seen from the front, with hair down to so far below the chin."""
    crown = _cap(0.0, 0.936, 0.052, 0.066)
    long = cloth((-0.056, 0.955), (0.056, 0.955), (0.064, 0.868 - hair), (-0.064, 0.868 - hair))
    behind = (("hair", long),) if hair else ()
    return (
        *behind,
        ("skin", limb((0.0, 0.838, 0.027), (0.0, 0.885, 0.025))),
        ("skin", disc(0.0, 0.928, 0.045, 0.060)),
        ("hair", shapely.difference(crown, shapely.box(-0.1, 0.0, 0.1, 0.945))),
    )


def _cap(x: float, y: float, across: float, up: float) -> Polygon:
    """Hair on a head that looks to the right: the oval, less the face."""
    face = shapely.box(x + 0.20 * across, y - 1.2 * up, x + 2 * across, y + 0.28 * up)
    nape = shapely.box(x - 2 * across, y - 1.2 * up, x + 2 * across, y - 0.45 * up)
    return shapely.difference(disc(x, y, across, up), shapely.union(face, nape))
