"""
Where base, top and height come from when no field gives them: Z, storeys.

The order is: the layer's field or number; the feature's own Z; storeys × storey height.
What lies below, and the ground, come later, when features are stacked.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..errors import Finding
from .feet import look_at_storeys
from .keys import LEVELS, STOREYS
from .layers import in_words
from .own_z import metres_per_z, own_levels, z_word
from .reading import RawLayer

Reader = Callable[[RawLayer, str, str], tuple[np.ndarray, list[Finding]]]


def filled(
    raw: RawLayer, given: dict[str, np.ndarray], *, unit: str, read: Reader
) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray], list[Finding]]:
    """
    Fill levels that no field or number gives, and say of each where it comes from.

    Parameters
    ----------
    raw : RawLayer
        The layer as read.
    given : dict of str to ndarray, shape (n,)
        Base, top and height from fields and numbers; NaN where open [m].
    unit : {"m", "ft", "ft-us"}
        The site's unit.
    read : callable
        Reads one of the layer's values for each feature, in metres per given unit.

    Returns
    -------
    levels : dict of str to ndarray, shape (n,)
        Base, top and height [m].
    said : dict of str to ndarray of object, shape (n,)
        Where each comes from; "" where open.
    findings : list of Finding
        What was noticed.
    """
    layer = raw.layer
    findings: list[Finding] = []
    said = {key: np.where(np.isnan(given[key]), "", in_words(layer, key)).astype(object) for key in LEVELS}
    levels = {key: given[key].copy() for key in LEVELS}
    words = {key: z_word(layer, key) for key in ("base", "top")}
    if any(words.values()):
        metres, findings = metres_per_z(raw, unit)
        for key in filter(words.get, words):
            own, source = own_levels(raw, key, metres)
            fill = np.isnan(levels[key]) & ~np.isnan(own)
            levels[key][fill], said[key][fill] = own[fill], source
            findings += _without_z(raw, np.flatnonzero(np.isnan(levels[key])), key)
    if layer.storeys is not None:
        count, found = read(raw, "storeys", "m")
        each, more = read(raw, "storey_height", layer.unit or unit)
        findings += found + more
        findings += look_at_storeys(layer, each) if (layer.unit or unit) == "m" else []
        fill = np.isnan(levels["height"]) & ~np.isnan(count * each)
        fill &= np.isnan(levels["top"]) | np.isnan(levels["base"])
        levels["height"][fill] = (count * each)[fill]
        said["height"][fill] = " × ".join(f"{key} ({in_words(layer, key)})" for key in STOREYS)
    return levels, said, findings


def _without_z(raw: RawLayer, rows: np.ndarray, key: str) -> list[Finding]:
    return [
        Finding(
            severity="warning",
            code="missing-level",
            layer=raw.layer.name,
            source_id=str(raw.source_id[row]),
            field="Z",
            message=f"Its {key} is to come from its own Z, but it has none, or one that stands for no level.",
        )
        for row in rows
    ]
