"""
Levels in metres that look like centimetres or millimetres.

Nothing is converted on suspicion. Ground and surfaces whose levels range over more than the site is
across, from corner to corner, and over 20 m at least, are a finding: no open space is steeper than 1:1
all over.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from .features import Features

LEAST: Final = 20.0  # what levels range over before it is told [m]
_THEMES: Final = ("ground", "surfaces")


def look_for_small_units(features: Features) -> list[Finding]:
    """
    Find a site whose ground rises more than it is across.

    Parameters
    ----------
    features : Features
        On the local plane, with the levels that their layers give.

    Returns
    -------
    list of Finding
        One, about the feature with the highest level, or none.
    """
    level = np.where(np.isnan(features.top), features.base, features.top)
    rows = np.flatnonzero(np.isin(features.of_role("theme"), _THEMES) & np.isfinite(level))
    if not len(rows):
        return []
    left, bottom, right, top = shapely.total_bounds(features.geometry[rows])
    across, range_ = float(np.hypot(right - left, top - bottom)), float(np.ptp(level[rows]))
    if range_ <= max(across, LEAST):
        return []
    row = int(rows[np.argmax(level[rows])])
    return [
        Finding(
            severity="warning",
            code="looks-like-cm",
            layer=features.layers[features.layer[row]].name,
            source_id=str(features.source_id[row]),
            value=f"{level[row]:.2f} m",
            message=(
                f"Ground and surfaces range over {range_:.2f} m, from {level[rows].min():.2f} to "
                f"{level[row]:.2f} m, on a site {across:.0f} m across, as levels in cm or mm would. They are "
                "taken as metres. Divide the field by 100 or 1000 if they are not."
            ),
        )
    ]
