"""
Findings about single features.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..errors import Finding, Severity
from ..source.features import Features


def note(
    features: Features,
    row: int,
    code: str,
    message: str,
    *,
    value: str = "",
    severity: Severity = "warning",
    place: Sequence[float] | np.ndarray | None = None,
) -> Finding:
    """Make a finding about one feature, or about a place of it on the local plane."""
    return Finding(
        severity=severity,
        code=code,
        layer=features.layers[features.layer[row]].name,
        source_id=str(features.source_id[row]),
        value=value,
        message=message,
        place=None if place is None else (float(place[0]), float(place[1])),
    )
