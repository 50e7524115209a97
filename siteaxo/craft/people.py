"""
People on a site: where they are, which figure shows them, and how tall they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from .figures import figures
from .repeatable import bell, numbers_each

SHORTEST: Final = 1.2  # nobody is drawn smaller [m]
TALLEST: Final = 1.9  # or taller [m]


@dataclass(frozen=True, kw_only=True)
class People:
    """
    Figures on a site, one row each.

    Parameters
    ----------
    xyz : ndarray, shape (n, 3)
        Stand points in the local plane [m].
    figure : ndarray of int, shape (n,)
        Index into ``figures()``.
    height : ndarray, shape (n,)
        Height at which each is drawn [m].
    mirrored : ndarray of bool, shape (n,)
        Whether it looks to the left.
    feature : ndarray of int, shape (n,)
        What it stands on, as a row of the site's features.
    name : ndarray of object, shape (n,)
        A name of its own, which its chance numbers are drawn from.
    """

    xyz: np.ndarray
    figure: np.ndarray
    height: np.ndarray
    mirrored: np.ndarray
    feature: np.ndarray
    name: np.ndarray

    def __len__(self) -> int:
        return len(self.figure)

    @property
    def persons(self) -> int:
        """How many persons the figures show."""
        return int(sum(figures()[k].people for k in self.figure))

    @classmethod
    def nobody(cls) -> People:
        """No figures."""
        none = np.zeros(0, dtype=np.int64)
        return cls(
            xyz=np.zeros((0, 3)),
            figure=none,
            height=np.zeros(0),
            mirrored=none.astype(bool),
            feature=none,
            name=none.astype(object),
        )

    def take(self, rows: np.ndarray) -> People:
        """Some of the figures."""
        return People(**{name: column[rows] for name, column in vars(self).items()})


def statures(figure: np.ndarray, names: np.ndarray, seed: int) -> np.ndarray:
    """
    Draw a height for each figure.

    Adults are men or women by an even chance, spread about the means of their height.

    Parameters
    ----------
    figure : ndarray of int, shape (n,)
        Index into ``figures()``.
    names : ndarray of object, shape (n,)
        What the chance numbers are drawn from.
    seed : int
        Another seed gives other people.

    Returns
    -------
    ndarray, shape (n,)
        1.2 to 1.9 [m].
    """
    chance = numbers_each(5, names, "stature", seed)
    kinds = [figures()[k].statures for k in figure]
    pick = np.array([kind[int(c * len(kind))] for kind, c in zip(kinds, chance[:, 4], strict=True)])
    mean, spread = pick.reshape(-1, 2).T
    return np.clip(mean + spread * bell(chance[:, :4]), SHORTEST, TALLEST)
