"""
Banks that end at the edge of a lower terrace, or are left out: earth that stands upright there.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .notes import note
from .planes import levels_at

BESIDE: Final = 0.002  # a bank that ends so near to a terrace ends at it [m]
HELD: Final = 0.02  # a wall so near holds it [m]
HIGH: Final = 0.05  # earth that stands upright for less is not worth telling [m]
LONG: Final = 0.25  # nor what does along less [m]


def look_at_ends(
    features: Features, bank: np.ndarray, end: np.ndarray, terraces: np.ndarray
) -> Iterable[Finding]:
    """
    Tell where banks end above the edge of lower terraces.

    Parameters
    ----------
    features : Features
        With their own levels.
    bank : ndarray of int, shape (s,)
        The features whose banks end.
    end : ndarray of MultiLineString with Z, shape (s,)
        Where, at the levels of the banks [m].
    terraces : ndarray of int, shape (t,)
        What they may end at.

    Yields
    ------
    Finding
        One for each bank and terrace, with the height of earth that stands upright, at its
        highest place; none where walls stand along it.
    """
    side, number = shapely.get_parts(end, return_index=True)
    xyz = shapely.get_coordinates(side, include_z=True).reshape(-1, 2, 3)
    middle, length = xyz.mean(axis=1), shapely.length(side)
    other, one = shapely.STRtree(shapely.points(middle[:, :2])).query(
        features.geometry[terraces], predicate="dwithin", distance=BESIDE
    )
    own, row = bank[number[one]], terraces[other]
    height = middle[one, 2] - levels_at(features, row, middle[one, :2])
    walls = features.geometry[features.of_role("name") == "wall"]
    held = shapely.STRtree(walls).query(shapely.points(middle[:, :2]), "dwithin", distance=HELD)[0]
    stands = np.flatnonzero((height > HIGH) & (row != own) & ~np.isin(one, held))
    pair = np.column_stack([own, row])[stands]
    for upper, lower in np.unique(pair, axis=0):  # a handful of pairs
        mine = stands[(pair == (upper, lower)).all(axis=1)]
        if length[one[mine]].sum() < LONG:
            continue
        highest = mine[height[mine].argmax()]
        yield note(
            features,
            int(upper),
            "bank-ends",
            f"Its bank ends at the edge of {features.name_of(int(lower))}, along "
            f"{length[one[mine]].sum():.3g} m; there earth stands upright, up to {height[highest]:.2f} m "
            "high. Draw a wall there, make the bank steeper, or move the terraces apart.",
            value=f"{height[highest]:.3f} m",
            place=middle[one[highest], :2],
        )


def look_at_left_out(features: Features, bank: np.ndarray) -> Iterable[Finding]:
    """
    Tell which features have no bank because none could be made.

    Parameters
    ----------
    features : Features
        With footprints.
    bank : ndarray of int, shape (f,)
        The features without the banks they ask for.

    Yields
    ------
    Finding
        One for each.
    """
    for row in bank.tolist():  # next to none
        yield note(
            features,
            row,
            "bank-left-out",
            "Its bank could not be made: lines of the ground meet about its outline in a way that makes no "
            "surface. It is drawn without one, the ground cut upright about it; all else is drawn. Simplify "
            "its outline, or give it a wall instead of a bank.",
            value=f"1 in {features.bank[row]:g}",
            place=shapely.get_coordinates(shapely.point_on_surface(features.geometry[row]))[0],
        )
