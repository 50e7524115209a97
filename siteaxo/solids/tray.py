"""
Trays: blocks with a rim and a floor sunk into them, such as planters and roofs with parapets.
"""

from __future__ import annotations

import numpy as np
import shapely

from .faces import PART_CODE, Faces, join
from .prism import Rings


def trays(
    outline: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    *,
    rim: np.ndarray,
    floor: np.ndarray,
    solid: np.ndarray,
    floor_part: str = "floor",
) -> tuple[Faces, np.ndarray]:
    """
    Build trays.

    Parameters
    ----------
    outline : ndarray of Polygon, shape (n,)
        Outlines [m].
    base, top : ndarray, shape (n,)
        Levels of the underside and of the rim [m].
    rim : ndarray, shape (n,)
        Width of the rim [m].
    floor : ndarray, shape (n,)
        Level of the floor within the rim, between base and top [m].
    solid : ndarray of int, shape (n,)
        Solid of each.
    floor_part : str
        Part that the floors are.

    Returns
    -------
    faces : Faces
        Of the trays that could be built.
    built : ndarray of bool, shape (n,)
        Whether there is room for a floor within the rim, and it lies below the rim.
    """
    inner = shapely.buffer(outline, -rim, join_style="mitre", mitre_limit=4.0)
    built = (rim > 0) & (shapely.area(inner) > 0) & (floor < top - 1e-6) & (floor > base + 1e-6)
    rows = np.flatnonzero(built)
    if not len(rows):
        return join([]), built
    outer = Rings(shapely.orient_polygons(outline[rows]))
    floors, floor_of = _parts(inner[rows])
    rims, rim_of = _parts(shapely.difference(outline[rows], inner[rows]))
    within, around = Rings(floors), Rings(rims)
    floor_row, rim_row = rows[floor_of], rows[rim_of]
    every = np.arange(len(rows))
    faces = join(
        [
            around.lid(np.arange(len(rims)), top[rim_row], solid[rim_row], _code("top", len(rims))),
            within.lid(
                np.arange(len(floors)), floor[floor_row], solid[floor_row], _code(floor_part, len(floors))
            ),
            outer.walls(every, base[rows], top[rows], solid[rows]),
            within.walls(
                np.arange(len(floors)), floor[floor_row], top[floor_row], solid[floor_row], inward=True
            ),
            outer.lid(every, base[rows], solid[rows], _code("soffit", len(rows)), upside_down=True),
        ]
    )
    return faces, built


def _parts(geometry: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    parts, owner = shapely.get_parts(geometry, return_index=True)
    area = shapely.get_dimensions(parts) == 2
    return shapely.orient_polygons(parts[area]), owner[area]


def _code(part: str, count: int) -> np.ndarray:
    return np.full(count, PART_CODE[part])
