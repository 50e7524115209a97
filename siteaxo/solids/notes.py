"""
Findings about single features.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from ..errors import Finding, Severity
from ..source.features import Features

_FIELD: Final = re.compile(r"field (.+?)(?: and level of|, falling|\)|$)")


@lru_cache(maxsize=256)
def field_in(source: str) -> str:
    """
    The first field named by the words that say where a level comes from, "" where there is none.

    Examples
    --------
    >>> field_in("base plus height (field ht)"), field_in("number"), field_in("field hi, falling 1:20")
    ('ht', '', 'hi')
    """
    found = _FIELD.search(source)
    return "" if found is None or source.startswith("top of") else found.group(1)


def note(
    features: Features,
    row: int,
    code: str,
    message: str,
    *,
    value: str = "",
    severity: Severity = "warning",
    place: Sequence[float] | np.ndarray | None = None,
    of: Literal["base", "top", ""] = "",
) -> Finding:
    """
    Make a finding about one feature.

    Parameters
    ----------
    features : Features
        The features.
    row : int
        Which one.
    code, message, value, severity
        As for :class:`Finding`.
    place : sequence of two floats, optional
        Where it is on the local plane, where that is not the whole feature [m].
    of : {"base", "top", ""}
        The level it is about; the field that this comes from, if any, is named.
    """
    (found,) = notes(
        features,
        np.array([row]),
        code,
        [message],
        values=[value],
        severity=severity,
        places=None if place is None else [place],
        of=of,
    )
    return found


def notes(
    features: Features,
    rows: np.ndarray,
    code: str,
    messages: Sequence[str],
    *,
    values: Sequence[str],
    severity: Severity = "warning",
    places: Sequence[Sequence[float] | np.ndarray] | None = None,
    of: Literal["base", "top", ""] = "",
) -> list[Finding]:
    """
    Make a finding about each of several features.

    Parameters
    ----------
    features : Features
        The features.
    rows : ndarray of int, shape (n,)
        Which ones.
    code, severity, of
        As for :func:`note`.
    messages, values : sequence of str, length n
        What is said of each, and its offending value.
    places : sequence of two floats, length n, optional
        Where each is, as for :func:`note` [m].

    Returns
    -------
    list of Finding
    """
    layers = [features.layers[layer].name for layer in features.layer[rows].tolist()]
    ids = map(str, features.source_id[rows].tolist())
    sources = getattr(features, f"{of}_from")[rows].tolist() if of else [""] * len(rows)
    fields = [field_in(str(source)) for source in sources]
    where = [None] * len(rows) if places is None else [(float(x), float(y)) for x, y in places]
    return [
        Finding(
            severity=severity,
            code=code,
            layer=layer,
            source_id=one,
            field=field,
            value=value,
            message=message,
            place=place,
        )
        for layer, one, field, value, message, place in zip(
            layers, ids, fields, values, messages, where, strict=True
        )
    ]
