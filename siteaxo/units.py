"""
Lengths: metres inside the library, other units only at its doors.

What comes in is turned into metres by :func:`metres_per`; what goes onto paper is turned into words
here, and nowhere else: levels, lengths, areas and volumes in the unit that a sheet speaks. Feet are
decimal feet, to hundredths for levels; areas are square feet and volumes cubic yards.

References
----------
The international foot is 0.3048 m exactly, and 12 in; the US survey foot, 1200/3937 m, was
retired on 31 December 2022 (85 FR 62698). Decimal feet, to hundredths on pavements and structures:
Naval Facilities Engineering Command, Architect-Engineer Guide, on grading plans. Earth in cubic
yards of 27 cubic feet: common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from .errors import LevelError

METRES_PER: Final[dict[str, float]] = {"m": 1.0, "ft": 0.3048, "ft-us": 1200 / 3937}
MM_PER_INCH: Final = 25.4
POINTS_PER_INCH: Final = 72.0
CUBIC_FEET_PER_YARD: Final = 27.0


@dataclass(frozen=True, kw_only=True)
class Measure:
    """
    What a sheet says areas, lengths or volumes in.

    Parameters
    ----------
    word : str
        What stands after the figure.
    metric : float
        Metres, square metres or cubic metres in one.
    fewer : int
        By how many decimals it is said more coarsely than in metres.
    """

    word: str
    metric: float
    fewer: int = 0


def _feet(foot: float) -> dict[str, Measure]:
    return {
        "m": Measure(word="ft", metric=foot),
        "m²": Measure(word="sq ft", metric=foot**2, fewer=1),
        "m³": Measure(word="cu yd", metric=CUBIC_FEET_PER_YARD * foot**3),
    }


MEASURES: Final = MappingProxyType(
    {
        "m": {word: Measure(word=word, metric=1.0) for word in ("m", "m²", "m³")},
        "ft": _feet(METRES_PER["ft"]),
        "ft-us": _feet(METRES_PER["ft-us"]),
    }
)
"""By unit and by "m", "m²" or "m³": what is said."""
LEVELS_IN: Final = MappingProxyType({"m": "metres", "ft": "feet", "ft-us": "US survey feet"})
"""What levels without a unit are in."""
_SAID: Final = re.compile(r"([+-]?)([0-9]+(?:\.([0-9]+))?) (m|m²|m³)")


def metres_per(unit: str) -> float:
    """
    Metres in one *unit*.

    Parameters
    ----------
    unit : {"m", "ft", "ft-us"}
        Metre, international foot, or US survey foot.

    Raises
    ------
    LevelError
        If the unit is none of these.

    Examples
    --------
    >>> metres_per("ft")
    0.3048
    """
    try:
        return METRES_PER[unit]
    except KeyError:
        known = ", ".join(METRES_PER)
        raise LevelError(
            f"Unknown unit {unit!r}: use one of {known}; convert others first, cm by dividing by 100.",
            field="unit",
            value=unit,
        ) from None


def points_from_mm(length_mm: float) -> float:
    """
    Typographic points in a paper length [mm].

    Examples
    --------
    >>> points_from_mm(25.4)
    72.0
    """
    return length_mm * POINTS_PER_INCH / MM_PER_INCH


def level_words(level: float, unit: str = "m") -> str:
    """
    Write a level with two decimals, as on a mark, which does not say its unit.

    Parameters
    ----------
    level : float
        Level [m].
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.

    Examples
    --------
    >>> level_words(-0.5), level_words(30.9372, "ft")
    ('−0.50', '101.50')
    """
    return f"{level / METRES_PER[unit]:.2f}".replace("-", "−")


def length_words(length: float, unit: str = "m", *, decimals: int = 2) -> str:
    """
    Write a length, or a level that stands alone, with its unit.

    Parameters
    ----------
    length : float
        Length [m].
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.
    decimals : int
        Figures after the point.

    Examples
    --------
    >>> length_words(30.48), length_words(30.48, "ft"), length_words(0.762, "ft", decimals=3)
    ('30.48 m', '100.00 ft', '2.500 ft')
    """
    said = f"{length / METRES_PER[unit]:.{decimals}f} {MEASURES[unit]['m'].word}"
    return said.replace("-", "−")


def said_again(words: Any, unit: str) -> str:
    """
    Say in another unit a figure that was written in metres; other words are left as they are.

    What was rounded already is said no more finely, so that a hundredth of a metre becomes a
    tenth of a foot.

    Parameters
    ----------
    words : str
        A figure with "m", "m²" or "m³", or anything else.
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.

    Examples
    --------
    >>> said_again("0.75 m", "ft"), said_again("12.3 m²", "ft"), said_again("1:12.0", "ft")
    ('2.5 ft', '132 sq ft', '1:12.0')
    """
    found = _SAID.fullmatch(str(words))
    if unit == "m" or found is None:
        return str(words)
    sign, figure, behind, metric = found.groups()
    measure = MEASURES[unit][metric]
    decimals = max(len(behind or "") - 1, 0)
    return f"{sign}{float(figure) / measure.metric:.{decimals}f} {measure.word}"
