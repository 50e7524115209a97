"""
What lies behind words: the ground of a text, which patterns keep away from.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from ..craft.patterns import STROKES, TEXTURE_MM

PAD_MM: Final = 0.4  # from letters to the sides of their ground [mm]
TUFT_MM: Final = 0.6  # marks of a texture go whole, and are about so large [mm]


def grounds(texts: Any, *, scale: float) -> np.ndarray:
    """
    Corners of the ground of every text, shape (n, 4, 2) [m on the page].

    Parameters
    ----------
    texts : GeoDataFrame, n rows
        Straight lines that words stand on, with their ``height_mm``.
    scale : float
        The x of 1:x.

    Examples
    --------
    >>> import geopandas
    >>> texts = geopandas.GeoDataFrame({"height_mm": [2.5]}, geometry=[shapely.LineString([(1, 1), (3, 1)])])
    >>> grounds(texts, scale=500).tolist()
    [[[0.8, 0.8], [3.2, 0.8], [3.2, 2.45], [0.8, 2.45]]]
    """
    ends = shapely.get_coordinates(np.asarray(texts.geometry.array, dtype=object)).reshape(-1, 2, 2)
    start, end = ends[:, 0], ends[:, 1]
    along = (end - start) / np.hypot(*(end - start).T)[:, None]
    up = np.column_stack([-along[:, 1], along[:, 0]])
    pad = PAD_MM * scale / 1000
    high = (texts["height_mm"].to_numpy(dtype=float)[:, None] + PAD_MM) * scale / 1000
    low, right = start - pad * along, end + pad * along
    return np.stack([low - pad * up, right - pad * up, right + high * up, low + high * up], axis=1)


def without_words(patterns: Any, labels: Any, *, scale: float) -> Any:
    """
    Keep patterns away from words: joints are cut, marks of textures are left out.

    Parameters
    ----------
    patterns : GeoDataFrame
        Lines of patterns by face, with the name of the pattern in ``kind``.
    labels : GeoDataFrame
        The table of labels.
    scale : float
        The x of 1:x.

    Returns
    -------
    GeoDataFrame
        The same rows.
    """
    ground = shapely.polygons(grounds(labels[labels["line_mm"] == 0], scale=scale))
    if not len(ground) or not len(patterns):
        return patterns
    shapes = np.asarray(patterns.geometry.array, dtype=object).copy()
    reach = TUFT_MM * scale / 1000
    rows = np.unique(shapely.STRtree(shapes).query(ground, predicate="dwithin", distance=reach)[1])
    kind = patterns["kind"].to_numpy(dtype=str)
    texture = np.isin(kind[rows], list(TEXTURE_MM))
    words = shapely.union_all(ground)
    shapes[rows[~texture]] = shapely.difference(shapes[rows[~texture]], words)
    marks = rows[texture]
    per = np.array([STROKES.get(one, 1) for one in kind[marks]], dtype=np.int64)
    shapes[marks] = _clear(shapes[marks], per, words, reach)
    return patterns.set_geometry(shapes, crs=patterns.crs)


def _clear(textures: np.ndarray, per: np.ndarray, words: shapely.Geometry, reach: float) -> np.ndarray:
    """Textures without the marks, of some strokes each, of which any comes within reach of words."""
    stroke, row = shapely.get_parts(textures, return_index=True)
    place = np.arange(len(row)) - np.searchsorted(row, row)
    mark = np.unique(np.stack([row, place // per[row]]), axis=1, return_inverse=True)[1].ravel()
    close = shapely.distance(stroke, words) <= reach
    kept = np.flatnonzero(np.bincount(mark, close)[mark] == 0)
    found = np.full(len(textures), shapely.MultiLineString(), dtype=object)
    if len(kept):
        shapely.multilinestrings(stroke[kept], indices=row[kept], out=found)
    return found
