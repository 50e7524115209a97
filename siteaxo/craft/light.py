"""
One conventional light, and the few tones that it makes of a colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..angles import cos_deg, sin_deg
from ..checks import finite
from ..errors import SheetError

UPRIGHT: Final = 0.5  # faces whose normal rises by less than this are sides [-]
MOST_TONES: Final = 16
FIRST: Final = 0.065  # away from the light by so much of its range a face is a tone darker [-]


@dataclass(frozen=True, kw_only=True)
class Light:
    """
    Parallel light that turns with the page, not with the plan, so that every drawing is lit alike.

    Parameters
    ----------
    direction : float
        Where it comes from on the page, seen from above [degrees anticlockwise from page right].
    elevation : float
        How high it stands, 0 to 90 [degrees].
    tones : int
        Number of tones of a colour: 0 is the lightest, that of a level top.

    Raises
    ------
    SheetError
        If one of these is not what it should be.
    """

    direction: float = 165.0
    elevation: float = 45.0
    tones: int = 4

    def __post_init__(self) -> None:
        finite(self.direction, "light direction", SheetError)
        if finite(self.elevation, "light elevation", SheetError, least=0.0) > 90.0:
            raise SheetError(
                f"light elevation is {self.elevation:g}; it is from 0 to 90 degrees.",
                field="elevation",
                value=self.elevation,
            )
        if (
            isinstance(self.tones, bool)
            or not isinstance(self.tones, int)
            or not 2 <= self.tones <= MOST_TONES
        ):
            raise SheetError(
                f"tones is {self.tones!r}; give a whole number from 2 to {MOST_TONES}.",
                field="tones",
                value=self.tones,
            )

    def toward(self, matrix: np.ndarray) -> np.ndarray:
        """
        Unit vector toward the light in the site's local plane.

        Parameters
        ----------
        matrix : ndarray, shape (3, 3)
            The view: page right, page up and depth as rows.

        Returns
        -------
        ndarray, shape (3,)
        """
        right = np.array([*matrix[0, :2], 0.0])
        length = np.hypot(*right[:2])
        right = right / length if length > 0 else np.array([1.0, 0.0, 0.0])
        back = np.array([-right[1], right[0], 0.0])
        if matrix[1] @ back < 0:
            back = -back
        level = cos_deg(self.direction) * right + sin_deg(self.direction) * back
        return cos_deg(self.elevation) * level + sin_deg(self.elevation) * np.array([0.0, 0.0, 1.0])

    def shades(self, normals: np.ndarray, matrix: np.ndarray) -> np.ndarray:
        """
        Tone of each face, 0 lightest.

        The cosine between a face and the light, from that of a level top down to that of a
        wall turned away, is divided evenly among the tones, but that the second begins sooner, so
        that opposite slopes of a roof differ. Nothing is lighter than a level top, and no side is
        as light as one.

        Parameters
        ----------
        normals : ndarray, shape (n, 3)
            Unit outward normals in the local plane.
        matrix : ndarray, shape (3, 3)
            The view.

        Returns
        -------
        ndarray of int, shape (n,)

        References
        ----------
        J. H. Lambert, *Photometria* (1760), cosine law (from memory).

        Examples
        --------
        >>> Light().shades(np.array([[0, 0, 1.0], [-1.0, 0, 0], [0, -1.0, 0]]), np.eye(3)).tolist()
        [0, 1, 2]
        """
        normals = np.asarray(normals, dtype=float).reshape(-1, 3)
        top, least = sin_deg(self.elevation), -cos_deg(self.elevation)
        lit = normals @ self.toward(matrix)
        away = np.clip((top - lit) / (top - least), 0.0, 1.0)
        shade = np.rint(away * (self.tones - 1)).astype(int)
        turned = (away >= FIRST) | (normals[:, 2] < UPRIGHT)
        return np.where(turned, np.maximum(shade, 1), shade)
