"""
Earth that goes on below what is let into it.

Where something is let into a terrace or the ground, this is cut open down to its own base, so that
it does not come up through it. Within, nobody sees what lies below that floor. On the outline
of the terrace everybody does: there the cut face goes on below the floor, as wide as this is.
"""

from __future__ import annotations

import numpy as np
import shapely

from .cutting import LEVEL, MOSTLY, NEARLY, is_area
from .faces import PART_CODE
from .grounding import stands_in
from .making import Job, Made
from .prism import prisms
from .widths import CLIMBING


def make_beds(job: Job) -> Made:
    """
    Make the earth below what is let into terraces and surfaces on their outline.

    Parameters
    ----------
    job : Job
        With footprints as they were before they were cut open.

    Returns
    -------
    Made
        Blocks from the base of what is cut open up to the base of what is let into it; they
        belong to the former, the smallest where there are several.
    """
    features = job.features
    base, shape, whole = features.base, features.geometry, job.whole
    size = shapely.area(whole)
    hollow = is_area(whole) & (size - shapely.area(shape) > NEARLY * shapely.length(whole))
    outer = np.flatnonzero(hollow & (features.of_role("form") == "prism"))
    inner = np.flatnonzero(_let_in(job) & is_area(shape))
    one, other = _meeting(shape[inner], shapely.boundary(whole[outer]))
    inner, outer = inner[one], outer[other]
    deep = (inner != outer) & (base[inner] > base[outer] + LEVEL) & (size[inner] < size[outer])
    inner, outer = inner[deep], outer[deep]
    common = shapely.intersection(shape[inner], whole[outer])
    within = shapely.area(common) > MOSTLY * shapely.area(shape[inner])
    inner, outer, common = inner[within], outer[within], common[within]
    smallest = np.lexsort((size[outer], inner))
    first = smallest[np.append(True, np.diff(inner[smallest]) > 0)[: len(inner)]]
    return _blocks(common[first], base[outer[first]], base[inner[first]], outer[first])


def make_ground_beds(job: Job, row: int, bottom: float) -> Made:
    """
    Make the ground below what stands in it on its outline, and below what is let into that.

    Parameters
    ----------
    job : Job
        With the whole ground, and as it was opened up.
    row : int
        The ground.
    bottom : float
        Level down to which it goes [m].

    Returns
    -------
    Made
    """
    features, tin, ground = job.features, job.whole_ground, job.ground
    assert tin is not None
    assert ground is not None
    rows = np.flatnonzero(((job.support < 0) | _let_in(job)) & is_area(features.geometry))
    border = shapely.linestrings(tin.xyz[tin.border, :2])
    rows = rows[np.unique(_meeting(features.geometry[rows], border)[0])]
    common = shapely.intersection(features.geometry[rows], tin.outline)
    rows, common = rows[is_area(common)], common[is_area(common)]
    middle = shapely.point_on_surface(common)
    stands = rows[stands_in(features, rows, tin)]
    one, other = shapely.STRtree(job.whole[stands]).query(middle, predicate="intersects")
    base = features.base[rows]
    np.minimum.at(base, one, features.base[stands[other]])  # or else the earth below is that of another
    opened = np.isnan(ground.level_at(shapely.get_coordinates(middle)))
    opened[np.setdiff1d(np.arange(len(rows)), one)] = False
    there = np.flatnonzero(opened & (base > bottom + LEVEL))
    return _blocks(common[there], np.full(len(there), bottom), base[there], np.full(len(there), row))


def _let_in(job: Job) -> np.ndarray:
    """What may have been let into a terrace or a surface, shape (n,)."""
    return job.sunken | np.isin(job.features.of_role("form"), CLIMBING)


def _meeting(shapes: np.ndarray, lines: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of a shape and a line that it meets."""
    one, other = shapely.STRtree(lines).query(shapes, predicate="dwithin", distance=LEVEL)
    return one, other


def _blocks(footprints: np.ndarray, base: np.ndarray, top: np.ndarray, row: np.ndarray) -> Made:
    parts, owner = shapely.get_parts(footprints, return_index=True)
    wide = np.flatnonzero(shapely.area(parts) > NEARLY * shapely.length(parts))
    parts, owner = parts[wide], owner[wide]
    floor = np.full(len(parts), PART_CODE["floor"])
    faces = prisms(parts, base[owner], top[owner], solid=np.arange(len(parts)), top_part=floor)
    return Made(faces=faces, row=row[owner])
