"""
Colour arithmetic: sRGB, OKLab, contrast and grey.

Colours are ``"#rrggbb"`` at the doors and arrays with three columns inside.

References
----------
IEC 61966-2-1 (sRGB transfer function); B. Ottosson, "A perceptual color space for
image processing" (2020), for OKLab; WCAG 2.2 §1.4.3 for relative luminance and contrast.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from ..errors import SheetError

_LMS_FROM_LINEAR: Final = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_LAB_FROM_ROOTS: Final = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_LINEAR_FROM_LMS: Final = np.linalg.inv(_LMS_FROM_LINEAR)
_ROOTS_FROM_LAB: Final = np.linalg.inv(_LAB_FROM_ROOTS)
_LUMINANCE: Final = np.array([0.2126, 0.7152, 0.0722])
_HEX: Final = re.compile(r"#[0-9a-fA-F]{6}")


def rgb_from_hex(colour: str) -> np.ndarray:
    """
    sRGB of a colour.

    Parameters
    ----------
    colour : str
        As ``"#rrggbb"``.

    Returns
    -------
    ndarray, shape (3,)
        Red, green and blue, 0 to 1.

    Raises
    ------
    SheetError
        If it is not written like that.

    Examples
    --------
    >>> rgb_from_hex("#ff0033").tolist()
    [1.0, 0.0, 0.2]
    """
    if not isinstance(colour, str) or not _HEX.fullmatch(colour):
        raise SheetError(f"A colour is written '#rrggbb', not {colour!r}.", value=colour)
    return np.frombuffer(bytes.fromhex(colour[1:]), dtype=np.uint8) / 255


def hex_from_rgb(rgb: ArrayLike) -> str:
    """
    Write an sRGB colour as ``"#rrggbb"``, clipped to what a screen can show.

    Examples
    --------
    >>> hex_from_rgb([1.0, 0.0, 0.2])
    '#ff0033'
    """
    steps = np.clip(np.rint(np.asarray(rgb, dtype=float) * 255), 0, 255).astype(np.uint8)
    return "#" + steps.tobytes().hex()


def linear_from_rgb(rgb: ArrayLike) -> np.ndarray:
    """Undo the sRGB transfer function, shape (..., 3)."""
    values = np.asarray(rgb, dtype=float)
    return np.where(values <= 0.04045, values / 12.92, ((np.maximum(values, 0.0) + 0.055) / 1.055) ** 2.4)


def rgb_from_linear(linear: ArrayLike) -> np.ndarray:
    """Apply the sRGB transfer function, shape (..., 3); negative light becomes none."""
    values = np.maximum(np.asarray(linear, dtype=float), 0.0)
    return np.where(values <= 0.0031308, values * 12.92, 1.055 * values ** (1 / 2.4) - 0.055)


def oklab_from_rgb(rgb: ArrayLike) -> np.ndarray:
    """
    OKLab of sRGB colours.

    Parameters
    ----------
    rgb : array_like, shape (..., 3)
        Red, green and blue, 0 to 1.

    Returns
    -------
    ndarray, shape (..., 3)
        Lightness 0 to 1, green to red, blue to yellow.

    References
    ----------
    B. Ottosson (2020), "A perceptual color space for image processing".

    Examples
    --------
    >>> oklab_from_rgb([1, 1, 1]).round(6).tolist()
    [1.0, 0.0, 0.0]
    """
    roots = np.cbrt(linear_from_rgb(rgb) @ _LMS_FROM_LINEAR.T)
    return np.asarray(roots @ _LAB_FROM_ROOTS.T) + 0.0


def rgb_from_oklab(lab: ArrayLike) -> np.ndarray:
    """Return the sRGB colours of OKLab values, shape (..., 3); may lie outside 0 to 1."""
    roots = np.asarray(lab, dtype=float) @ _ROOTS_FROM_LAB.T
    return rgb_from_linear(roots**3 @ _LINEAR_FROM_LMS.T)


def tone(lightness: float, chroma: float, hue: float) -> str:
    """
    Make a colour from its lightness, its strength and its hue in OKLab.

    Parameters
    ----------
    lightness : float
        0 black to 1 white.
    chroma : float
        Distance from grey, 0 to about 0.3.
    hue : float
        Angle from red towards yellow [degrees].

    Returns
    -------
    str
        As ``"#rrggbb"``.

    Examples
    --------
    >>> tone(1.0, 0.0, 0.0)
    '#ffffff'
    """
    angle = np.radians(hue)
    return hex_from_rgb(rgb_from_oklab([lightness, chroma * np.cos(angle), chroma * np.sin(angle)]))


def darker(colour: str, by: float) -> str:
    """
    Lower the lightness of a colour in OKLab and keep its hue.

    Chroma falls in the ratio of the lightness, so that shade does not turn gaudy.

    Parameters
    ----------
    colour : str
        As ``"#rrggbb"``.
    by : float
        Step of lightness, 0 to 1; negative makes it lighter.

    Returns
    -------
    str
        As ``"#rrggbb"``.

    Examples
    --------
    >>> darker("#ffffff", 1.0)
    '#000000'
    """
    lab = oklab_from_rgb(rgb_from_hex(colour))
    lightness = float(np.clip(lab[0] - by, 0.0, 1.0))
    ratio = lightness / lab[0] if lab[0] > 0 else 0.0
    return hex_from_rgb(rgb_from_oklab([lightness, *(lab[1:] * min(ratio, 1.0))]))


def luminance(colour: str) -> float:
    """Relative luminance of a colour, 0 to 1 (WCAG 2.2)."""
    return float(linear_from_rgb(rgb_from_hex(colour)) @ _LUMINANCE)


def contrast(one: str, other: str) -> float:
    """
    Contrast ratio of two colours, 1 to 21.

    References
    ----------
    WCAG 2.2 §1.4.3: (L₁ + 0.05) / (L₂ + 0.05), the lighter above.

    Examples
    --------
    >>> contrast("#000000", "#ffffff")
    21.0
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def laid_over(tone: str, under: str, opacity: float) -> str:
    """
    Return what is seen of a colour under another one that lets it through, as screens and printers mix them.

    Examples
    --------
    >>> laid_over("#000000", "#808080", 0.25)
    '#606060'
    """
    above, below = rgb_from_hex(tone), rgb_from_hex(under)
    return hex_from_rgb(opacity * above + (1.0 - opacity) * below)


