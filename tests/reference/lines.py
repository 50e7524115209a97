"""
What lines a drawing must have, told by ray casting on both sides of every edge.

At a point of an edge that is clear of all other lines, the edge is seen when a face
that runs along it is the one seen right beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .raycast import Hits, Rays


@dataclass(frozen=True, kw_only=True)
class Places:
    """
    Points on sides of faces, clear of the ends of every other side.

    ``face`` is the face, shape (n,); ``xy`` the page point, shape (n, 2) [m]; ``inward``
    a unit vector into the face, shape (n, 2); ``here``, ``there`` the faces seen just
    inside and just outside, shape (n,).
    """

    face: np.ndarray
    xy: np.ndarray
    inward: np.ndarray
    here: np.ndarray
    there: np.ndarray

    def take(self, rows: np.ndarray) -> Places:
        """Some of the places."""
        return Places(**{name: column[rows] for name, column in vars(self).items()})


def places(rays: Rays, count: int, rng: np.random.Generator, *, aside: float) -> Places:
    """
    Pick points on the sides of faces that can be seen, and look on either side of them.

    Points are dropped where another line that is not collinear comes nearer than twice
    the distance *aside* at which one looks.
    """
    face, segment = _sides(rays)
    step = segment[:, 1] - segment[:, 0]
    length = np.hypot(*step.T)
    pick = rng.choice(len(segment), count, p=length / length.sum())
    face, start, step, length = face[pick], segment[pick, 0], step[pick], length[pick]
    xy = start + rng.uniform(0, 1, (count, 1)) * step
    unit = step / length[:, None]
    inward = np.column_stack([-unit[:, 1], unit[:, 0]])
    inward *= np.sign(rays.facing[face] * rays.handedness)[:, None]
    clear = clear_of_others(xy, unit, rays.segments, 4 * aside)
    face, xy, inward = face[clear], xy[clear], inward[clear]
    hits = [rays.cast(xy + sign * aside * inward) for sign in (1, -1)]
    sure = certain(rays, hits[0], xy, aside) & certain(rays, hits[1], xy, aside)
    return Places(
        face=face[sure],
        xy=xy[sure],
        inward=inward[sure],
        here=hits[0].face[sure],
        there=hits[1].face[sure],
    )


def certain(rays: Rays, hits: Hits, xy: np.ndarray, aside: float) -> np.ndarray:
    """Whether the face seen leads clearly, or meets the one behind it in the very line through *xy*."""
    seen = np.maximum(hits.face, 0)
    touch = np.abs(rays.depth(hits.next, xy) - rays.depth(seen, xy)) < 1e-6
    return (hits.face < 0) | ((hits.aside > 4 * aside) & (hits.gap > 2e-3)) | (touch & (hits.gap > 1e-5))


def _sides(rays: Rays) -> tuple[np.ndarray, np.ndarray]:
    """Sides of the faces turned toward the viewer, with their faces."""
    rings = [(face, ring) for face in rays.seen for ring in rays.page[face]]
    face = np.repeat([f for f, _ in rings], [len(ring) for _, ring in rings])
    segment = np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for _, ring in rings])
    long = np.hypot(*(segment[:, 1] - segment[:, 0]).T) > 1e-6
    return face[long], segment[long]


def clear_of_others(xy: np.ndarray, unit: np.ndarray, segments: np.ndarray, reach: float) -> np.ndarray:
    """Whether every segment within reach runs along the same line as the point's own, past the point."""
    tree = shapely.STRtree(shapely.linestrings(segments))
    point, other = tree.query(shapely.points(xy), predicate="dwithin", distance=reach)
    local = segments[other] - xy[point][:, None]
    across = np.abs(local[..., 0] * unit[point, None, 1] - local[..., 1] * unit[point, None, 0])
    along = (local * unit[point, None]).sum(axis=2)
    runs_along = (across < 1e-6).all(axis=1) & (along.min(axis=1) < -reach) & (along.max(axis=1) > reach)
    dot = np.hypot(*(segments[other, 1] - segments[other, 0]).T) < 1e-6
    clear = np.ones(len(xy), dtype=bool)
    clear[point[~runs_along | dot]] = False
    return clear


def doubled(lines: np.ndarray, *, aside: float, length: float) -> np.ndarray:
    """
    Pairs of lines that run along one another, by comparing each with each.

    Parameters
    ----------
    lines : ndarray, shape (n, 2, 2)
        End points [m].
    aside : float
        Lines no farther apart than this over all of their common stretch are one [m].
    length : float
        Common stretches up to this length do not count [m].

    Returns
    -------
    ndarray of int, shape (k, 2)
    """
    step = lines[:, 1] - lines[:, 0]
    size = np.hypot(*step.T)
    unit = step / size[:, None]
    found = []
    for row in range(len(lines)):
        local = lines - lines[row, 0]
        along = local @ unit[row]
        across = local[..., 0] * unit[row, 1] - local[..., 1] * unit[row, 0]
        low, high = np.maximum(along.min(axis=1), 0), np.minimum(along.max(axis=1), size[row])
        span = along[:, 1] - along[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            at = (
                across[:, :1]
                + (np.stack([low, high], 1) - along[:, :1]) * ((across[:, 1] - across[:, 0]) / span)[:, None]
            )
        alike = (high - low > length) & (np.abs(at) <= aside).all(axis=1)
        alike[row] = False
        found += [(row, other) for other in np.flatnonzero(alike) if other > row]
    return np.array(found, dtype=np.int64).reshape(-1, 2)
