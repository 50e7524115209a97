"""
Usual limits of steps, ramps and walks, each with where it comes from.

They are thresholds for findings and defaults for dimensions that nobody gave; local
codes govern.
"""

from __future__ import annotations

from typing import Final

INCH: Final = 0.0254  # m, exact
KEPT: Final = 1e-5
"""A limit is kept by what is beyond it by no more [m, or -]; feet of US surveys are longer by 2e-6."""

RISER_LEAST: Final = 4 * INCH  # 2010 ADA Standards §504.2 [m]
RISER_MOST: Final = 7 * INCH  # 2010 ADA Standards §504.2 [m]
TREAD_LEAST: Final = 11 * INCH  # 2010 ADA Standards §504.2 [m]
RAMP_SLOPE_MOST: Final = 1 / 12  # 2010 ADA Standards §405.2 [-]
RAMP_RISE_MOST: Final = 30 * INCH  # of one run: 2010 ADA Standards §405.6 [m]
RAMP_LANDING_LEAST: Final = 60 * INCH  # 2010 ADA Standards §405.7 [m]
WALK_SLOPE_MOST: Final = 1 / 20  # steeper walks are ramps: 2010 ADA Standards §403.3 [-]
WALK_CROSS_SLOPE_MOST: Final = 1 / 48  # 2010 ADA Standards §403.3 [-]
DROP_MOST: Final = 30 * INCH  # without a guard: IBC §1015 [m]
DROP_REACH: Final = 36 * INCH  # so near to the edge a drop or a guard counts: IBC §1015 [m]
GUARD_HEIGHT: Final = 42 * INCH  # IBC §1015 [m]
GUARD_LEAST: Final = 0.9  # what is lower than this is no guard at all; common practice [m]

RISER: Final = 0.15  # to aim for where none is given, common practice [m]
STEP: Final = 0.63  # two risers and a tread of a comfortable step, common practice [m]
FLIGHT_RISERS_MOST: Final = 12  # between landings, where landings are wanted; common practice [-]
NOTICED: Final = 0.01  # share of a surface that must be too steep or too flat to be told [-]
POST_SPACING: Final = 1.5  # of rails, where none is given; common practice [m]


def comfortable_tread(riser: float) -> float:
    """
    Tread that goes with a riser: two risers and a tread make one step.

    Examples
    --------
    >>> round(comfortable_tread(0.15), 3)
    0.33
    """
    return STEP - 2 * riser
