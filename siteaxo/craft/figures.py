"""
All figures with their sizes, and which suit where people are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final

from shapely import Polygon

from . import poses, wheels
from .poses import Pieces, outline_of

Stature = tuple[float, float]

MEN: Final[Stature] = (1.76, 0.07)
WOMEN: Final[Stature] = (1.62, 0.065)
CHILDREN: Final[Stature] = (1.27, 0.02)
"""
Mean height and its spread [m]; the means of adults are those of the USA in 2011-14
(NCHS Series 3 No. 39), spreads and children from memory.
"""
ADULTS: Final = (MEN, WOMEN)


@dataclass(frozen=True, kw_only=True)
class Figure:
    """
    One figure.

    Parameters
    ----------
    name : str
        What it is doing.
    pieces : tuple of (str, Polygon)
        Flat pieces at a height of one, none over another.
    statures : tuple of (float, float)
        Heights it may be drawn at: mean and spread of each kind of person [m].
    people : int
        How many persons it shows.
    """

    name: str
    pieces: Pieces
    statures: tuple[Stature, ...] = ADULTS
    people: int = 1

    @property
    def outline(self) -> Polygon:
        """The whole figure as one shape, of one part or several."""
        return outline_of(self.pieces)

    @property
    def reach(self) -> float:
        """How far it extends to either side of its stand point, by the metre of height [-]."""
        return float(max(max(-piece.bounds[0], piece.bounds[2]) for _, piece in self.pieces))


NAMES: Final = (
    "walking",
    "strolling",
    "standing",
    "waiting",
    "pair",
    "seated",
    "seated front",
    "child",
    "hand in hand",
    "with dog",
    "cyclist",
    "wheelchair",
)

ON_PATHS: Final[Mapping[str, float]] = MappingProxyType(
    {"walking": 4, "strolling": 3, "hand in hand": 1, "with dog": 1, "cyclist": 1, "wheelchair": 0.6}
)
AT_EASE: Final[Mapping[str, float]] = MappingProxyType(
    {
        "standing": 3,
        "waiting": 3,
        "pair": 3,
        "walking": 2,
        "strolling": 2,
        "child": 1.5,
        "hand in hand": 1,
        "wheelchair": 0.4,
    }
)
NEAR_SEATS: Final[Mapping[str, float]] = MappingProxyType({"pair": 3, "standing": 1, "waiting": 1})
"""How often each figure is seen in a place, relative to the others there."""


@cache
def figures() -> tuple[Figure, ...]:
    """
    Return every figure, in the order of ``NAMES``.

    Examples
    --------
    >>> [figure.name for figure in figures()] == list(NAMES)
    True
    """
    drawn: dict[str, Figure] = {
        "walking": Figure(name="walking", pieces=poses.walking()),
        "strolling": Figure(name="strolling", pieces=poses.strolling()),
        "standing": Figure(name="standing", pieces=poses.standing(), statures=(MEN,)),
        "waiting": Figure(name="waiting", pieces=poses.waiting(), statures=(WOMEN,)),
        "pair": Figure(name="pair", pieces=poses.pair(), people=2),
        "seated": Figure(name="seated", pieces=poses.seated()),
        "seated front": Figure(name="seated front", pieces=poses.seated_front()),
        "child": Figure(name="child", pieces=poses.child(), statures=(CHILDREN,)),
        "hand in hand": Figure(name="hand in hand", pieces=poses.hand_in_hand(), people=2),
        "with dog": Figure(name="with dog", pieces=wheels.with_dog()),
        "cyclist": Figure(name="cyclist", pieces=wheels.cyclist()),
        "wheelchair": Figure(name="wheelchair", pieces=wheels.wheelchair()),
    }
    return tuple(drawn[name] for name in NAMES)
