"""
A parallel view: three rows that send a site point to page right, page up and depth.

Of two points at one place on the page, the one with the greater depth is nearer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg
from ..errors import ViewError


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """
    A parallel view of a site.

    Parameters
    ----------
    kind : str
        Name of the projection.
    matrix : array_like, shape (3, 3)
        Rows page right, page up and depth, for columns x, y (plan) and z (level).
    turn : float
        Turn of the plan on the sheet [degrees anticlockwise].
    height_factor : float
        Page metres per metre of height [-].

    Raises
    ------
    ViewError
        If the matrix is not a finite, invertible 3 × 3.

    Examples
    --------
    >>> from siteaxo.view.projection import planometric
    >>> planometric(turn=60, height_factor=2 / 3)
    View(planometric, turn=60, height_factor=0.666667)
    >>> planometric(turn=60).handedness
    1.0
    """

    kind: str
    matrix: np.ndarray
    turn: float = 0.0
    height_factor: float = 1.0

    def __post_init__(self) -> None:
        matrix = np.array(self.matrix, dtype=float)
        if matrix.shape != (3, 3) or not np.isfinite(matrix).all():
            raise ViewError(
                f"A view needs a finite 3 × 3 matrix, not {self.matrix!r}.", field="matrix", value=self.matrix
            )
        if abs(np.linalg.det(matrix)) < 1e-9:
            raise ViewError(
                "The view's matrix is singular: right, up and depth must be independent.",
                field="matrix",
                value=self.matrix,
            )
        matrix.setflags(write=False)
        object.__setattr__(self, "matrix", matrix)

    def __repr__(self) -> str:
        return f"View({self.kind}, turn={self.turn:g}, height_factor={self.height_factor:g})"

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, View):
            return NotImplemented
        return self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[str, float, float, bytes]:
        return self.kind, self.turn, self.height_factor, (self.matrix + 0.0).tobytes()

    @property
    def handedness(self) -> float:
        """+1 where the page shows the site as it is, −1 where it is mirrored."""
        return float(np.sign(np.linalg.det(self.matrix)))

    def to_page(self, points: ArrayLike) -> np.ndarray:
        """
        Page right, page up and depth of points.

        Parameters
        ----------
        points : array_like, shape (n, 3)
            Easting, northing and level in the local plane [m].

        Returns
        -------
        ndarray, shape (n, 3)
            Page right, page up and depth [m].

        Raises
        ------
        ViewError
            If *points* is not (n, 3).

        Examples
        --------
        >>> from siteaxo.view.projection import planometric
        >>> planometric(turn=90).to_page([[2, 1, 3]]).tolist()
        [[-1.0, 5.0, 3.0]]
        """
        return np.stack(self.columns(*_points(points, 3).T), axis=1)

    def columns(self, x: np.ndarray, y: np.ndarray, z: np.ndarray) -> list[np.ndarray]:
        """
        Page right, page up and depth, as :meth:`to_page`, column by column.

        Parameters
        ----------
        x, y, z : ndarray, shape (n,)
            Easting, northing and level in the local plane [m].

        Returns
        -------
        list of three ndarray, shape (n,)
            Page right, page up and depth [m].

        Examples
        --------
        >>> from siteaxo.view.projection import planometric
        >>> right, up, depth = planometric(turn=90).columns(np.array([2]), np.array([1]), np.array([3]))
        >>> right.tolist(), up.tolist()
        ([-1.0], [5.0])
        """
        return [row[0] * x + row[1] * y + row[2] * z for row in self.matrix]  # the same on every machine

    def to_plan(self, points: ArrayLike, *, level: ArrayLike) -> np.ndarray:
        """
        Plan position of page points that lie at a known level.

        Parameters
        ----------
        points : array_like, shape (n, 2)
            Page right and page up at full size [m].
        level : float or array_like, shape (n,)
            Their level above the one drawn in place [m].

        Returns
        -------
        ndarray, shape (n, 2)
            Easting and northing in the local plane [m].

        Raises
        ------
        ViewError
            If the plan is seen edge-on, or *points* is not (n, 2).

        Examples
        --------
        >>> from siteaxo.view.projection import planometric
        >>> planometric(turn=90).to_plan([[-1, 5]], level=3).tolist()
        [[2.0, 1.0]]
        """
        page = _points(points, 2)
        plan, rise = self.matrix[:2, :2], self.matrix[:2, 2]
        if abs(np.linalg.det(plan)) < 1e-9:
            raise ViewError(
                f"A {self.kind} view shows the plan edge-on: levels do not give plan positions.",
                field="view",
                value=self.kind,
            )
        heights = np.broadcast_to(np.asarray(level, dtype=float), (len(page),))
        return np.linalg.solve(plan, (page - heights[:, None] * rise).T).T

    def after_turning(self, angle: float) -> View:
        """
        The same view of a plan that is first turned by *angle* degrees anticlockwise.

        ``turn`` keeps its meaning: the turn from the base line.

        Examples
        --------
        >>> from siteaxo.view.projection import planometric
        >>> planometric(turn=30).after_turning(60).to_page([[1, 0, 0]]).round(9).tolist()
        [[0.0, 1.0, 0.0]]
        """
        return replace(self, matrix=self.matrix @ _plan_turn(angle))


def _plan_turn(angle: float) -> np.ndarray:
    sine, cosine = sin_deg(angle), cos_deg(angle)
    return np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])


def _points(points: ArrayLike, width: int) -> np.ndarray:
    array = np.asarray(points, dtype=float)
    if array.ndim != 2 or array.shape[1] != width:
        raise ViewError(
            f"Points must be shaped (n, {width}), not {array.shape}.", field="points", value=array.shape
        )
    return array
