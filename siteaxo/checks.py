"""Argument checks that several rooms share."""

from __future__ import annotations

import difflib
import math
import os
import re
import stat
import tomllib
from collections.abc import Iterable
from typing import Any, Final

from .errors import SiteaxoError

_KEY: Final = r"""(?:(?<![\w-])[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*"""
_LONG_KEY: Final = re.compile(f"(?:{_KEY}){{32}}")


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
    except (TypeError, ValueError, OverflowError):
        raise error(f"{name} must be a number, not {value!r}.", field=name, value=value) from None
    if not math.isfinite(number) or number < least:
        bound = "finite" if least == -math.inf else f"finite and at least {least:g}"
        raise error(f"{name} must be {bound}, not {value!r}.", field=name, value=value)
    return number


def near(word: str, known: Iterable[str], *, alike: float = 0.6) -> str | None:
    """
    Return the known word that is spelled most like another, None where less than *alike* of it is.

    Examples
    --------
    >>> near("Granit", ["granite", "gravel"]), near("rubber", ["granite"])
    ('granite', None)
    """
    words = {one.casefold(): one for one in sorted(known)}
    close = difflib.get_close_matches(word.casefold(), words, n=1, cutoff=alike)
    return words[close[0]] if close else None


def nearest(word: str, known: Iterable[str]) -> str:
    """
    Say which known word is nearest, or list them all.

    Examples
    --------
    >>> nearest("hieght", ["height", "base"])
    "Did you mean 'height'?"
    """
    words = sorted(known)
    close = near(word, words)
    return f"Known: {', '.join(words)}." if close is None else f"Did you mean {close!r}?"


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
        raise error(f"Unknown {name} {value!r}. {nearest(str(value), words)}", field=name, value=value)
    return value


def regular_bytes(
    path: str | os.PathLike[str], error: type[SiteaxoError], *, what: str, most: int = 10_000_000
) -> bytes:
    """
    Read a small file whole: a regular file, so that nothing is waited for.

    Parameters
    ----------
    path : path
        The file.
    error : type of SiteaxoError
        What to raise.
    what : str
        What it is, for messages, e.g. "site file".
    most : int
        Size that it may have [bytes].

    Returns
    -------
    bytes

    Raises
    ------
    SiteaxoError
        Of the type given, if there is no such file, it cannot be read, or it is too large.
    """
    shown = repr(os.fsdecode(path))
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        said = f"The {what} {shown} cannot be read ({reason}). Check the path and its spelling."
        raise error(said, value=os.fsdecode(path)) from None
    with os.fdopen(handle, "rb") as stream:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise error(
                f"The {what} {shown} is no regular file. Name a file on disk.", value=os.fsdecode(path)
            )
        if status.st_size > most:
            size = status.st_size / 1e6
            raise error(
                f"The {what} {shown} has {size:.0f} MB, which is too much for one. Name another.",
                value=os.fsdecode(path),
            )
        return stream.read()


def toml_of(content: bytes) -> dict[str, Any]:
    """
    Return what a TOML file says.

    The time that keys of thousands of parts take to read grows with their square, so they are refused.

    Raises
    ------
    UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError
        If it is not UTF-8, not TOML, has a key of more than 32 parts, or is nested too deeply.

    Examples
    --------
    >>> toml_of(b"view.turn = 60")
    {'view': {'turn': 60}}
    """
    text = content.decode("utf-8-sig")
    long = _LONG_KEY.search(text)
    if long is not None:
        line = text.count("\n", 0, long.start()) + 1
        raise tomllib.TOMLDecodeError(f"a key has more than 32 parts (at line {line})")
    return tomllib.loads(text)
