"""
What a numpydoc docstring says: summary, parameters, returns.

References
----------
numpydoc docstring guide (sections, underlined headings, ``name : type`` entries).
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

_UNIT: Final = re.compile(r"\s*\[([^\[\]]+)\](?=[.;]?\s*$)")
_ENTRY: Final = re.compile(r"^(?P<names>[^\s:][^:]*?)(?:\s+:\s*(?P<kind>.*))?$")


@dataclass(frozen=True, kw_only=True)
class Entry:
    """
    One entry of a section.

    Parameters
    ----------
    name, kind : str
        What stands before and behind the colon; "" where there is none.
    text : str
        Its description without the unit, in one line.
    unit : str
        What stands in square brackets at its end; "" where nothing does.
    """

    name: str
    kind: str
    text: str
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Docstring:
    """
    A docstring in parts.

    Parameters
    ----------
    summary : str
        Its first paragraph, in one line.
    extended : str
        The paragraphs up to the first section.
    parameters : dict of str to Entry
        By name; ``left, right : float`` gives two.
    returns : tuple of Entry
        What comes back.
    """

    summary: str
    extended: str = ""
    parameters: dict[str, Entry] = field(default_factory=dict)
    returns: tuple[Entry, ...] = ()


def docstring_of(function: Callable[..., Any]) -> Docstring:
    """
    Read the docstring of a function.

    Examples
    --------
    >>> def bank(rise: float) -> float:
    ...     '''
    ...     Measure the run of a bank.
    ...
    ...     Parameters
    ...     ----------
    ...     rise : float
    ...         How high it is [m].
    ...     '''
    >>> docstring_of(bank).parameters["rise"]
    Entry(name='rise', kind='float', text='How high it is.', unit='m')
    """
    lines = (inspect.getdoc(function) or "").splitlines()
    head, sections = _sections(lines)
    paragraphs = [" ".join(part.split()) for part in "\n".join(head).strip().split("\n\n") if part.strip()]
    return Docstring(
        summary=paragraphs[0] if paragraphs else "",
        extended="\n\n".join(paragraphs[1:]),
        parameters={
            name.strip().lstrip("*"): Entry(
                name=name.strip().lstrip("*"), kind=entry.kind, text=entry.text, unit=entry.unit
            )
            for entry in _entries(sections.get("Parameters", []))
            for name in entry.name.split(",")
        },
        returns=tuple(_returned(entry) for entry in _entries(sections.get("Returns", []))),
    )


def _sections(lines: list[str]) -> tuple[list[str], dict[str, list[str]]]:
    """What stands before the first section, and the lines of each section by its heading."""
    heads = [
        number
        for number in range(len(lines) - 1)
        if lines[number].strip() and set(lines[number + 1].strip()) == {"-"} and lines[number][0] != " "
    ]
    ends = [*heads[1:], len(lines)][: len(heads)]
    found = {lines[head].strip(): lines[head + 2 : end] for head, end in zip(heads, ends, strict=True)}
    return lines[: heads[0]] if heads else lines, found


def _entries(lines: list[str]) -> list[Entry]:
    """The entries of a section: a line at the margin, and what is indented under it."""
    found: list[tuple[str, str, list[str]]] = []
    for line in lines:
        if line and not line[0].isspace():
            parts = _ENTRY.match(line.strip())
            name = parts["names"] if parts else line.strip()
            found.append((name, (parts["kind"] or "") if parts else "", []))
        elif found:
            found[-1][2].append(line.strip())
    return [_entry(name, kind, " ".join(" ".join(text).split())) for name, kind, text in found]


def _entry(name: str, kind: str, text: str) -> Entry:
    unit = _UNIT.search(text)
    bare = _UNIT.sub("", text)
    return Entry(name=name, kind=kind, text=bare, unit=unit[1] if unit else "")


def _returned(entry: Entry) -> Entry:
    """An entry of Returns may give the kind alone."""
    if entry.kind:
        return entry
    return Entry(name="", kind=entry.name, text=entry.text, unit=entry.unit)
