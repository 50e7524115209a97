"""
Tables as CSV files.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Any, Final

from .atomic import write_bytes

_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def write_csv(
    frame: Any, path: str | os.PathLike[str], *, inputs: Iterable[str | os.PathLike[str]] = ()
) -> None:
    """
    Write a table as CSV in UTF-8, lines ended by CR LF.

    Text that a spreadsheet would take for a formula, since it starts with ``= + - @``, a
    tab or a carriage return, gets an apostrophe before it; numbers stay numbers.

    Parameters
    ----------
    frame : pandas.DataFrame
        The table, written without its index.
    path : path-like
        Where to.
    inputs : iterable of path-like
        Files that the table was made from: none of them is written onto.

    Raises
    ------
    OutputError
        If the file cannot be written; what stood there before is untouched.

    References
    ----------
    RFC 4180 (CSV).
    """
    safe = frame.rename(columns=_escaped)
    for column in safe.columns[[not _is_number(dtype) for dtype in safe.dtypes]]:
        safe[column] = safe[column].map(_escaped)
    text = safe.to_csv(index=False, lineterminator="\r\n")
    write_bytes(path, text.encode("utf-8", "replace"), inputs=inputs)


def _is_number(dtype: Any) -> bool:
    """Whether a column holds numbers only."""
    return getattr(dtype, "kind", "O") in "biufc"


def _escaped(value: Any) -> Any:
    """Put an apostrophe before text that reads as a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA_STARTS) else value
