"""
Figures on wheels and on four legs.
"""

from __future__ import annotations

import shapely

from .poses import Pieces, side_body, walking
from .shapes import cloth, disc, layered, limb, moved, ring, rod, scaled


def cyclist() -> Pieces:
    """Someone riding to the right, at the height of a standing person."""
    return layered(
        ("thing", ring(-0.300, 0.192, 0.192, 0.020)),
        ("thing", ring(0.305, 0.192, 0.192, 0.020)),
        (
            "thing",
            rod(
                (-0.300, 0.192), (-0.105, 0.470), (0.205, 0.470), (0.005, 0.165), (-0.300, 0.192), thick=0.020
            ),
        ),
        ("thing", rod((-0.130, 0.520), (0.005, 0.165), thick=0.020)),
        ("thing", rod((0.305, 0.192), (0.195, 0.545), (0.245, 0.575), thick=0.020)),
        ("thing", limb((-0.175, 0.525, 0.014), (-0.090, 0.522, 0.012))),
        ("shoes", limb((0.050, 0.250, 0.018), (0.112, 0.252, 0.014))),
        ("lower", limb((-0.120, 0.560, 0.058), (0.100, 0.480, 0.042), (0.058, 0.285, 0.026))),
        ("shoes", limb((-0.046, 0.095, 0.018), (0.018, 0.088, 0.014))),
        ("lower", limb((-0.130, 0.560, 0.058), (0.045, 0.370, 0.042), (-0.040, 0.128, 0.026))),
        ("upper", limb((-0.130, 0.570, 0.064), (-0.055, 0.690, 0.060), (0.020, 0.800, 0.056))),
        ("skin", disc(0.228, 0.590, 0.019)),
        ("upper", limb((0.030, 0.800, 0.034), (0.110, 0.670, 0.027), (0.215, 0.600, 0.020))),
        ("skin", limb((0.040, 0.845, 0.024), (0.070, 0.890, 0.024))),
        ("skin", disc(0.088, 0.922, 0.048, 0.060, -12)),
        (
            "thing",
            shapely.difference(disc(0.080, 0.940, 0.062, 0.060, -12), shapely.box(-0.1, 0.8, 0.2, 0.938)),
        ),
    )


def wheelchair() -> Pieces:
    """Someone in a wheelchair, turned to the right, at the height of a standing person."""
    return layered(
        ("thing", ring(-0.040, 0.170, 0.170, 0.018)),
        ("thing", disc(-0.040, 0.170, 0.020)),
        ("thing", ring(0.200, 0.052, 0.052, 0.020)),
        (
            "thing",
            rod(
                (-0.165, 0.520),
                (-0.125, 0.520),
                (-0.118, 0.275),
                (0.150, 0.275),
                (0.235, 0.060),
                (0.300, 0.045),
                thick=0.020,
            ),
        ),
        ("shoes", limb((0.236, 0.080, 0.020), (0.306, 0.068, 0.014))),
        ("lower", limb((0.205, 0.320, 0.042), (0.238, 0.105, 0.028))),
        ("lower", limb((-0.030, 0.345, 0.062), (0.205, 0.325, 0.046))),
        *[(word, moved(piece, -0.045, -0.175)) for word, piece in side_body()],
        ("skin", disc(0.070, 0.400, 0.019)),
        ("upper", limb((-0.052, 0.625, 0.034), (-0.062, 0.480, 0.028), (0.055, 0.410, 0.021))),
    )


def dog() -> Pieces:
    """A dog trotting to the right, by the height of its head."""
    return layered(
        (
            "hair",
            limb((-0.36, 0.50, 0.105), (-0.37, 0.30, 0.052), (-0.52, 0.19, 0.036), (-0.55, 0.06, 0.030)),
        ),
        ("hair", limb((0.22, 0.50, 0.105), (0.36, 0.31, 0.046), (0.37, 0.13, 0.034), (0.43, 0.10, 0.028))),
        ("hair", limb((-0.42, 0.62, 0.052), (-0.60, 0.67, 0.040), (-0.72, 0.82, 0.024))),
        ("hair", limb((-0.35, 0.57, 0.130), (-0.08, 0.57, 0.112), (0.20, 0.55, 0.155))),
        ("hair", limb((0.26, 0.62, 0.130), (0.42, 0.82, 0.090))),
        ("hair", limb((0.43, 0.875, 0.092), (0.55, 0.860, 0.066), (0.68, 0.825, 0.042))),
        (
            "hair",
            limb((-0.36, 0.50, 0.120), (-0.29, 0.29, 0.056), (-0.38, 0.17, 0.038), (-0.35, 0.038, 0.036)),
        ),
        ("hair", limb((0.22, 0.48, 0.115), (0.22, 0.27, 0.048), (0.15, 0.042, 0.036))),
        ("shoes", cloth((0.36, 0.955), (0.47, 0.955), (0.46, 0.75), (0.38, 0.73))),
    )


def with_dog() -> Pieces:
    """Someone walking a dog to the right."""
    person = [(word, moved(piece, -0.30)) for word, piece in walking()]
    animal = [(word, moved(scaled(piece, 0.34), 0.24)) for word, piece in dog()]
    lead = ("thing", rod((-0.155, 0.545), (0.02, 0.42), (0.345, 0.255), thick=0.011))
    return layered(lead, *person, *animal)
