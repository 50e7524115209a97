"""What an invented office adds to siteaxo: a role, a style, and an operation."""

from typing import Annotated

import geopandas

import siteaxo

SITEAXO_INTERFACE = 1

COPING = siteaxo.Role(name="quayside.coping", order=11, theme="structures", supports=True, width=0.5)
TIDEWATER = {
    "base": "muted",
    "tones": {"water": "#9fc3c9", "quayside.coping": "#e2cfae", "terrace": "#e9e6de"},
    "ink": "#1d2a33",
}


@siteaxo.operation("quayside.seat_length", version="1.0")
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
