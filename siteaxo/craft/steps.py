"""
The steps in which a drawing comes about, from the square plan to planting, people and colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..checks import one_of
from ..diagram.tiers import tiers_by
from ..errors import ViewError
from ..solids.stack import Stack
from ..units import MEASURES
from .style import Style

STEPS: Final = ("plan", "turned", "outlines", "raised", "joined", "removed", "finished")
"""Steps in the order in which a drawing is made by hand (common practice)."""
MOST: Final = 3
"""Frames in which heights are raised, unless more are asked for."""


@dataclass(frozen=True, kw_only=True)
class Rise:
    """
    One frame of raising heights.

    Parameters
    ----------
    since, newest : int
        First and last group that is raised in it.
    words : str
        Their levels.
    """

    since: int
    newest: int
    words: str


def checked_steps(steps: Sequence[str]) -> tuple[str, ...]:
    """
    Return steps that are all known.

    Raises
    ------
    ViewError
        If there is none, or one is unknown.

    Examples
    --------
    >>> checked_steps(["turned", "joined"])
    ('turned', 'joined')
    """
    asked = (steps,) if isinstance(steps, str) else tuple(steps)
    if not asked:
        raise ViewError(
            f"There is no step to draw; give some of {', '.join(STEPS)}.", field="steps", value=steps
        )
    for step in asked:
        one_of(step, STEPS, "step", ViewError)
    return asked


def rises_of(stack: Stack, most: int, *, unit: str = "m") -> tuple[np.ndarray, list[Rise]]:
    """
    Part a site into groups that are raised one after another, terrace by terrace from the lowest.

    Parameters
    ----------
    stack : Stack
        The site.
    most : int
        Frames at most; neighbouring terraces share a frame where there are more of them.
    unit : {"m", "ft", "ft-us"}
        What their words speak.

    Returns
    -------
    group : ndarray of int, shape (n,)
        Group of each feature.
    rises : list of Rise

    Raises
    ------
    ViewError
        If *most* is not a whole number above zero.
    """
    if isinstance(most, bool) or not isinstance(most, int) or most < 1:
        raise ViewError(f"frames is {most!r}; give a whole number from 1.", field="frames", value=most)
    features = stack.features
    if not np.isin(features.of_role("name"), ("ground", "terrace")).any():
        return np.zeros(len(features), dtype=np.int64), [Rise(since=0, newest=0, words="")]
    tiers = tiers_by(stack, "terrace", unit=unit)
    parts = np.array_split(np.arange(len(tiers)), min(most, len(tiers)))
    return tiers.feature, [
        Rise(since=int(part[0]), newest=int(part[-1]), words=_levels(tiers.names, part, unit))
        for part in parts
    ]


def _levels(names: tuple[str, ...], part: np.ndarray, unit: str) -> str:
    """Say which levels a frame raises: "level 12.00 m", "levels 12.00 to 13.20 m"."""
    first, last = (names[k].removeprefix("Level ") for k in (part[0], part[-1]))
    ground, word = first == names[part[0]], f" {MEASURES[unit]['m'].word}"
    if len(part) == 1:
        return first.lower() if ground else f"level {first}"
    return f"{first.lower()} to {last}" if ground else f"levels {first.removesuffix(word)} to {last}"


def sketched(style: Style) -> Style:
    """
    Return a style in line only: no tones and no patterns, lines as they are.

    Examples
    --------
    >>> sketched(Style()).fills(["lawn"], [""], [2]).tolist()
    ['#ffffff']
    """
    return replace(
        style,
        name=f"{style.name}, line only",
        tones={},
        materials={},
        neutral=style.paper,
        shade=0.0,
        crown_shade=0.0,
        finishes={},
    )


def finish_in_words(*, planting: bool, people: bool) -> str:
    """
    Caption of the last step.

    Examples
    --------
    >>> finish_in_words(planting=True, people=False)
    'Planting and colour'
    """
    words = [*(["planting"] if planting else []), *(["people"] if people else []), "colour"]
    text = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
    return text[0].upper() + text[1:]
