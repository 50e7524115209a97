"""
Scenes in which more faces overlap than can be compared at once: said early, with a way round it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeVar

import numpy as np

from ..errors import ViewError
from ..source.features import Features

LEAST_TILE: Final = 16  # solids to the smallest tile that is tried
T = TypeVar("T")


class TooManyPairsError(ViewError):
    """More faces overlap on the page than can be compared at once; ``solid`` has the most of them."""

    code = "too-many-pairs"
    solid = -1
    most = 0

    @classmethod
    def of(
        cls, most: int, *, solid: int, whose: str = "", layer: str = "", source_id: str = ""
    ) -> TooManyPairsError:
        """
        Say that there are more than *most* pairs, and whose they are.

        Examples
        --------
        >>> str(TooManyPairsError.of(10, solid=0, whose="layer 'pond', feature 7")).split(": ")[0]
        "More than 10 pairs of faces overlap on the page, most of them of layer 'pond', feature 7"
        """
        most_of = f", most of them of {whose}" if whose else ""
        error = cls(
            f"More than {most:,} pairs of faces overlap on the page{most_of}: too many to compare at once.",
            layer=layer,
            source_ids=[source_id] if source_id else (),
            remedy="Smaller tiles have been tried, unless tile=None was asked for. Simplify features with "
            "very many corners, or draw parts of the site.",
        )
        error.solid, error.most = solid, most
        return error


def smaller(size: int | None, solids: int) -> int | None:
    """
    A smaller tile where one had too many faces; None where there is none.

    Examples
    --------
    >>> smaller(2500, 100_000), smaller(2500, 100), smaller(None, 100), smaller(16, 100)
    (625, 25, None, None)
    """
    if size is None:
        return None
    less = min(size, solids) // 4
    return less if less >= LEAST_TILE else None


def naming(resolver: Callable[..., T], features: Features, solid_feature: np.ndarray) -> Callable[..., T]:
    """
    Make a resolver that names the feature where there are too many pairs.

    Parameters
    ----------
    resolver : callable
        Draws a scene.
    features : Features
        Features of the scene.
    solid_feature : ndarray of int, shape (s,)
        The feature of each of its first solids.

    Returns
    -------
    callable
    """

    def named(*scene: object, **options: object) -> T:
        try:
            return resolver(*scene, **options)
        except TooManyPairsError as error:
            if not 0 <= error.solid < len(solid_feature):
                raise
            row = int(solid_feature[error.solid])
            raise TooManyPairsError.of(
                error.most,
                solid=error.solid,
                whose=features.name_of(row),
                layer=features.layers[features.layer[row]].name,
                source_id=str(features.source_id[row]),
            ) from error

    return named
