"""
What a sheet says in words: the view, the alternative text, and text from data made safe.
"""

from __future__ import annotations

import math
import unicodedata
from typing import Final

import numpy as np

from ..diagram.layers import DiagramLayers, ViewRecord
from .page import Placement

CAUTION: Final = (
    "Diagram. Not for construction or setting out. Levels as supplied. "
    "Check local codes with a licensed professional."
)
_PARTS: Final = (
    (1.0, "full scale"),
    (3 / 4, "three quarters of full scale"),
    (2 / 3, "two thirds of full scale"),
    (1 / 2, "half scale"),
)
_MARK: Final = "�"


def plain_text(text: object) -> str:
    """
    Make any text from data fit for one line on a sheet.

    Runs of white space become one space; control characters, and code points that no file
    can hold, become a visible mark.

    Examples
    --------
    >>> plain_text("two\\nlines\\x00")
    'two lines�'
    """
    words = " ".join(str(text).split())
    return "".join(_MARK if _unwritable(letter) else letter for letter in words)


def _unwritable(letter: str) -> bool:
    """Whether a character has no place in a line of text: controls, surrogates, non-characters."""
    return unicodedata.category(letter) in ("Cc", "Cs", "Cn", "Co") or letter in "\u2028\u2029"


def view_in_words(view: ViewRecord) -> str:
    """
    Say how the site is seen, e.g. "Planometric, plan turned 60° from its base line; ...".

    Parameters
    ----------
    view : ViewRecord
        The view of the drawing.

    Returns
    -------
    str
        One line without a full stop.
    """
    turned = f"plan turned {view.turn:g}° from its base line" if view.turn else "plan not turned"
    flat = "" if view.keeps_plan else ", plan foreshortened"
    return f"{view.kind.capitalize()}, {turned}{flat}; heights at {_share(view.height_factor)}"


def _share(factor: float) -> str:
    """Say a height factor in words where it is a usual one."""
    for value, words in _PARTS:
        if math.isclose(factor, value, rel_tol=1e-9):
            return words
    return f"{factor:.3g} of full scale"


def alternative_text(diagram: DiagramLayers, placement: Placement) -> str:
    """
    Describe a drawing to someone who cannot see it.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    placement : Placement
        Its sheet and scale.

    Returns
    -------
    str
        A few sentences made from what is drawn.
    """
    faces = diagram.faces
    roles = sorted(set(faces["role"].astype(str)))
    features = len(faces[["layer", "source_id"]].drop_duplicates())
    text = [
        f"{plain_text(diagram.name)}, drawn {placement.words}.",
        f"{view_in_words(diagram.view)}.",
        f"{features} features are to be seen: {', '.join(roles)}." if roles else "No feature is to be seen.",
    ]
    low, high = (faces[name].to_numpy(dtype=float) for name in ("level_min", "level_max"))
    if np.isfinite(low).any() and np.isfinite(high).any():
        text.append(f"Levels lie between {np.nanmin(low):.2f} m and {np.nanmax(high):.2f} m.")
    return " ".join([*text, CAUTION])
