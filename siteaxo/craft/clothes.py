"""
Muted tones of figures: clothes, skin, hair and things.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final, Self

import numpy as np

from ..errors import SheetError
from .colours import rgb_from_hex, tone
from .repeatable import numbers_each

PIECES: Final = ("skin", "hair", "upper", "lower", "shoes", "thing")
"""Pieces that a figure is made of."""

TONES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "skin": (tone(0.84, 0.045, 62), tone(0.74, 0.055, 60), tone(0.58, 0.052, 56), tone(0.44, 0.040, 52)),
        "hair": (tone(0.28, 0.012, 50), tone(0.38, 0.028, 58), tone(0.52, 0.040, 70), tone(0.74, 0.010, 85)),
        "upper": (
            tone(0.60, 0.040, 245),
            tone(0.93, 0.010, 85),
            tone(0.62, 0.050, 40),
            tone(0.70, 0.045, 90),
            tone(0.50, 0.025, 195),
            tone(0.45, 0.020, 290),
            tone(0.76, 0.020, 230),
        ),
        "lower": (
            tone(0.40, 0.022, 262),
            tone(0.34, 0.008, 60),
            tone(0.56, 0.026, 78),
            tone(0.48, 0.012, 150),
        ),
        "shoes": (tone(0.27, 0.008, 60), tone(0.40, 0.030, 50)),
        "thing": (tone(0.42, 0.010, 240),),
    }
)


@dataclass(frozen=True, kw_only=True)
class Clothes:
    """
    What figures are coloured with.

    Parameters
    ----------
    tones : mapping of str to tuple of str
        Tones to choose from for each of ``PIECES``, ``"#rrggbb"``.
    line : str
        Colour of outlines.
    line_mm : float
        Width of outlines; 0 for none [mm].

    Raises
    ------
    SheetError
        If a piece has no tone, or a colour is not ``"#rrggbb"``.
    """

    tones: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: TONES)
    line: str = tone(0.30, 0.008, 60)
    line_mm: float = 0.13

    def __post_init__(self) -> None:
        for piece in PIECES:
            if not self.tones.get(piece):
                raise SheetError(f"Figures have no tone for {piece!r}. Give one or more.", field=piece)
        for colour in (self.line, *(colour for tones in self.tones.values() for colour in tones)):
            rgb_from_hex(colour)

    @classmethod
    def plain(cls, paper: str, line: str) -> Self:
        """All figures in one tone, told by their outlines alone."""
        return cls(tones=MappingProxyType(dict.fromkeys(PIECES, (paper,))), line=line)

    def fills(self, piece: np.ndarray, name: np.ndarray, seed: int = 0) -> np.ndarray:
        """
        Tone of each piece of a figure.

        Parameters
        ----------
        piece : ndarray of object, shape (n,)
            Any of ``PIECES``.
        name : ndarray of object, shape (n,)
            The name of the figure it belongs to.
        seed : int
            Another seed gives other clothes.

        Returns
        -------
        ndarray of object, shape (n,)
            ``"#rrggbb"``.
        """
        chance = numbers_each(len(PIECES), name, "clothes", seed)
        fills = np.full(len(piece), "", dtype=object)
        for column, word in enumerate(PIECES):
            rows = np.flatnonzero(piece == word)
            choice = np.array(self.tones[word], dtype=object)
            fills[rows] = choice[(chance[rows, column] * len(choice)).astype(int)]
        return fills
