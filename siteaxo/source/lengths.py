"""
Numbers from fields: levels and sizes as numbers or texts, in metres.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd

from ..errors import Finding, LevelError, SiteaxoError, some_ids
from ..units import metres_per

SENTINELS: Final = (-9999.0, -1000.0)  # common practice: written where there is no level
HUGE: Final = 1e30  # so is anything from here on, of either sign

_INSTEAD: Final = {
    "level": "another source of the level is taken, if there is one",
    "size": "the usual size is taken",
}
_NUMBER: Final = re.compile(
    r"(?P<number>[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*(?P<unit>m|ft-us|ft)?",
    re.IGNORECASE,
)
_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}\s*(?:m|ft-us|ft)?", re.IGNORECASE)


def read_lengths(
    values: np.ndarray,
    *,
    layer: str,
    field: str,
    ids: np.ndarray,
    unit: str,
    error: type[SiteaxoError] = LevelError,
    noun: str = "level",
) -> tuple[np.ndarray, list[Finding]]:
    """
    Read a field of levels or sizes.

    Texts such as "12.5", "12,5" and "3.2 m" are numbers; a unit in the text overrides
    *unit*. Empty values, −9999, −1000 and anything from ±1e30 on are missing.

    Parameters
    ----------
    values : ndarray, shape (n,)
        The field as read: numbers or objects.
    layer, field : str
        Names, for messages.
    ids : ndarray of object, shape (n,)
        The features' ids.
    unit : {"m", "ft", "ft-us"}
        Unit of bare numbers.
    error : type of SiteaxoError
        What to raise.
    noun : str
        What the field holds, for the codes of findings: "missing-level", "sentinel-level".

    Returns
    -------
    lengths : ndarray of float, shape (n,)
        NaN where missing [m].
    findings : list of Finding
        One for each missing value.

    Raises
    ------
    LevelError
        Or *error*: if a text is no number, or a number is infinite.

    Examples
    --------
    >>> values = np.array(["12,5", "3.2 m", "10 ft"], dtype=object)
    >>> read_lengths(values, layer="walls", field="top", ids=np.arange(3), unit="m")[0].tolist()
    [12.5, 3.2, 3.048]
    """
    refuse = _refusal(layer, field, ids, values, error)
    findings: list[Finding] = []
    if values.dtype.kind in "iuf":
        numbers, factor = values.astype(np.float64), np.full(len(values), metres_per(unit))
    elif values.dtype.kind in "OUT":
        numbers, factor = _from_texts(values.astype(object), unit, refuse)
        findings += _comma_findings(values, layer, field, noun)
    else:
        raise error(
            f"Layer {layer!r}: field {field!r} holds {values.dtype.name}, no numbers. Name another.",
            layer=layer,
            field=field,
            value=values.dtype.name,
        )
    infinite = np.isinf(numbers)
    if infinite.any():
        raise refuse(infinite, "infinite values")
    sentinel = np.isin(numbers, SENTINELS) | (np.abs(numbers) >= HUGE)
    missing = np.isnan(numbers)
    findings += _missing_findings(values, missing | sentinel, sentinel, layer, field, ids, noun)
    return np.where(sentinel, np.nan, numbers * factor), findings


def _refusal(
    layer: str, field: str, ids: np.ndarray, values: np.ndarray, error: type[SiteaxoError]
) -> Callable[[np.ndarray, str], SiteaxoError]:
    def refuse(bad: np.ndarray, what: str) -> SiteaxoError:
        shown = some_ids(dict.fromkeys(repr(str(v)) for v in values[bad]))
        return error(
            f"Layer {layer!r}: field {field!r} has {what} in {int(bad.sum())} features "
            f"(ids {some_ids(ids[bad])}; values {shown}). Write numbers such as 12.5, 12,5 or '3.2 m', "
            "or leave them empty.",
            layer=layer,
            source_ids=ids[bad],
            field=field,
            value=shown,
        )

    return refuse


def _from_texts(
    values: np.ndarray, unit: str, refuse: Callable[[np.ndarray, str], SiteaxoError]
) -> tuple[np.ndarray, np.ndarray]:
    """Numbers and metres per unit of texts; each different text is read once."""
    code, distinct = pd.factorize(_as_texts(values), use_na_sentinel=True)
    read = [_one(text) for text in distinct]
    odd = np.array([pair is None for pair in read], dtype=bool)
    bad = np.append(odd, False)[code]
    if bad.any():
        raise refuse(bad, "texts that are no numbers")
    pairs = [(np.nan, unit) if pair is None else (pair[0], pair[1] or unit) for pair in read]
    numbers = np.array([number for number, _ in pairs] + [np.nan])
    factors = np.array([metres_per(name) for _, name in pairs] + [1.0])
    return numbers[code], factors[code]


def _as_texts(values: np.ndarray) -> np.ndarray:
    """Objects as trimmed texts with a plain minus; None where empty."""
    empty = np.asarray(pd.isna(values))
    texts = np.full(len(values), None, dtype=object)
    texts[~empty] = [str(value).strip().replace("\N{MINUS SIGN}", "-") for value in values[~empty]]
    texts[texts == ""] = None
    return texts


def _one(text: str) -> tuple[float, str | None] | None:
    match = _NUMBER.fullmatch(text)
    if match is None:
        return None
    unit = match["unit"]
    return float(match["number"].replace(",", ".")), None if unit is None else unit.lower()


def _comma_findings(values: np.ndarray, layer: str, field: str, noun: str) -> list[Finding]:
    """Say so where every comma could as well part thousands as decimals."""
    texts = [text.strip() for text in values if isinstance(text, str) and "," in text]
    if not texts or not all(_THOUSANDS.fullmatch(text) for text in texts):
        return []
    return [
        Finding(
            severity="warning",
            code=f"comma-{noun}",
            layer=layer,
            field=field,
            value=texts[0],
            message=(
                f"{len(texts)} values of {field} have a comma before three digits, such as {texts[0]}; "
                "it is read as a decimal comma, not as one between thousands."
            ),
        )
    ]


def _missing_findings(
    values: np.ndarray,
    missing: np.ndarray,
    sentinel: np.ndarray,
    layer: str,
    field: str,
    ids: np.ndarray,
    noun: str,
) -> list[Finding]:
    return [
        Finding(
            severity="warning",
            code=f"sentinel-{noun}" if sentinel[row] else f"missing-{noun}",
            layer=layer,
            source_id=str(ids[row]),
            field=field,
            value=str(values[row]) if sentinel[row] else "",
            message=(
                f"Field {field} holds {values[row]}, which stands for no value; it is taken as missing."
                if sentinel[row]
                else f"Field {field} is empty; {_INSTEAD.get(noun, 'it is taken as missing')}."
            ),
        )
        for row in np.flatnonzero(missing)
    ]
