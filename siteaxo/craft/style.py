"""
How a drawing looks: tones by role, material and facing, widths and colours of lines.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final, Self

import numpy as np
from numpy.typing import ArrayLike

from ..checks import finite, one_of
from ..errors import SheetError
from .colours import darker, rgb_from_hex, tone
from .lines import LineWeights, kind_ranks, ranks_in

FACINGS: Final = ("up", "left", "right")
"""What a face turns to on the page: up, or a side seen from the left or the right."""

ROLE_TONES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "ground": tone(0.925, 0.012, 95),
        "terrace": tone(0.950, 0.015, 85),
        "lawn": tone(0.885, 0.050, 128),
        "water": tone(0.855, 0.030, 222),
        "paving": tone(0.905, 0.013, 68),
        "path": tone(0.925, 0.034, 85),
        "ramp": tone(0.895, 0.026, 75),
        "steps": tone(0.940, 0.010, 70),
        "deck": tone(0.825, 0.052, 70),
        "structure": tone(0.965, 0.006, 80),
        "roof": tone(0.770, 0.044, 36),
        "wall": tone(0.880, 0.010, 75),
        "planter": tone(0.780, 0.030, 55),
        "seat": tone(0.740, 0.060, 66),
        "rail": tone(0.860, 0.008, 245),
        "hedge": tone(0.760, 0.062, 135),
        "canopy": tone(0.930, 0.014, 235),
        "tree": tone(0.815, 0.058, 125),
    }
)
"""Tone of the top of each role."""

MATERIAL_TONES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "asphalt": tone(0.740, 0.006, 260),
        "bark": tone(0.690, 0.042, 52),
        "brick": tone(0.780, 0.056, 42),
        "clay": tone(0.810, 0.055, 48),
        "cobbles": tone(0.830, 0.010, 250),
        "concrete": tone(0.890, 0.005, 100),
        "flags": tone(0.905, 0.014, 88),
        "glass": tone(0.900, 0.022, 220),
        "granite": tone(0.850, 0.007, 260),
        "grass": tone(0.885, 0.050, 128),
        "gravel": tone(0.900, 0.032, 84),
        "hoggin": tone(0.885, 0.044, 78),
        "limestone": tone(0.925, 0.016, 92),
        "metal": tone(0.750, 0.010, 240),
        "planting": tone(0.800, 0.055, 132),
        "sand": tone(0.930, 0.036, 85),
        "sandstone": tone(0.880, 0.036, 72),
        "setts": tone(0.840, 0.009, 255),
        "slate": tone(0.720, 0.016, 255),
        "soil": tone(0.690, 0.038, 58),
        "steel": tone(0.750, 0.010, 240),
        "stone": tone(0.905, 0.014, 88),
        "timber": tone(0.825, 0.052, 70),
        "water": tone(0.855, 0.030, 222),
    }
)
"""Tone of the top of what is made of a material; it goes before the role's."""


