"""
Made-up districts and ground for benchmarks: the same seed gives the same district.

Footprints stand on a jittered grid at random angles and never meet: where two came too
near, the later one is drawn in toward its own middle until it keeps its distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, from_quads
from siteaxo.solids.prism import prisms
from siteaxo.solids.scene import Scene

GAP = 0.5  # least distance between footprints [m]
SHRINK = 0.85  # each time two footprints are too near


@dataclass(frozen=True, kw_only=True)
class District:
    """
    Footprints with levels.

    Parameters
    ----------
    footprints : ndarray of Polygon, shape (n,)
        In a plane of metres.
    base, top : ndarray, shape (n,)
        Levels [m].
    """

    footprints: np.ndarray
    base: np.ndarray
    top: np.ndarray

    def scene(self) -> Scene:
        """Faces and edges of the prisms."""
        return scene_of(self.footprints, self.base, self.top)


def district(kind: str, count: int, *, seed: int = 0) -> District:
    """
    Make a district.

    Parameters
    ----------
    kind : {"open", "dense"}
        "open": 18 m apart, 3 to 30 m high, a quarter L-shaped. "dense": 14 m apart,
        heights lognormal about 18 m and up to 120 m, a third L-shaped, a tenth with a
        courtyard.
    count : int
        Number of footprints.
    seed : int
        Which district of the kind.

    Returns
    -------
    District
    """
    rng = np.random.default_rng([seed, count, len(kind)])
    if kind == "open":
        height = rng.uniform(3.0, 30.0, count)
        shapes = _shapes(rng, count, pitch=18.0, sides=(7.0, 14.0), ells=0.25, courtyards=0.0)
    elif kind == "dense":
        height = np.clip(rng.lognormal(math.log(18.0), 0.75, count), 3.0, 120.0)
        shapes = _shapes(rng, count, pitch=14.0, sides=(8.0, 13.0), ells=1 / 3, courtyards=0.1)
    else:
        raise ValueError(f"kind must be 'open' or 'dense', not {kind!r}.")
    base = rng.uniform(0.0, 2.0, count)
    return District(footprints=shapes, base=base, top=base + height)


def terrain(triangles: int, *, seed: int = 0) -> Scene:
    """
    Make rolling ground of about as many triangles, 5 m a side, as one solid.

    Parameters
    ----------
    triangles : int
        Number wanted; an even number is made.
    seed : int
        Which ground.

    Returns
    -------
    Scene
    """
    rng = np.random.default_rng([seed, triangles])
    across = max(int(math.sqrt(triangles / 2)), 1)
    along = max(triangles // (2 * across), 1)
    x, y = np.meshgrid(np.arange(across + 1.0), np.arange(along + 1.0), indexing="ij")
    x, y = (5.0 * (grid + rng.uniform(-0.3, 0.3, grid.shape)) for grid in (x, y))
    waves = [(60.0, 90.0), (25.0, 35.0), (10.0, 20.0)]  # steep enough to hide some of itself
    z = sum(size * np.sin(x / length + k) * np.cos(y / length - k) for k, (size, length) in enumerate(waves))
    points = np.stack([x, y, z + rng.uniform(-0.2, 0.2, x.shape)], axis=-1)
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    corners = np.concatenate(
        [np.stack(corner, axis=2).reshape(-1, 3, 3) for corner in ((a, b, c), (a, c, d))]
    )
    faces = from_quads(corners, solid=np.zeros(len(corners), dtype=np.int64), part=PART_CODE["slope"])
    return Scene(faces=faces, edges=edges_of(faces), rank=np.zeros(1), group=np.zeros(1, dtype=np.int64))


def scene_of(footprints: np.ndarray, base: np.ndarray, top: np.ndarray) -> Scene:
    """
    Prisms of footprints, ready to be drawn; of coplanar ones the later is drawn.

    Parameters
    ----------
    footprints : ndarray of Polygon, shape (n,)
        In a plane of metres.
    base, top : ndarray, shape (n,)
        Levels [m].

    Returns
    -------
    Scene
    """
    count = len(footprints)
    faces = prisms(footprints, base, top, solid=np.arange(count))
    return Scene(
        faces=faces, edges=edges_of(faces), rank=np.arange(count), group=np.zeros(count, dtype=np.int64)
    )


def make(kind: str, count: int, *, seed: int = 0) -> Scene:
    """Scene of a district, or of a terrain of *count* triangles."""
    return terrain(count, seed=seed) if kind == "terrain" else district(kind, count, seed=seed).scene()


def _shapes(
    rng: np.random.Generator,
    count: int,
    *,
    pitch: float,
    sides: tuple[float, float],
    ells: float,
    courtyards: float,
) -> np.ndarray:
    centre = _jittered_grid(rng, count, pitch)
    half = rng.uniform(*sides, (count, 2)) / 2
    notch = half * rng.uniform(0.7, 1.2, (count, 2))  # cut out of an L-shape's corner
    court = half * rng.uniform(0.3, 0.6, (count, 1))
    angle = rng.uniform(0.0, 2 * math.pi, count)
    draw = rng.uniform(size=count)
    ell, holed = draw < ells, draw > 1 - courtyards
    shapes = np.empty(count, dtype=object)
    plain = ~ell & ~holed
    shapes[plain] = shapely.polygons(_rectangle(half[plain]))
    shapes[ell] = shapely.polygons(_ell(half[ell], notch[ell]))
    inner = shapely.linearrings(_rectangle(court[holed]))
    shapes[holed] = shapely.polygons(shapely.linearrings(_rectangle(half[holed])), inner[:, None])
    return _kept_apart(_placed(shapes, angle, centre), centre)


def _jittered_grid(rng: np.random.Generator, count: int, pitch: float) -> np.ndarray:
    across = math.ceil(math.sqrt(count))
    cell = np.arange(count)
    grid = np.column_stack([cell % across, cell // across]).astype(float)
    return pitch * (grid + rng.uniform(-0.15, 0.15, (count, 2)))


def _rectangle(half: np.ndarray) -> np.ndarray:
    signs = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return half[:, None] * signs


def _ell(half: np.ndarray, notch: np.ndarray) -> np.ndarray:
    corners = np.repeat(_rectangle(half), [1, 1, 3, 1], axis=1)
    corners[:, 2, 1] -= notch[:, 1]
    corners[:, 3] -= notch
    corners[:, 4, 0] -= notch[:, 0]
    return corners


def _placed(shapes: np.ndarray, angle: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Turn each shape about the origin and move it to its place."""
    owner = np.repeat(np.arange(len(shapes)), shapely.get_num_coordinates(shapes))
    cosine, sine = np.cos(angle)[owner], np.sin(angle)[owner]
    x, y = shapely.get_coordinates(shapes).T
    moved = np.column_stack([x * cosine - y * sine, x * sine + y * cosine]) + centre[owner]
    return shapely.set_coordinates(shapes.copy(), moved)


def _kept_apart(shapes: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Shrink the later of two footprints that are nearer than the gap, until none are."""
    while True:
        first, second = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=GAP)
        later = np.unique(second[first < second])
        if not len(later):
            return shapes
        owner = np.repeat(np.arange(len(later)), shapely.get_num_coordinates(shapes[later]))
        middle = centre[later][owner]
        smaller = middle + SHRINK * (shapely.get_coordinates(shapes[later]) - middle)
        shapes[later] = shapely.set_coordinates(shapes[later], smaller)
