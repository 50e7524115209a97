"""
Findings about single features.
"""

from __future__ import annotations

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
) -> Finding:
    """Make a finding about one feature."""
    return Finding(
        severity=severity,
        code=code,
        layer=features.layers[features.layer[row]].name,
        source_id=str(features.source_id[row]),
        value=value,
        message=message,
    )
