"""
Ray casting by Embree through the trimesh package, over all faces, those turned away included.

Embree works in single precision, so it is asked only which triangle is hit first; where
along the line that is follows from the triangle's plane in double precision.
"""

from __future__ import annotations

import numpy as np
import shapely
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from .raycast import Rays


def first_hits(rays: Rays, points: np.ndarray) -> np.ndarray:
    """
    The face first hit by the line of sight through each page point, -1 for none.

    Parameters
    ----------
    rays : Rays
        The scene.
    points : ndarray, shape (n, 2)
        Page points [m].

    Returns
    -------
    ndarray of int, shape (n,)
    """
    corners, owner = _triangles(rays)
    mesh = trimesh.Trimesh(
        vertices=corners.reshape(-1, 3), faces=np.arange(len(corners) * 3).reshape(-1, 3), process=False
    )
    toward = rays.sight / np.linalg.norm(rays.sight)
    start = points @ rays.inverse[:, :2].T
    start += ((corners.reshape(-1, 3) @ toward).max() + 1.0 - start @ toward)[:, None] * toward
    triangle = RayMeshIntersector(mesh).intersects_first(start, np.broadcast_to(-toward, start.shape))
    return np.where(triangle >= 0, owner[triangle], -1)


def _triangles(rays: Rays) -> tuple[np.ndarray, np.ndarray]:
    """Triangles of all faces, shape (t, 3, 3), and the face of each."""
    corners, owner = [], []
    for face, rings in enumerate(rays.rings):
        keep = np.delete(np.arange(3), np.abs(rays.normal[face]).argmax())
        flat = shapely.Polygon(rings[0][:, keep], [ring[:, keep] for ring in rings[1:]])
        points = np.concatenate(rings)
        for part in shapely.get_parts(shapely.constrained_delaunay_triangles(flat)):
            corner = shapely.get_coordinates(part)[:3]
            nearest = ((points[:, keep] - corner[:, None]) ** 2).sum(axis=2).argmin(axis=1)
            corners.append(points[nearest])
            owner.append(face)
    return np.array(corners), np.array(owner)