def readable_under(ink: str, fill: str, paper: str, least: float) -> str:
    """
    Return the tone nearest to a fill, on its way to the paper, on which an ink can be read.

    Parameters
    ----------
    ink, fill, paper : str
        Colours, ``"#rrggbb"``.
    least : float
        Least contrast [-].

    Returns
    -------
    str
        The fill itself where it will do, and the paper where nothing between does.

    Examples
    --------
    >>> readable_under("#000000", "#777777", "#ffffff", 3.0)
    '#777777'
    >>> readable_under("#000000", "#000000", "#ffffff", 21)
    '#ffffff'
    """
    from_, to = (oklab_from_rgb(rgb_from_hex(one)) for one in (fill, paper))
    for share in np.linspace(0.0, 1.0, 21):
        tone_there = hex_from_rgb(rgb_from_oklab(from_ + share * (to - from_))) if share else fill
        if contrast(ink, tone_there) >= least:
            return tone_there
    return paper


def grey(colour: str) -> str:
    """
    Return the grey of the same luminance, as a black and white print shows it.

    Examples
    --------
    >>> grey("#777777")
    '#777777'
    """
    return hex_from_rgb(rgb_from_linear(np.full(3, luminance(colour))))


def difference(one: str, other: str) -> float:
    """
    Distance of two colours in OKLab; about 0.02 is just noticeable (common practice).

    Examples
    --------
    >>> difference("#336699", "#336699")
    0.0
    """
    return float(np.linalg.norm(oklab_from_rgb(rgb_from_hex(one)) - oklab_from_rgb(rgb_from_hex(other))))
