"""
Whose each line and face is: features numbered alike in all tables of a drawing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Owners:
    """
    The feature of each line and of each face.

    Parameters
    ----------
    line : ndarray of int, shape (n,)
        Number of the feature of each line.
    face : ndarray of int, shape (f,)
        Number of the feature of each face.
    """

    line: np.ndarray
    face: np.ndarray


def owners_of(faces: Any, *lines: Any) -> list[Owners]:
    """
    Number the features of tables of lines as those of a table of faces.

    Parameters
    ----------
    faces : DataFrame, f rows
        With the columns ``layer`` and ``source_id``.
    *lines : DataFrame
        Tables with the same columns.

    Returns
    -------
    list of Owners
        One for each table of lines; a number means the same feature in all of them.

    Examples
    --------
    >>> faces = pd.DataFrame({"layer": ["walls", "lawns"], "source_id": ["1", "1"]})
    >>> [owners.line.tolist() for owners in owners_of(faces, faces[::-1], faces[1:])]
    [[1, 0], [1]]
    """
    tables = [faces, *lines]
    layer, source = (_numbered([one[name] for one in tables]) for name in ("layer", "source_id"))
    pair = layer * (int(source.max(initial=0)) + 1) + source
    number = pd.factorize(pair)[0].astype(np.int64)
    own, *rest = np.split(number, np.cumsum([len(one) for one in tables])[:-1])
    return [Owners(line=each, face=own) for each in rest]


def _numbered(columns: list[Any]) -> np.ndarray:
    """Number of each value, the same in all columns; 0 where there is none."""
    values = np.concatenate([np.asarray(one, dtype=object) for one in columns])
    return np.asarray(pd.factorize(values)[0], dtype=np.int64) + 1
