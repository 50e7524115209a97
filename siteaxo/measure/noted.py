"""
One caution: where it is, what was measured, and the rule that says to look there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import shapely

from ..source.features import Features
from ..units import length_words

DEFER = "Check local codes."


@dataclass(frozen=True, kw_only=True)
class Caution:
    """
    One place to look at.

    Parameters
    ----------
    code : str
        Stable short name of the kind.
    subject : str
        The kind in a few words.
    row : int
        The feature.
    value, limit : float
        What was measured, and from where on it is a place to look at.
    unit : {"m", "1:x", "%", "risers"}
        What they are in; slopes are rise by run whatever the unit.
    rule : str
        Where the limit comes from.
    message : str
        What was found.
    place : shapely geometry
        Where, in the local plane [m].
    level : float
        At which level [m].
    """

    code: str
    subject: str
    row: int
    value: float
    limit: float
    unit: str
    rule: str
    message: str
    place: Any
    level: float

    def columns(self, features: Features) -> dict[str, Any]:
        """Return it as a row of a table."""
        return {
            "code": self.code,
            "subject": self.subject,
            "layer": features.layers[features.layer[self.row]].name,
            "source_id": str(features.source_id[self.row]),
            "role": str(features.of_role("name")[self.row]),
            "value": float(self.value),
            "limit": float(self.limit),
            "unit": self.unit,
            "figure": figure(self.value, self.unit),
            "rule": self.rule,
            "message": f"{self.message} {DEFER}",
            "level": float(self.level),
        }


def figure(value: float, unit: str) -> str:
    """
    Write what was measured.

    Examples
    --------
    >>> figure(1 / 10, "1:x"), figure(0.005, "%"), figure(2, "risers"), figure(0.7623, "m")
    ('1:10.0', '0.5 %', '2 risers', '0.762 m')
    """
    if unit == "1:x":
        return f"1:{1 / value:.1f}" if value > 0 else "level"
    if unit == "%":
        return f"{100 * value:.1f} %"
    if unit == "risers":
        return f"{value:.0f} riser{'s' if value > 1 else ''}"
    return length_words(value, decimals=3)


def middle_of(shape: shapely.Geometry) -> shapely.Geometry:
    """A point within a shape."""
    return shapely.point_on_surface(shape)