@dataclass(frozen=True, kw_only=True)
class Style:
    """
    One look: every tone and every line width of a drawing follow from it.

    Parameters
    ----------
    name : str
        Name of the style.
    weights : LineWeights
        Widths of the kinds of line.
    tones, materials : mapping of str to str
        Tone of the top by role and by material, ``"#rrggbb"``.
    neutral : str
        Tone of a role that is not in *tones*.
    left_step, right_step : float
        How much darker than the top a side is that is seen from the left or the
        right [step of OKLab lightness, 0 to 1].
    ink, hidden_ink, paper : str
        Colour of lines and text, of hidden lines, and of the sheet.

    Raises
    ------
    SheetError
        If a colour is not ``"#rrggbb"`` or a step is not from 0 to 1.
    """

    name: str = "muted"
    weights: LineWeights = field(default_factory=LineWeights)
    tones: Mapping[str, str] = field(default_factory=lambda: ROLE_TONES)
    materials: Mapping[str, str] = field(default_factory=lambda: MATERIAL_TONES)
    neutral: str = tone(0.9, 0.0, 0.0)
    left_step: float = 0.07
    right_step: float = 0.15
    ink: str = tone(0.25, 0.008, 60)
    hidden_ink: str = tone(0.5, 0.006, 60)
    paper: str = "#ffffff"

    def __post_init__(self) -> None:
        for step in ("left_step", "right_step"):
            if finite(getattr(self, step), step, SheetError, least=0.0) > 1.0:
                raise SheetError(f"{step} is {getattr(self, step):g}; a step of lightness is from 0 to 1.")
        for colour in (self.neutral, self.ink, self.hidden_ink, self.paper):
            rgb_from_hex(colour)
        for name in ("tones", "materials"):
            table = dict(getattr(self, name))
            for colour in table.values():
                rgb_from_hex(colour)
            object.__setattr__(self, name, MappingProxyType(table))

    @classmethod
    def named(cls, name: str) -> Self:
        """
        Return one of the library's styles.

        Parameters
        ----------
        name : {"muted", "line only"}
            Quiet tones by role and material, or lines on bare paper.

        Raises
        ------
        SheetError
            If there is no style of that name.

        Examples
        --------
        >>> Style.named("line only").fills(["lawn"], ["up"], [""]).tolist()
        ['#ffffff']
        """
        one_of(name, STYLES, "style", SheetError)
        muted = cls()
        if name == "muted":
            return muted
        bare: dict[str, str] = {}
        return replace(
            muted, name=name, tones=bare, materials=bare, neutral=muted.paper, left_step=0.0, right_step=0.0
        )

    def fills(self, roles: ArrayLike, facings: ArrayLike, materials: ArrayLike) -> np.ndarray:
        """
        Tone of every face.

        A material that the style does not know leaves the tone to the role; a role that
        it does not know is neutral.

        Parameters
        ----------
        roles, materials : array_like of str, shape (n,)
            Role and material of each face's feature; "" where there is no material.
        facings : array_like of str, shape (n,)
            ``"up"``, ``"left"`` or ``"right"``.

        Returns
        -------
        ndarray of object, shape (n,)
            Colours as ``"#rrggbb"``.

        Raises
        ------
        SheetError
            If a facing is unknown.
        """
        sides = ranks_in(facings, FACINGS, "facing")
        role_names, role_at = np.unique(np.asarray(roles, dtype=str), return_inverse=True)
        material_names, material_at = np.unique(np.asarray(materials, dtype=str), return_inverse=True)
        tops = [[self.top(role, material) for material in material_names] for role in role_names]
        steps = (0.0, self.left_step, self.right_step)
        table = np.array(
            [[[darker(top, step) for step in steps] for top in row] for row in tops], dtype=object
        )
        if not sides.size:
            return np.empty(0, dtype=object)
        return table[role_at, material_at, sides]

    def top(self, role: str, material: str = "") -> str:
        """
        Tone of the top of a feature of *role* made of *material*.

        A material is known by its whole name or by the last of its words that is known,
        in any case: "Clay brick" is brick.

        Examples
        --------
        >>> Style().top("paving", "Clay brick") == Style().top("wall", "brick")
        True
        """
        name = material.casefold()
        known = next((word for word in (name, *reversed(name.split())) if word in self.materials), None)
        return self.materials[known] if known else self.tones.get(role, self.neutral)

    def line_mm(self, kinds: ArrayLike) -> np.ndarray:
        """Width on paper of each line by its kind, shape (n,) [mm]."""
        return self.weights.of(kinds)

    def line_colours(self, kinds: ArrayLike) -> np.ndarray:
        """Colour of each line by its kind, shape (n,) of ``"#rrggbb"``."""
        return np.array([self.hidden_ink, self.ink, self.ink, self.ink], dtype=object)[kind_ranks(kinds)]

    def edge_order(self, kinds: ArrayLike) -> np.ndarray:
        """Place of each line in the drawing order, shape (n,); what is higher lies on top."""
        return kind_ranks(kinds)


STYLES: Final = ("muted", "line only")
"""Names that ``Style.named`` knows."""
