"""
Line widths on paper: the ISO 128 series and the hierarchy of the kinds of line.

References
----------
ISO 128-2, line widths 0.13 to 2 mm in steps of √2; wide to narrow is 2:1, and in
construction drawings extra wide : wide : narrow is 4:2:1 (ISO 128-23:1999, from memory).
Dashed line: dash 12 d, gap 3 d, where d is the line width (ISO 128-2).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final, Self

import numpy as np
from numpy.typing import ArrayLike

from ..checks import finite, nearest
from ..errors import SheetError

LINE_SERIES_MM: Final = (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
LINE_KINDS: Final = ("hidden", "foot", "edge", "profile")
"""Kinds of line in the order they are drawn: what comes later lies on top."""
DASH: Final = (12.0, 3.0)
"""Dash and gap of a hidden line, in line widths."""


def snapped_mm(width_mm: ArrayLike) -> np.ndarray:
    """
    Return the width of the ISO 128 series that is nearest in ratio.

    Parameters
    ----------
    width_mm : array_like of float, any shape
        Wanted widths, greater than zero [mm].

    Returns
    -------
    ndarray of float, same shape
        Widths of the series [mm].

    Raises
    ------
    SheetError
        If a width is not finite and positive.

    Examples
    --------
    >>> snapped_mm([0.28, 0.125, 5.0]).tolist()
    [0.25, 0.13, 2.0]
    """
    wanted = np.asarray(width_mm, dtype=float)
    if not (np.isfinite(wanted) & (wanted > 0)).all():
        raise SheetError("Line widths must be finite and greater than zero, in millimetres.")
    series = np.array(LINE_SERIES_MM)
    distance = np.abs(np.log(wanted)[..., np.newaxis] - np.log(series))
    return series[distance.argmin(axis=-1)]


@dataclass(frozen=True, kw_only=True)
class LineWeights:
    """
    Width of each kind of line on paper; each a width of the ISO 128 series.

    Parameters
    ----------
    profile_mm : float
        Where a thing stands against something farther away or against nothing [mm].
    edge_mm : float
        Between two visible faces [mm].
    foot_mm : float
        Where a thing meets what it stands on [mm].
    hidden_mm : float
        What is hidden, where it is shown at all [mm].

    Raises
    ------
    SheetError
        If a width is not in the series.
    """

    profile_mm: float = 0.35
    edge_mm: float = 0.18
    foot_mm: float = 0.13
    hidden_mm: float = 0.13

    def __post_init__(self) -> None:
        for field in fields(self):
            width = finite(getattr(self, field.name), field.name, SheetError)
            if width not in LINE_SERIES_MM:
                series = ", ".join(f"{one:g}" for one in LINE_SERIES_MM)
                raise SheetError(
                    f"{field.name} is {width:g}; ISO 128 has the widths {series} mm. Use one of them."
                )

    @classmethod
    def from_profile(cls, profile_mm: float) -> Self:
        """
        Make the 4:2:1 hierarchy below a profile width, snapped to the series.

        Examples
        --------
        >>> LineWeights.from_profile(0.7)
        LineWeights(profile_mm=0.7, edge_mm=0.35, foot_mm=0.18, hidden_mm=0.18)
        """
        wide, middle, narrow = snapped_mm(np.array([1.0, 0.5, 0.25]) * profile_mm).tolist()
        return cls(profile_mm=wide, edge_mm=middle, foot_mm=narrow, hidden_mm=narrow)

    @classmethod
    def at_scale(cls, scale: float) -> Self:
        """
        Make the hierarchy that reads well at 1:*scale*: finer where things are smaller.

        The profile is 0.5 mm to 1:100, 0.35 mm to 1:250 and 0.25 mm beyond.

        Examples
        --------
        >>> LineWeights.at_scale(200) == LineWeights()
        True
        """
        finite(scale, "scale", SheetError, least=0.0)
        return cls.from_profile(0.5 if scale <= 100 else 0.35 if scale <= 250 else 0.25)

    def of(self, kinds: ArrayLike) -> np.ndarray:
        """
        Width of each kind of line.

        Parameters
        ----------
        kinds : array_like of str, shape (n,)
            Any of ``LINE_KINDS``.

        Returns
        -------
        ndarray of float, shape (n,)
            Line widths [mm].

        Raises
        ------
        SheetError
            If a kind is unknown.
        """
        return np.array([self.hidden_mm, self.foot_mm, self.edge_mm, self.profile_mm])[kind_ranks(kinds)]


def kind_ranks(kinds: ArrayLike) -> np.ndarray:
    """
    Place of each kind of line in the drawing order, 0 undermost.

    Raises
    ------
    SheetError
        If a kind is unknown.

    Examples
    --------
    >>> kind_ranks(["profile", "foot"]).tolist()
    [3, 1]
    """
    return ranks_in(kinds, LINE_KINDS, "kind of line")


def ranks_in(words: ArrayLike, known: tuple[str, ...], name: str) -> np.ndarray:
    """
    Position of each word in *known*, as an integer array of the same shape.

    Raises
    ------
    SheetError
        If a word is not known; the message names the nearest.

    Examples
    --------
    >>> ranks_in(["b", "a", "b"], ("a", "b"), "letter").tolist()
    [1, 0, 1]
    """
    given = np.asarray(words, dtype=str)
    ranks = np.full(given.shape, -1, dtype=np.int64)
    for rank, word in enumerate(known):
        ranks[given == word] = rank
    if (ranks < 0).any():
        word = str(given[ranks < 0].flat[0])
        raise SheetError(f"Unknown {name} {word!r}. {nearest(word, known)}")
    return ranks
