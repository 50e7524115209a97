"""
How true a local plane is over a site.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class PlaneReport:
    """
    How true the local plane is over a site.

    Parameters
    ----------
    scale_at_corners : tuple of float, length 4
        Plane metres per true metre at left bottom, right bottom, right top, left top [-].
    convergence_at_centre : float
        From true north to grid north, clockwise positive [degrees].
    datum_shift_accuracy_m : mapping of str to float or None
        By name of each source CRS: accuracy of the shift to the plane's datum [m];
        zero where there is no shift, None where it is not known.
    """

    scale_at_corners: tuple[float, float, float, float]
    convergence_at_centre: float
    datum_shift_accuracy_m: Mapping[str, float | None]

    def __getstate__(self) -> dict[str, Any]:
        """What is copied to another process, which takes no read-only views."""
        return {**vars(self), "datum_shift_accuracy_m": dict(self.datum_shift_accuracy_m)}

    @property
    def true_north_bearing(self) -> float:
        """Direction of true north, clockwise from grid north [degrees]."""
        return -self.convergence_at_centre if self.convergence_at_centre else 0.0
