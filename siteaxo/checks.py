"""Argument checks that several rooms share."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable

from .errors import SiteaxoError


def finite(value: object, name: str, error: type[SiteaxoError], *, least: float = -math.inf) -> float:
    """
    Return *value* as a finite float that is at least *least*, or raise *error*.

    Examples
    --------
    >>> finite(2, "turn", SiteaxoError)
    2.0
    """
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise error(f"{name} must be a number, not {value!r}.") from None
    if not math.isfinite(number) or number < least:
        bound = "finite" if least == -math.inf else f"finite and at least {least:g}"
        raise error(f"{name} must be {bound}, not {value!r}.")
    return number


def nearest(word: str, known: Iterable[str]) -> str:
    """
    Say which known word is nearest, or list them all.

    Examples
    --------
    >>> nearest("hieght", ["height", "base"])
    "Did you mean 'height'?"
    """
    words = sorted(known)
    close = difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    return f"Did you mean {close[0]!r}?" if close else f"Known: {', '.join(words)}."


def one_of(value: str, known: Iterable[str], name: str, error: type[SiteaxoError]) -> str:
    """
    Return *value* if it is among *known*, or raise *error* naming the nearest.

    Examples
    --------
    >>> one_of("m", ["m", "ft"], "unit", SiteaxoError)
    'm'
    """
    words = list(known)
    if value not in words:
        raise error(f"Unknown {name} {value!r}. {nearest(str(value), words)}")
    return value
