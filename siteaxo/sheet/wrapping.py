"""
Text broken into lines that fit a width.
"""

from __future__ import annotations

from .lettering import length_mm


def wrapped(words: str, height_mm: float, room_mm: float, *, whole: bool = True) -> list[str]:
    """
    Break a text into lines.

    Parameters
    ----------
    words : str
        One paragraph.
    height_mm : float
        Height of capitals [mm].
    room_mm : float
        Greatest length of a line [mm].
    whole : bool
        A word that is longer than the width stays whole; else it is broken too.

    Returns
    -------
    list of str

    Examples
    --------
    >>> wrapped("one two three", 2.5, 18.0)
    ['one two', 'three']
    >>> wrapped("a/very/long/path", 2.5, 18.0, whole=False)
    ['a/very/lon', 'g/path']
    """
    lines: list[str] = []
    said = words.split()
    if not whole:
        said = [piece for word in said for piece in _pieces(word, height_mm, room_mm)]
    for word in said:
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and length_mm(longer, height_mm) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _pieces(word: str, height_mm: float, room_mm: float) -> list[str]:
    """A word in pieces that fit, of one sign at least."""
    pieces = [""]
    for sign in word:
        if pieces[-1] and length_mm(pieces[-1] + sign, height_mm) > room_mm:
            pieces.append("")
        pieces[-1] += sign
    return pieces
