"""
Sines and cosines in degrees, exact where the exact value is a short one.

``math.cos(math.radians(90))`` is 6e-17, which is enough to lean a wall that
should be edge-on. Multiples of 30 and 45 degrees are answered from a table.
"""

from __future__ import annotations

import math

_HALF_ROOT_2 = math.sqrt(0.5)
_HALF_ROOT_3 = math.sqrt(0.75)
_FIRST_QUADRANT = {0.0: 0.0, 30.0: 0.5, 45.0: _HALF_ROOT_2, 60.0: _HALF_ROOT_3, 90.0: 1.0}


def sin_deg(angle: float) -> float:
    """
    Sine of an angle in degrees, exact at multiples of 30 and 45.

    Parameters
    ----------
    angle : float
        Angle [degrees].

    Returns
    -------
    float
        Its sine [-].

    Examples
    --------
    >>> sin_deg(30), sin_deg(180), sin_deg(-90)
    (0.5, 0.0, -1.0)
    """
    turned = math.fmod(angle, 360.0)
    if turned < 0:
        turned += 360.0
    sign = 1.0
    if turned >= 180.0:
        turned, sign = turned - 180.0, -1.0
    if turned > 90.0:
        turned = 180.0 - turned
    value = _FIRST_QUADRANT.get(turned)
    if value is None:
        value = math.sin(math.radians(turned))
    return sign * value if value else 0.0


def cos_deg(angle: float) -> float:
    """
    Cosine of an angle in degrees, exact at multiples of 30 and 45.

    Examples
    --------
    >>> cos_deg(60), cos_deg(90), cos_deg(180)
    (0.5, 0.0, -1.0)
    """
    return sin_deg(math.fmod(angle, 360.0) + 90.0)
