"""
From which figures on a place is one to look at.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

from ..checks import finite
from ..errors import LevelError
from ..saying import short, unusual
from ..solids import limits

INCH: Final = limits.INCH


@dataclass(frozen=True, kw_only=True)
class CautionLimits:
    """
    Thresholds of cautions.

    They say where to look, not what is right: local codes govern, and what is within
    them may still not be allowed. Lengths in metres, slopes as rise by run.

    Parameters
    ----------
    ramp_slope_most : float
        Running slope of ramps; 2010 ADA Standards §405.2.
    ramp_rise_most : float
        Rise of one run between landings; §405.6.
    landing_least : float
        Length of landings at the ends and between the runs of ramps; §405.7.
    riser_least, riser_most, tread_least : float
        Steps; §504.2 (and International Building Code §1011.5.2).
    riser_difference_most : float
        By how much risers of a flight may differ; International Building Code §1011.5.4,
        3/8 in (from memory).
    stride_least, stride_most : float
        Two risers and a tread; common practice, 22 to 30 in.
    flight_risers_least : int
        Flights of fewer risers are easily overlooked; common practice.
    drop_most : float
        Drop along an edge that nothing guards; International Building Code §1015.
    guard_least : float
        Height of guards; International Building Code §1015, 42 in. What rises by less than
        0.9 m is taken for no guard at all.
    guard_low_length_least : float
        A guard that is low along less of an edge, such as at its end, is passed over; common
        practice, about the width of a person. Edges without any guard are told however short.
    headroom_least, headroom_low : float
        Clear height over what is walked on; what hangs lower than *headroom_low* is taken
        for furniture. 2010 ADA Standards §307.2 and §307.4, 80 in and 27 in (from memory).
    walk_slope_most, cross_slope_most : float
        Running slope and cross slope of walks; §403.3.
    paving_fall_least : float
        Fall of paving, so that it drains; common practice.

    Raises
    ------
    LevelError
        If one is not finite or is negative.

    Examples
    --------
    >>> round(1 / CautionLimits().ramp_slope_most)
    12
    """

    ramp_slope_most: float = limits.RAMP_SLOPE_MOST
    ramp_rise_most: float = limits.RAMP_RISE_MOST
    landing_least: float = limits.RAMP_LANDING_LEAST
    riser_least: float = limits.RISER_LEAST
    riser_most: float = limits.RISER_MOST
    tread_least: float = limits.TREAD_LEAST
    riser_difference_most: float = 0.375 * INCH
    stride_least: float = 22 * INCH
    stride_most: float = 30 * INCH
    flight_risers_least: int = 3
    drop_most: float = limits.DROP_MOST
    guard_least: float = limits.GUARD_HEIGHT
    guard_low_length_least: float = 0.5
    headroom_least: float = 80 * INCH
    headroom_low: float = 27 * INCH
    walk_slope_most: float = limits.WALK_SLOPE_MOST
    cross_slope_most: float = limits.WALK_CROSS_SLOPE_MOST
    paving_fall_least: float = 0.01

    def __post_init__(self) -> None:
        for one in fields(self):
            finite(getattr(self, one.name), one.name, LevelError, least=0.0)

    def __repr__(self) -> str:
        own = {said.split()[0] for said in unusual(self)}
        lines = [
            f"  {one.name:<21} {short(getattr(self, one.name))}"
            f"{f' (usual: {short(one.default)})' if one.name in own else ''}"
            for one in fields(self)
        ]
        return "\n".join(["<CautionLimits>", *lines])
