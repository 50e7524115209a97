"""What an invented office adds to siteaxo."""

import itertools
from typing import Annotated

import geopandas
import numpy as np
import shapely

import siteaxo

SITEAXO_INTERFACE = 1

COPING = siteaxo.Role(name="quayside.coping", order=11, theme="structures", supports=True, width=0.5)
"""A broad coping along the water: a wall to sit on."""

BANK_TREE = siteaxo.Role(
    name="quayside.bank_tree", order=17, form="tree", theme="planting", shapes=("round", "quayside.alder")
)
"""A tree on the bank; on plans an alder has the office's own symbol."""

PLAY_MOUND = siteaxo.Role(
    name="quayside.play_mound", order=9, form="quayside.mound", theme="planting", supports=True
)
"""A mound to climb and slide on."""

TIDEWATER = {"base": "muted", "tones": {"water": "#9fc3c9", "quayside.coping": "#d8c9b4"}, "ink": "#1d2a33"}


def mound(
    footprint: np.ndarray, base: np.ndarray, top: np.ndarray, *, rim: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Raise mounds: a kerb as high as the rim, and sides that lean to a level top half as wide."""
    hull = shapely.orient_polygons(shapely.convex_hull(footprint))
    xy, row = shapely.get_coordinates(hull, return_index=True)
    centre = shapely.get_coordinates(shapely.centroid(hull))[row]
    kerb = base + np.nan_to_num(rim)
    rings = [
        np.column_stack([xy, base[row]]),
        np.column_stack([xy, kerb[row]]),
        np.column_stack([(xy + centre) / 2, top[row]]),
    ]
    here = np.flatnonzero(row[1:] == row[:-1])  # from each corner of a ring to the next
    faces, owner = [], []
    for low, high in itertools.pairwise(rings):
        raised = here[high[here, 2] > low[here, 2]]
        corners = [low[raised], low[raised + 1], high[raised + 1], high[raised]]
        faces.append(shapely.polygons(np.stack(corners, axis=1)))
        owner.append(row[raised])
    faces.append(shapely.polygons(shapely.linearrings(rings[2], indices=row)))
    faces.append(shapely.reverse(shapely.polygons(shapely.linearrings(rings[0], indices=row))))
    owner += [np.arange(len(hull))] * 2
    return np.concatenate(faces), np.concatenate(owner)


@siteaxo.operation("quayside.seat_length", version="1.1")
def seat_length(
    features: geopandas.GeoDataFrame,
    *,
    height: Annotated[str, siteaxo.FieldOf("height")],
    lowest: Annotated[float, siteaxo.Within(least=0, most=2)] = 0.35,
    highest: Annotated[float, siteaxo.Within(least=0, most=2)] = 0.55,
) -> geopandas.GeoDataFrame:
    """
    Measure how much of each wall is of a height that people sit on.

    Parameters
    ----------
    features : geopandas.GeoDataFrame
        Centre lines of walls in a CRS in metres.
    height : str
        Field with their heights above the ground.
    lowest, highest : float
        Heights from which and up to which people sit on a wall [m].

    Returns
    -------
    geopandas.GeoDataFrame
        The same features with a column seat_m: length to sit on [m].
    """
    fits = features[height].between(lowest, highest)
    return features.assign(seat_m=features.length.where(fits, 0.0))


def _outline(radius: float, chance: np.ndarray) -> np.ndarray:
    angle = np.linspace(0.0, 2 * np.pi, 7)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _within(radius: float, chance: np.ndarray) -> list[np.ndarray]:
    return [np.array([[-0.5 * radius, 0.0], [0.5 * radius, 0.0]])]


ALDER = (_outline, _within)
