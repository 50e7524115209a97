"""
Values in words, for the people who hold them.
"""

from __future__ import annotations

from dataclasses import MISSING, Field, fields
from typing import Any


def unusual(thing: Any) -> list[str]:
    """
    Say which fields of a dataclass are not what they are when left out.

    Parameters
    ----------
    thing : dataclass instance
        Any.

    Returns
    -------
    list of str
        Name and value of each.

    Examples
    --------
    >>> from siteaxo.limits import Limits
    >>> unusual(Limits(records=5))
    ['records 5']
    """
    differ = [one for one in fields(thing) if getattr(thing, one.name) != _default(one)]
    return [f"{one.name} {short(getattr(thing, one.name))}" for one in differ]


def counted(number: int, what: str, *, gap: str = "\N{NARROW NO-BREAK SPACE}") -> str:
    """
    Say how many of something there are.

    Examples
    --------
    >>> counted(1, "layer"), counted(2, "layer"), counted(12000, "face", gap=" ")
    ('1 layer', '2 layers', '12 000 faces')
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}".replace(",", gap)


def having(number: int, what: str) -> str:
    """
    Say how many of something have what is told next.

    Examples
    --------
    >>> having(1, "feature"), having(1200, "feature")
    ('1 feature has', '1200 features have')
    """
    return f"{counted(number, what, gap='')} {'has' if number == 1 else 'have'}"


def short(value: Any) -> str:
    """
    Write a value with as many digits as a person reads.

    Examples
    --------
    >>> short(1 / 12), short(14100.25), short("A3"), short(None)
    ('0.0833', '14100.25', "'A3'", 'None')
    """
    if isinstance(value, float):
        return f"{value:.3g}" if abs(value) < 1000 else f"{value:.2f}".removesuffix(".00")
    return repr(value)


def _default(one: Field[Any]) -> Any:
    if one.default is not MISSING:
        return one.default
    return one.default_factory() if one.default_factory is not MISSING else MISSING
