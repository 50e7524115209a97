"""
Lengths: metres inside the library, other units only at its doors.

References
----------
The international foot is 0.3048 m exactly; the US survey foot, 1200/3937 m, was
retired on 31 December 2022 (85 FR 62698).
"""

from __future__ import annotations

from typing import Final

from .errors import LevelError

METRES_PER: Final[dict[str, float]] = {"m": 1.0, "ft": 0.3048, "ft-us": 1200 / 3937}
MM_PER_INCH: Final = 25.4
POINTS_PER_INCH: Final = 72.0


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
