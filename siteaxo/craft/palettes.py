"""
Tones of the top of every role and material, and what else a drawing on a dark ground has of its own.

The tones of roles were spaced evenly in lightness and then moved, within muted chroma and the
hue each role is expected in, until every two of them differ noticeably to usual eyes, under
full deuteranomaly and protanomaly, and in a grey print. So were those of materials, but that in a
grey print some of them are told by their patterns.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from .colours import tone

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
        "seat": tone(0.616, 0.051, 51),
    }
)
"""Tone of the top of each role."""

SAME_MATERIALS: Final[Mapping[str, str]] = MappingProxyType(
    {"extensive": "sedum", "green roof": "sedum", "intensive": "planting", "steel": "metal"}
)
"""Words for a material that has another name too."""


def _by_every_name(tones: Mapping[str, str]) -> Mapping[str, str]:
    """Tones of materials under their other names as well."""
    return MappingProxyType({**tones, **{word: tones[name] for word, name in SAME_MATERIALS.items()}})


MATERIAL_TONES: Final[Mapping[str, str]] = _by_every_name(
    {
        "asphalt": tone(0.735, 0.006, 260),
        "bark": tone(0.690, 0.042, 52),
        "brick": tone(0.800, 0.050, 42),
        "clay": tone(0.820, 0.050, 48),
        "cobbles": tone(0.825, 0.010, 250),
        "concrete": tone(0.890, 0.005, 100),
        "flags": tone(0.905, 0.016, 88),
        "glass": tone(0.900, 0.022, 220),
        "granite": tone(0.865, 0.007, 260),
        "grass": tone(0.897, 0.036, 122),
        "gravel": tone(0.920, 0.030, 84),
        "hoggin": tone(0.885, 0.040, 78),
        "limestone": tone(0.945, 0.016, 90),
        "meadow": tone(0.855, 0.048, 114),
        "metal": tone(0.755, 0.010, 238),
        "planting": tone(0.780, 0.050, 130),
        "sand": tone(0.930, 0.034, 85),
        "sandstone": tone(0.880, 0.034, 72),
        "sedum": tone(0.800, 0.050, 110),
        "setts": tone(0.845, 0.011, 255),
        "slate": tone(0.720, 0.016, 255),
        "soil": tone(0.612, 0.036, 56),
        "stone": tone(0.925, 0.014, 88),
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
        "water": "#495b65",
        "ramp": "#595149",
        "wall": "#524a48",
        "deck": "#4a4633",
        "tree": "#3b4332",
        "rail": "#363b3e",
        "planter": "#3c3329",
        "hedge": "#28321b",
        "roof": "#332627",
        "seat": "#2d221b",
    }
)
"""
Tone of the top of each role on a dark ground.

They are the tones on paper made darker, all by 41 of L*, then moved by a few of the steps that
eight bits leave in the dark, until every two of them differ noticeably there as well.
"""

DARK_MATERIALS: Final[Mapping[str, str]] = _by_every_name(
    {
        "asphalt": "#424344",
        "bark": "#3f342d",
        "brick": "#614e47",
        "clay": "#67554c",
        "cobbles": "#575a5e",
        "concrete": "#6e6e6c",
        "flags": "#76736d",
        "glass": "#697376",
        "granite": "#656769",
        "grass": "#6e7264",
        "gravel": "#7b756b",
        "hoggin": "#746a5c",
        "limestone": "#818079",
        "meadow": "#606551",
        "metal": "#46494b",
        "planting": "#4a5243",
        "sand": "#807a6d",
        "sandstone": "#71685e",
        "sedum": "#575942",
        "setts": "#5e6062",
        "slate": "#3c3f43",
        "soil": "#2a221d",
        "stone": "#7b7974",
        "timber": "#564a3a",
        "water": "#495b65",
    }
)
"""Tone of the top of what is made of a material on a dark ground, found in the same way."""

DARK_GROUND: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "tones": DARK_TONES,
        "materials": DARK_MATERIALS,
        "neutral": tone(0.5, 0.0, 0.0),
        "shade": 0.18,
        "crown_shade": 0.12,
        "pattern_step": -0.09,
        "ink": tone(0.97, 0.006, 85),
        "fine_ink": tone(0.955, 0.008, 85),
        "slight_ink": tone(0.79, 0.008, 85),
        "hidden_ink": tone(0.74, 0.008, 85),
        "contour_ink": tone(0.78, 0.05, 70),
        "paper": tone(0.20, 0.010, 255),
    }
)
"""What a style on a dark ground has in place of the usual: light lines and deep tones."""
