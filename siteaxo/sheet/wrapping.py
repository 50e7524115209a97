"""
Text broken into lines that fit a width.
"""

from __future__ import annotations

from .lettering import length_mm


def wrapped(words: str, height_mm: float, room_mm: float) -> list[str]:
    """
    Break a text into lines; a word that is longer than the width stays whole.

    Parameters
    ----------
    words : str
        One paragraph.
    height_mm : float
        Height of capitals [mm].
    room_mm : float
        Greatest length of a line [mm].

    Returns
    -------
    list of str

    Examples
    --------
    >>> wrapped("one two three", 2.5, 18.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and length_mm(longer, height_mm) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
