"""
Rows of a table that agree in some of its columns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd


def alike(table: pd.DataFrame, columns: Sequence[str]) -> Iterator[tuple[tuple[Any, ...], np.ndarray]]:
    """
    Part the rows of a table into those that agree in some columns.

    Parameters
    ----------
    table : DataFrame
        The table.
    columns : sequence of str
        Columns that must be equal; rows with nothing in one of them are left out.

    Yields
    ------
    values : tuple
        What the columns hold, sorted.
    rows : ndarray of int
        Places of the rows, ascending.

    Examples
    --------
    >>> steps = pd.DataFrame({"role": ["steps", "wall", "steps"], "part": ["tread", "top", "tread"]})
    >>> [(*values, rows.tolist()) for values, rows in alike(steps, ["role", "part"])]
    [('steps', 'tread', [0, 2]), ('wall', 'top', [1])]
    """
    number, names = _numbered(table, columns)
    rows = np.flatnonzero(number >= 0)
    rows = rows[np.argsort(number[rows], kind="stable")]
    starts = np.flatnonzero(np.diff(number[rows], prepend=-1))
    for some in np.split(rows, starts[1:]) if len(rows) else ():
        yield tuple(values[code[some[0]]] for code, values in names), some


def firsts(table: pd.DataFrame, columns: Sequence[str]) -> np.ndarray:
    """
    Return the first row of those that agree in some columns, in the order of what these hold.

    Parameters
    ----------
    table, columns
        As for :func:`alike`.

    Returns
    -------
    ndarray of int
        Places of rows, one for each combination there is.

    Examples
    --------
    >>> firsts(pd.DataFrame({"role": ["wall", "steps", "wall"]}), ["role"]).tolist()
    [1, 0]
    """
    number, _ = _numbered(table, columns)
    present, first = np.unique(number, return_index=True)
    return first[present >= 0]


def _numbered(
    table: pd.DataFrame, columns: Sequence[str]
) -> tuple[np.ndarray, list[tuple[np.ndarray, np.ndarray]]]:
    """The number of what columns hold in each row, −1 where nothing; and codes and values of each column."""
    number, whole, names = np.zeros(len(table), dtype=np.int64), np.ones(len(table), dtype=bool), []
    for column in columns:
        code, values = pd.factorize(table[column], sort=True)
        whole &= code >= 0
        _, number = np.unique(number * (len(values) + 1) + code, return_inverse=True)
        names.append((code, np.asarray(values)))
    return np.where(whole, number, -1), names
