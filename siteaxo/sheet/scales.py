"""
Drawing scales: which are listed, how they are said, and round lengths for scale bars.

References
----------
ISO 5455:1979, 5.1 (scales 1:1, 1:2, 1:5 and their tenfolds); 1:250, 1:2500 and 1:25 000 of
surveys and site plans (common practice). In feet: plans of sites at 1 in = 10, 20, 30, 40, 50, 60 or
100 ft and their tenfolds, as on an engineer's scale, and at 1/16, 1/8, 1/4, 1/2 or 1 in = 1 ft, as on
an architect's (common practice; most of them in Naval Facilities Engineering Command,
Architect-Engineer Guide, 7.8.4 and 7.8.5).
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import numpy as np

from ..errors import SheetError
from ..units import METRES_PER, MM_PER_INCH

INCHES_PER_FOOT: Final = 12.0
SITE_SCALES: Final = (250.0, 2500.0, 25000.0)
"""The x of reductions 1:x that site drawings have beside those of ISO 5455 (common practice)."""
SCALES: Final = tuple(
    sorted((*(float(step * 10**power) for power in range(7) for step in (1, 2, 5)), *SITE_SCALES))
)
"""The x of every listed reduction 1:x, from 1:1 up."""
INCHES_TO_A_FOOT: Final = MappingProxyType(
    {
        4.0: "3",
        8.0: "1 1/2",
        12.0: "1",
        16.0: "3/4",
        24.0: "1/2",
        32.0: "3/8",
        48.0: "1/4",
        64.0: "3/16",
        96.0: "1/8",
        128.0: "3/32",
        192.0: "1/16",
    }
)
"""By the x of 1:x: inches on paper that stand for one foot, as on an architect's scale."""
ENGINEERS: Final = (10, 20, 30, 40, 50, 60)
"""Feet that one inch stands for; and their tenfolds."""
ARCHITECTS: Final = (1.0, 2.0, 4.0, 8.0, 12.0, 24.0, 48.0, 96.0, 192.0)
"""The x of reductions that are half as large as one another, down to 1/16 in = 1 ft."""
SCALES_IN_FEET: Final = tuple(
    sorted((*ARCHITECTS, *(INCHES_PER_FOOT * feet * 10**power for power in range(5) for feet in ENGINEERS)))
)
"""The x of every reduction 1:x that is listed where a sheet speaks feet."""

BAR_MM: Final = 50.0
BAR_IN: Final = 2.0
"""Greatest length of a scale bar on paper, in metres [mm] and in feet [in]."""
_METRIC: Final = {1: 5, 2: 4, 5: 5}
_IN_FEET: Final = {1: 5, 2: 4, 3: 3, 4: 4, 5: 5, 6: 3, 8: 4}
"""First figures of the lengths of scale bars, and their parts."""
JUST: Final = 1e-12
"""Scales that differ by no more are one [-]."""
_FOOT_IS_FOOT: Final = 1e-5  # by less than this the two feet differ [-]


def scales_in(unit: str) -> tuple[float, ...]:
    """
    The x of the listed reductions 1:x where sheets speak a unit.

    Examples
    --------
    >>> [scale for scale in scales_in("ft") if 90 < scale < 800]
    [96.0, 120.0, 192.0, 240.0, 360.0, 480.0, 600.0, 720.0]
    """
    return SCALES if unit == "m" else SCALES_IN_FEET


def listed_or_more(denominator: float, unit: str) -> float:
    """The first listed scale that is not larger, or the number itself beyond them."""
    return next((one for one in scales_in(unit) if one >= denominator * (1 - JUST)), denominator)


def listed_at_least(denominator: float, unit: str) -> float:
    """Return the first listed scale that is not larger than 1:*denominator*."""
    for listed in scales_in(unit):
        if listed >= denominator * (1 - JUST):
            return listed
    raise SheetError(
        f"The drawing would need a scale of 1:{denominator:,.0f}; draw a smaller part of the site.",
        field="scale",
        value=f"{denominator:.0f}",
    )


def scale_words(scale: float, unit: str = "m") -> str:
    """
    Say a scale; in feet also what an inch stands for, where that is a round number.

    Parameters
    ----------
    scale : float
        The x of 1:x.
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.

    Examples
    --------
    >>> scale_words(200), scale_words(240, "ft"), scale_words(96, "ft"), scale_words(200, "ft")
    ('1:200', '1 in = 20 ft (1:240)', '1/8 in = 1 ft (1:96)', '1:200')
    """
    ratio = f"1:{scale:g}"
    if unit == "m":
        return ratio
    if scale in INCHES_TO_A_FOOT:
        return f"{INCHES_TO_A_FOOT[scale]} in = 1 ft ({ratio})"
    feet = scale / INCHES_PER_FOOT
    return f"1 in = {feet:.0f} ft ({ratio})" if feet >= 1 and feet == round(feet) else ratio


def bar_length(scale: float, unit: str = "m") -> tuple[float, int]:
    """
    Length of a scale bar and the number of its parts.

    Parameters
    ----------
    scale : float
        The x of 1:x.
    unit : {"m", "ft", "ft-us"}
        What the sheet speaks.

    Returns
    -------
    length : float
        1, 2 or 5 times a power of ten metres, or 1, 2, 3, 4, 5, 6 or 8 times one feet [m at full size].
    parts : int
        Parts of a round length each.

    Examples
    --------
    >>> bar_length(200)
    (10.0, 5)
    >>> length, parts = bar_length(240, "ft")
    >>> round(length / 0.3048, 9), parts
    (40.0, 4)
    """
    metric = unit == "m"
    room_mm = BAR_MM if metric else BAR_IN * MM_PER_INCH
    most = room_mm * scale / 1000 / METRES_PER[unit] * (1 + (JUST if metric else _FOOT_IS_FOOT))
    power, parts = 10.0 ** np.floor(np.log10(most)), _METRIC if metric else _IN_FEET
    step = max(one for one in parts if one * power <= most)
    return float(step * power) * METRES_PER[unit], parts[step]
