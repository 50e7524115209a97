"""
Line widths on paper: the ISO 128 series and the hierarchy of a drawing.

A width follows from five things: the kind of line, the role of what it belongs to, whether
it is the outline of the whole site, how far from the viewer it lies, and the scale. Each of
them moves the width up or down the series by whole steps.

Profile, edge and pattern are 4:2:1, each the nearest width of the series; a pattern that would
be finer than its narrowest, 0.13 mm, is that, and its paler tone keeps it below the edges. So
the ratio is exact from profiles of 0.5 mm upward, and 0.35, 0.18 and 0.13 mm at 1:500.

References
----------
ISO 128-2, line widths 0.13 to 2 mm in steps of √2; wide to narrow is 2:1, and in
construction drawings extra wide : wide : narrow is 4:2:1 (ISO 128-23:1999, from memory).
Dashed line: dash 12 d, gap 3 d, where d is the line width (ISO 128-2).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from ..checks import finite, nearest, one_of
from ..errors import SheetError
from ..plugins import is_foreign
from ..source.roles import ROLES

LINE_SERIES_MM: Final = (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
LINE_KINDS: Final = ("pattern", "hidden", "contour", "foot", "edge", "profile", "construction", "vertical")
"""Kinds of line in the order they are drawn: what comes later lies on top."""
OUTLINES: Final = ("", "site", "ground")
"""What a line outlines: nothing in particular, the site against nothing, its cut foot."""
DASH: Final = (12.0, 3.0)
"""Dash and gap of a hidden line, in line widths."""
CHAIN: Final = (24.0, 3.0, 0.5, 3.0)
"""Dash, gap, dot and gap of a chain line, in line widths (ISO 128-2)."""
KIND_STEPS: Final = MappingProxyType(
    {
        "profile": 0,
        "edge": -2,
        "foot": -3,
        "hidden": -3,
        "pattern": -4,
        "contour": -3,
        "construction": -4,
        "vertical": -1,
    }
)
"""Steps down the series from a profile: profile, edge and pattern are 4:2:1."""
ROLE_STEPS: Final[Mapping[str, int]] = MappingProxyType(
    {
        **dict.fromkeys(("structure", "roof", "canopy"), 0),
        **dict.fromkeys(("wall", "hedge", "tree", "deck"), -1),
        **dict.fromkeys(("ground", "terrace", "ramp", "steps", "planter", "seat"), -2),
        **dict.fromkeys(("lawn", "water", "paving", "path", "rail"), -3),
    }
)
"""What shapes the space is drawn heavier than the ground it stands on (common practice)."""
PROFILES_MM: Final = ((50.0, 0.7), (200.0, 0.5), (500.0, 0.35), (float("inf"), 0.25))
"""Width of a profile up to and including each 1:x."""


def no_wider(width_mm: ArrayLike, most_mm: ArrayLike) -> np.ndarray:
    """
    Narrow lines to the widest of the series that is not wider than a limit.

    Parameters
    ----------
    width_mm : array_like, shape (n,)
        Widths of the series [mm].
    most_mm : array_like, shape (n,)
        Limits; the narrowest of the series stays where a limit is below it [mm].

    Returns
    -------
    ndarray of float, shape (n,)

    Examples
    --------
    >>> no_wider([0.5, 0.5, 0.18], [0.4, 0.01, 9.0]).tolist()
    [0.35, 0.13, 0.18]
    """
    series = np.array(LINE_SERIES_MM)
    place = np.searchsorted(series, np.asarray(most_mm, dtype=float), side="right") - 1
    return np.minimum(np.asarray(width_mm, dtype=float), series[np.maximum(place, 0)])


@dataclass(frozen=True, kw_only=True)
class LineWeights:
    """
    The hierarchy of line: one width, and steps up and down the series from it.

    Parameters
    ----------
    profile_mm : float, optional
        Width of the profile of what shapes the space, one of the series [mm]; by the scale
        of the drawing, as in ``PROFILES_MM``, when left out.
    kinds : mapping of str to int
        Steps by kind of line.
    roles : mapping of str to int
        Steps by role of what the line belongs to; 0 for roles not in it.
    outline_steps, ground_line_steps : int
        Steps for profiles that stand against nothing, and for the line in which the site is cut
        off at its foot, whatever the role.
    falloff_steps : int
        Steps taken off what lies farthest from the viewer; in between as near as whole
        steps come.

    Raises
    ------
    SheetError
        If a width is not in the series, or a step, kind or role is none.

    Examples
    --------
    >>> LineWeights().widths(["profile", "edge", "pattern"], scale=100).tolist()
    [0.5, 0.25, 0.13]
    """

    profile_mm: float | None = None
    kinds: Mapping[str, int] = field(default_factory=lambda: KIND_STEPS)
    roles: Mapping[str, int] = field(default_factory=lambda: ROLE_STEPS)
    outline_steps: int = 0
    ground_line_steps: int = 1
    falloff_steps: int = 0

    def __post_init__(self) -> None:
        if self.profile_mm is not None and self.profile_mm not in LINE_SERIES_MM:
            series = ", ".join(f"{one:g}" for one in LINE_SERIES_MM)
            raise SheetError(
                f"profile_mm is {self.profile_mm!r}; ISO 128 has the widths {series} mm. Use one of them.",
                field="profile_mm",
                value=self.profile_mm,
            )
        object.__setattr__(self, "kinds", _steps(KIND_STEPS, self.kinds, LINE_KINDS, "kind of line"))
        object.__setattr__(self, "roles", _steps({}, self.roles, ROLES, "role"))
        for name in ("outline_steps", "ground_line_steps", "falloff_steps"):
            _whole(getattr(self, name), name)

    def widths(
        self,
        kinds: ArrayLike,
        *,
        roles: ArrayLike | None = None,
        outlines: ArrayLike | None = None,
        nearness: ArrayLike | None = None,
        scale: float = 200.0,
    ) -> np.ndarray:
        """
        Width of each line.

        Parameters
        ----------
        kinds : array_like of str, shape (n,)
            Any of ``LINE_KINDS``.
        roles : array_like of str, shape (n,), optional
            Role of what each line belongs to.
        outlines : array_like of str, shape (n,), optional
            Any of ``OUTLINES``.
        nearness : array_like of float, shape (n,), optional
            0 farthest from the viewer to 1 nearest [-].
        scale : float
            The x of 1:x.

        Returns
        -------
        ndarray of float, shape (n,)
            Widths of the series; what would be narrower than its narrowest is that [mm].

        Raises
        ------
        SheetError
            If a kind or an outline is unknown.
        """
        by_kind = np.array([self.kinds[kind] for kind in LINE_KINDS])
        step = by_kind[kind_ranks(kinds)]
        if roles is not None:
            step = step + _looked_up(self.roles, roles)
        if outlines is not None:
            which = ranks_in(outlines, OUTLINES, "outline")
            # The outline of a site is one line all round, whatever it is the outline of.
            step = np.where(
                which == 0, step, np.array([0, self.outline_steps, self.ground_line_steps])[which]
            )
        if nearness is not None:
            away = 1.0 - np.clip(np.nan_to_num(np.asarray(nearness, dtype=float), nan=1.0), 0.0, 1.0)
            step = step - np.rint(self.falloff_steps * away).astype(int)
        first = LINE_SERIES_MM.index(self.profile_at(scale))
        return np.array(LINE_SERIES_MM)[np.clip(first + step, 0, len(LINE_SERIES_MM) - 1)]

    def profile_at(self, scale: float) -> float:
        """
        Width of the profile of what shapes the space at 1:*scale* [mm].

        Examples
        --------
        >>> LineWeights().profile_at(500)
        0.35
        """
        finite(scale, "scale", SheetError, least=0.0)
        return self.profile_mm or next(width for most, width in PROFILES_MM if scale <= most)

    def of(self, kind: str, scale: float) -> float:
        """Width of one kind of line of what shapes the space at 1:*scale* [mm]."""
        return float(self.widths([kind], scale=scale)[0])


def _steps(usual: Mapping[str, int], given: Mapping[str, int], known: object, name: str) -> Mapping[str, int]:
    """Check a table of steps, and fill it up with the usual ones."""
    for word, step in given.items():
        if not is_foreign(word):
            one_of(word, list(known), name, SheetError)  # type: ignore[call-overload]
        _whole(step, f"steps of {name} {word!r}")
    return MappingProxyType({**usual, **given})


def _whole(step: object, name: str) -> None:
    if isinstance(step, bool) or not isinstance(step, int) or abs(step) > len(LINE_SERIES_MM):
        raise SheetError(
            f"{name} is {step!r}; give a whole number of steps, e.g. -1 for one step finer.",
            field=name,
            value=step,
        )


def _looked_up(table: Mapping[str, int], words: ArrayLike) -> np.ndarray:
    place, names = pd.factorize(np.asarray(words, dtype=object))
    return np.array([table.get(str(name), 0) for name in names], dtype=int)[place]


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
    [5, 3]
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
    given = np.asarray(words, dtype=object)
    place, distinct = pd.factorize(given.ravel())
    for word in (*distinct, *given.ravel()[place < 0][:1]):
        if word not in known:
            raise SheetError(f"Unknown {name} {word!r}. {nearest(str(word), known)}", field=name, value=word)
    ranks = np.array([known.index(word) for word in distinct], dtype=np.int64)
    return ranks[place].reshape(given.shape)
