"""
What an annotation says of a value beside its type: bounds, the use of a field, whether a file is read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Within:
    """
    Bounds of a number, for an annotation.

    Parameters
    ----------
    least, most : float
        The bounds; they may be reached.
    above : float
        A bound below that may not be reached.

    Examples
    --------
    >>> from typing import Annotated
    >>> Turn = Annotated[float, Within(least=-360, most=360)]
    """

    least: float = -math.inf
    most: float = math.inf
    above: float = -math.inf


@dataclass(frozen=True)
class FieldOf:
    """
    Says that a text is the name of a field, and what the field holds, for an annotation.

    Parameters
    ----------
    use : str
        What the field holds: "id", "level", "height", "size", "material".

    Examples
    --------
    >>> from typing import Annotated
    >>> FloorLevel = Annotated[str, FieldOf("level")]
    """

    use: str


class Reads:
    """
    Says that a path is a file that is read, for an annotation.

    Examples
    --------
    >>> from pathlib import Path
    >>> from typing import Annotated
    >>> Survey = Annotated[Path, Reads]
    """


class Writes:
    """
    Says that a path is a file that is written, for an annotation.

    Examples
    --------
    >>> from pathlib import Path
    >>> from typing import Annotated
    >>> Table = Annotated[Path, Writes]
    """


def in_words(bounds: Within) -> str:
    """
    Say which numbers lie within bounds.

    Examples
    --------
    >>> in_words(Within(above=0, most=90))
    'above 0 and at most 90'
    """
    parts = [
        f"{word} {bound:g}"
        for word, bound in (("above", bounds.above), ("at least", bounds.least), ("at most", bounds.most))
        if math.isfinite(bound)
    ]
    return " and ".join(parts)
