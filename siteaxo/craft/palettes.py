"""
Tones of the top of every role and material.

The tones of roles were spaced evenly in lightness and then moved, within muted chroma and the
hue each role is expected in, until every two of them differ noticeably to usual eyes, under
full deuteranomaly and protanomaly, and in a grey print.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from .colours import hex_from_rgb, linear_from_rgb, luminance, rgb_from_hex, rgb_from_linear, tone

DARK_SHIFT: Final = 41.0  # how far tones lie below those on paper on a dark ground [L*]

ROLE_TONES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "structure": tone(0.985, 0.005, 69),
        "steps": tone(0.964, 0.010, 58),
        "terrace": tone(0.944, 0.012, 90),
        "path": tone(0.922, 0.044, 85),
        "lawn": tone(0.897, 0.036, 122),
        "paving": tone(0.879, 0.012, 66),
        "canopy": tone(0.856, 0.025, 234),
        "ground": tone(0.835, 0.013, 89),
        "water": tone(0.810, 0.047, 234),
        "ramp": tone(0.795, 0.032, 61),
        "wall": tone(0.772, 0.016, 68),
        "deck": tone(0.747, 0.061, 82),
        "tree": tone(0.722, 0.050, 127),
        "rail": tone(0.701, 0.015, 233),
        "planter": tone(0.682, 0.048, 56),
        "hedge": tone(0.650, 0.061, 137),
        "roof": tone(0.639, 0.050, 33),
        "seat": tone(0.618, 0.051, 51),
    }
)
"""Tone of the top of each role."""

MATERIAL_TONES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "asphalt": tone(0.740, 0.006, 260),
        "bark": tone(0.690, 0.042, 52),
        "brick": tone(0.800, 0.050, 42),
        "clay": tone(0.820, 0.050, 48),
        "cobbles": tone(0.830, 0.010, 250),
        "concrete": tone(0.890, 0.005, 100),
        "flags": tone(0.925, 0.016, 88),
        "glass": tone(0.900, 0.022, 220),
        "granite": tone(0.850, 0.007, 260),
        "grass": tone(0.897, 0.036, 122),
        "gravel": tone(0.905, 0.030, 84),
        "hoggin": tone(0.885, 0.040, 78),
        "limestone": tone(0.930, 0.016, 92),
        "metal": tone(0.750, 0.010, 240),
        "planting": tone(0.780, 0.050, 130),
        "sand": tone(0.930, 0.034, 85),
        "sandstone": tone(0.880, 0.034, 72),
        "setts": tone(0.840, 0.009, 255),
        "slate": tone(0.720, 0.016, 255),
        "soil": tone(0.590, 0.036, 56),
        "steel": tone(0.750, 0.010, 240),
        "stone": tone(0.915, 0.014, 88),
        "timber": tone(0.770, 0.056, 76),
        "water": tone(0.810, 0.047, 234),
    }
)
"""Tone of the top of what is made of a material; it goes before the role's."""

DARK_TONES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "structure": "#8c8b86",
        "steps": "#868481",
        "terrace": "#7f7d79",
        "path": "#7f7665",
        "lawn": "#6e7264",
        "paving": "#726865",
        "canopy": "#5b666c",
        "ground": "#605e5a",
        "water": "#495a64",
        "ramp": "#595149",
        "wall": "#524a48",
        "deck": "#4a4633",
        "tree": "#3b4332",
        "rail": "#363b3e",
        "planter": "#3c3329",
        "hedge": "#27311a",
        "roof": "#332627",
        "seat": "#2d221b",
    }
)
"""
Tone of the top of each role on a dark ground.

They are the tones on paper made darker, then moved by a few of the steps that eight bits leave in
the dark, until every two of them differ noticeably there as well.
"""


def on_dark(tones: Mapping[str, str]) -> Mapping[str, str]:
    """
    Tones for a dark ground: each as much darker in CIE L* as all others, its hue kept.

    Examples
    --------
    White has L* 100, so it comes out at L* 59, which is a luminance of 0.27.

    >>> round(luminance(on_dark({"lawn": "#ffffff"})["lawn"]), 2)
    0.27
    """
    return MappingProxyType({name: _dimmed(colour) for name, colour in tones.items()})


def _dimmed(colour: str) -> str:
    """Less of the same light, so that L* falls by ``DARK_SHIFT``."""
    bright = luminance(colour)
    lightness = max(116 * float(np.cbrt(bright)) - 16 - DARK_SHIFT, 8.0)
    wanted = ((lightness + 16) / 116) ** 3
    return hex_from_rgb(rgb_from_linear(linear_from_rgb(rgb_from_hex(colour)) * wanted / bright))
