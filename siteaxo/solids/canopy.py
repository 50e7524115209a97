"""
Canopies: floating slabs, pergolas of beams, and the posts that carry them.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..ragged import ragged
from .courses import Courses, posts_along, uprights
from .making import Job, Made, as_prisms, together
from .prism import prisms

POST: Final = 0.12  # side of a post [m]
INSET: Final = 0.2  # of posts and bearers from the edge [m]
BEAM: Final = 0.08  # width of a beam [m]
HEADROOM: Final = 0.3  # posts shorter than this are left out [m]


def make_canopies(job: Job, rows: np.ndarray) -> Made:
    """
    Make canopies.

    With ``beams`` a canopy is a pergola: beams across its short side, as far apart, lie
    on two bearers along its long side. With ``posts`` it stands on posts, as far apart
    along its edge, on what is below it.
    """
    spacing = np.nan_to_num(job.features.beams[rows])
    carried = rows[np.nan_to_num(job.features.posts[rows]) > 0]
    return together(
        [as_prisms(job, rows[spacing == 0]), _pergolas(job, rows[spacing > 0]), _posts(job, carried)]
    )


def _posts(job: Job, rows: np.ndarray) -> Made:
    """Posts around canopies, inset from their edge, from the ground up to their underside."""
    parts, row = job.polygons(rows)
    if not len(row):
        return together([])
    inner = shapely.buffer(parts, -INSET, join_style="mitre")
    inner = np.where(shapely.get_type_id(inner) == shapely.GeometryType.POLYGON, inner, parts)
    inner = np.where(shapely.is_empty(inner), parts, inner)
    xy, owner = shapely.get_coordinates(shapely.get_exterior_ring(inner), return_index=True)
    courses = Courses(
        xy=xy,
        level=job.features.base[row][owner],
        start=np.searchsorted(owner, np.arange(len(row) + 1)),
    )
    posts = posts_along(courses, job.features.posts[row])
    own = row[posts.course]
    head = job.features.base[own]
    foot = job.surfaces.level_at(posts.xy, head)
    foot = np.where(np.isnan(foot), np.nanmin(np.append(job.features.base, np.inf)), foot)
    stands = np.flatnonzero(head - foot >= HEADROOM)
    faces = uprights(
        posts.xy[stands],
        posts.along[stands],
        POST,
        foot[stands],
        head[stands],
        np.arange(len(stands)),
    )
    return Made(faces=faces, row=own[stands])


def _pergolas(job: Job, rows: np.ndarray) -> Made:
    """Beams and bearers, cut to the outline of the canopy."""
    parts, row = job.polygons(rows)
    if not len(row):
        return together([])
    features = job.features
    origin, along, across, size = _frames(parts)
    count = np.floor((size[:, 0] - 2 * INSET) / features.beams[row] + 1e-9).astype(np.int64)
    count = np.maximum(count, 1) + 1
    beam, place = ragged(count)
    step = (size[:, 0] - 2 * INSET)[beam] / (count - 1)[beam]
    low = INSET + place * step - BEAM / 2
    middle = (features.base[row] + features.top[row]) / 2
    strips = _strips(origin[beam], along[beam], across[beam], low, low + BEAM, size[beam, 1])
    edge = np.stack([np.full(len(row), INSET), size[:, 1] - INSET], axis=1).reshape(-1) - BEAM / 2
    bearer = np.repeat(np.arange(len(row)), 2)
    bearers = _strips(origin[bearer], across[bearer], along[bearer], edge, edge + BEAM, size[bearer, 0])
    found = []
    for strip, which, base, top in (
        (strips, beam, middle, features.top[row]),
        (bearers, bearer, features.base[row], middle),
    ):
        cut, piece = shapely.get_parts(shapely.intersection(strip, parts[which]), return_index=True)
        real = shapely.area(cut) > 0
        cut, own = cut[real], which[piece[real]]
        found.append(Made(faces=prisms(cut, base[own], top[own], solid=np.arange(len(cut))), row=row[own]))
    return together(found)


def _frames(parts: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Corner, long and short direction, and size of the narrowest rectangle around each polygon."""
    corner = shapely.get_coordinates(shapely.oriented_envelope(parts)).reshape(-1, 5, 2)
    one, other = corner[:, 1] - corner[:, 0], corner[:, 3] - corner[:, 0]
    swap = (np.hypot(*one.T) < np.hypot(*other.T))[:, None]
    one, other = np.where(swap, other, one), np.where(swap, one, other)
    size = np.column_stack([np.hypot(*one.T), np.hypot(*other.T)])
    return corner[:, 0], one / size[:, :1], other / size[:, 1:], size


def _strips(
    origin: np.ndarray,
    along: np.ndarray,
    across: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    length: np.ndarray,
) -> np.ndarray:
    """Rectangles from *low* to *high* along one direction and over the whole of the other."""
    corner = [
        origin + along * at[:, None] + across * (length * end)[:, None]
        for at, end in ((low, 0.0), (high, 0.0), (high, 1.0), (low, 1.0))
    ]
    return shapely.orient_polygons(shapely.polygons(np.stack(corner, axis=1)))
