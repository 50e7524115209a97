"""
Colours in less of the same light, by steps of lightness that look alike from white to black.
"""

from __future__ import annotations

from .colours import hex_from_rgb, linear_from_rgb, rgb_from_hex, rgb_from_linear
from .sight import lab_from_rgb


def lightness(colour: str) -> float:
    """
    CIE L* of a colour, 0 to 100.

    Examples
    --------
    >>> round(lightness("#777777"), 1)
    50.0
    """
    return float(lab_from_rgb(rgb_from_hex(colour))[0])


def dimmed(colour: str, by: float) -> str:
    """
    Lower the lightness of a colour; its hue stays, and its chroma falls with its lightness.

    Parameters
    ----------
    colour : str
        As ``"#rrggbb"``.
    by : float
        Step of CIE L*, down to black at the most.

    Returns
    -------
    str
        As ``"#rrggbb"``.

    References
    ----------
    CIE 15, L* of luminance and back.

    Examples
    --------
    >>> dimmed("#777777", 0.0), dimmed("#777777", 60.0)
    ('#777777', '#000000')
    """
    before = _luminance(lightness(colour))
    after = _luminance(max(lightness(colour) - by, 0.0))
    light = linear_from_rgb(rgb_from_hex(colour))
    return hex_from_rgb(rgb_from_linear(light * (after / before))) if before else colour


def _luminance(bright: float) -> float:
    """Share of the light of white that has a lightness L*."""
    return ((bright + 16) / 116) ** 3 if bright > 8 else bright * (3 / 29) ** 3
