"""
What is said on a terminal, and what is taken from the words of a command.
"""

from __future__ import annotations

import contextlib
import re
import sys
import unicodedata
from collections.abc import Sequence
from dataclasses import fields

from ..checks import finite, one_of
from ..errors import InputError, LimitError, SiteaxoError
from ..limits import Limits


def plain(text: object) -> str:
    """
    Text from data as one line for a terminal: what would steer the terminal becomes a mark.

    Examples
    --------
    >>> plain("two\\nlines\\x1b[31m")
    'two lines�[31m'
    """
    words = " ".join(str(text).split())
    return "".join("\N{REPLACEMENT CHARACTER}" if _steers(letter) else letter for letter in words)


def _steers(letter: str) -> bool:
    turns = "\u202a" <= letter <= "\u202e" or "\u2066" <= letter <= "\u2069"
    return turns or unicodedata.category(letter) in ("Cc", "Cs")


def speak_safely() -> None:
    """Letters that the terminal's encoding does not have are written as escapes."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            with contextlib.suppress(ValueError, OSError):
                stream.reconfigure(errors="backslashreplace")


def limits_from(words: Sequence[str]) -> Limits:
    """The usual limits with those that are raised, each as name=number."""
    raised: dict[str, float] = {}
    for word in words:
        name, _, number = word.partition("=")
        one_of(name, [field.name for field in fields(Limits)], "limit", LimitError)
        raised[name] = number_from(number, f"--limit {name}", LimitError)
    return Limits(**raised)  # type: ignore[arg-type]


def number_from(text: str, name: str, error: type[SiteaxoError] = InputError) -> float:
    """A number as it is written in a command: no words, no underscores, finite."""
    if re.fullmatch(r"[+-]?[0-9]+\.?[0-9]*([eE][+-]?[0-9]{1,3})?", text) is None:
        raise error(
            f"{name} must be a number such as 200, not {text!r}.", field=name.split(" (")[0], value=text
        )
    return finite(text, name, error)
