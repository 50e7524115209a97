"""
Every tolerance of the drawing, derived from one length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ..checks import finite
from ..errors import ViewError

GRID: Final = 2.0**-24  # page coordinates are rounded to this power-of-two grid [m]
THIN: Final = 1e-7  # page overlaps thinner than this are contacts [m]


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """
    Lengths below which things count as equal.

    Parameters
    ----------
    length : float
        The one length all others follow from [m].

    Raises
    ------
    ViewError
        If the length is not finite and positive.

    Examples
    --------
    >>> Tolerance().dash
    0.005
    >>> fine = Tolerance(length=1e-4)
    >>> fine.depth, fine.page, fine.width
    (0.0001, 1e-05, 0.0001)
    """

    length: float = 1e-3

    def __post_init__(self) -> None:
        if finite(self.length, "tolerance", ViewError) <= 0:
            raise ViewError(
                f"tolerance must be above 0, not {self.length!r}.", field="tolerance", value=self.length
            )

    @property
    def depth(self) -> float:
        """Faces no farther apart than this along the line of sight touch [m]."""
        return self.length

    @property
    def page(self) -> float:
        """An end point this near to a side of a face lies on it [m]."""
        return self.length / 10

    @property
    def dash(self) -> float:
        """No part of an edge shorter than this is drawn by itself [m]."""
        return 5 * self.length

    @property
    def width(self) -> float:
        """A face narrower than this on the page is edge-on [m]."""
        return self.length
