"""
What a sheet says in words: the view, the alternative text, and text from data made safe.
"""

from __future__ import annotations

import math
import unicodedata
from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from ..diagram.alike import alike, firsts
from ..diagram.layers import DiagramLayers, ViewRecord
from ..source.roles import ROLES, in_order, spoken
from ..units import length_words
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
_SMALL: Final = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
_NOUNS: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "ground": ("piece of ground", "pieces of ground"),
        "water": ("area of water", "areas of water"),
        "paving": ("area of paving", "areas of paving"),
        "steps": ("flight of steps", "flights of steps"),
        "canopy": ("canopy", "canopies"),
    }
)
"""What one and several features of a role are called, where that is not the role with an s."""
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
    if not view.height_factor:
        return f"Plan, {turned.removeprefix('plan ')}"
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
    text = [
        f"{plain_text(diagram.name)}, drawn {placement.words}.",
        *([f"{plain_text(diagram.caption)}."] if diagram.caption else []),
        f"{view_in_words(diagram.view)}.",
        _counted(faces, diagram.unit) if len(faces) else _without_faces(diagram),
    ]
    low, high = (faces[name].to_numpy(dtype=float) for name in ("level_min", "level_max"))
    if np.isfinite(low).any() and np.isfinite(high).any():
        least, most = _levels(np.nanmin(low), np.nanmax(high), unit=diagram.unit)
        text.append(f"Levels lie between {least} and {most}.")
    return " ".join([*text, CAUTION])


def _without_faces(diagram: DiagramLayers) -> str:
    return "Lines only." if len(diagram.edges) else "No feature is to be seen."


def _counted(faces: Any, unit: str) -> str:
    """Say how many features of each role are seen, in stacking order, and at which levels the ground lies."""
    levels = faces[["level_min", "level_max"]].to_numpy(dtype=float)
    rows_of = {str(role): rows for (role,), rows in alike(faces, ["role"])}
    feature = firsts(faces, ["role", "layer", "source_id"])
    counts = Counter(faces["role"].iloc[feature].astype(str))
    parts = []
    for role in in_order(rows_of):
        one, many = _NOUNS.get(role, (spoken(role), f"{spoken(role)}s"))
        noun = one if counts[role] == 1 else many
        parts.append(f"{number_word(counts[role])} {noun}{_between(levels[rows_of[role]], role, unit)}")
    total = len(firsts(faces, ["layer", "source_id"]))
    sentence = f"{', '.join(parts)}; {total} {'feature' if total == 1 else 'features'} in all."
    return sentence[0].upper() + sentence[1:]


def _between(levels: np.ndarray, role: str, unit: str) -> str:
    """Say at which levels features that people walk on lie."""
    if role not in ROLES or ROLES[role].theme not in ("ground", "surfaces"):
        return ""
    low, level = levels.T
    flat = np.isclose(low, level, atol=1e-6)
    level = level[flat & np.isfinite(level)]
    if not len(level):
        return ""
    least, most = _levels(level.min(), level.max(), unit=unit)
    return f" at {least}" if least == most else f" between {least} and {most}"


def _levels(*levels: float, unit: str) -> list[str]:
    """Levels with hyphens before them, for voices that read no minus signs."""
    return [length_words(float(one), unit).replace("−", "-") for one in levels]


def number_word(count: int) -> str:
    """
    Write small numbers as words.

    Examples
    --------
    >>> number_word(3), number_word(40)
    ('three', '40')
    """
    return _SMALL[count] if count < len(_SMALL) else str(count)
