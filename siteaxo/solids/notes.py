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
    return Finding(
        severity=severity,
        code=code,
        layer=features.layers[features.layer[row]].name,
        source_id=str(features.source_id[row]),
        field=field_in(str(getattr(features, f"{of}_from")[row])) if of else "",
        value=value,
        message=message,
        place=None if place is None else (float(place[0]), float(place[1])),
    )
