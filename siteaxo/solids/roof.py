"""
Roofs over their footprints: flat with a parapet, shed, gable and hip, and planes as given.

The base of a roof is its eaves, its top the highest ridge. The planes of one roof have
one pitch, which follows from its top, or is given and raises the ridge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from .faces import PART_CODE, Faces, join
from .making import Job, Made, as_prisms, together
from .notes import note
from .prism import Rings, prisms
from .rings import assemble
from .skeleton import Skeleton, skeleton_of
from .tray import trays

PITCHED: Final = ("shed", "gable", "hip")
PARAPET: Final = 0.2  # width of a parapet [m]
PITCH: Final = 30.0  # where neither a ridge nor a pitch is given [degrees]
STRAIGHT: Final = 1e-6  # corners so near to a straight side are none [m]
EQUAL: Final = 1e-3  # sides that differ by less are equally long [m]


def make_roofs(job: Job, rows: np.ndarray) -> Made:
    """Make roofs: planes as they were measured, slabs, slabs with a parapet, and pitched roofs."""
    features = job.features
    given = ~shapely.is_missing(features.geometry_z[rows])
    measured, rows = rows[given], rows[~given]
    sloping = np.isin(features.shape[rows].astype(str), PITCHED)
    edged = ~sloping & (np.nan_to_num(features.parapet[rows]) > 0)
    return together(
        [
            _measured(job, measured),
            as_prisms(job, rows[~sloping & ~edged]),
            _with_parapets(job, rows[edged]),
            _pitched(job, rows[sloping]),
        ]
    )


def _measured(job: Job, rows: np.ndarray) -> Made:
    """Roof planes with their own Z."""
    if not len(rows):
        return together([])
    planes = job.features.geometry_z[rows]
    xyz, owner = shapely.get_coordinates(planes, include_z=True, return_index=True)
    crest = np.full(len(rows), -np.inf)
    np.maximum.at(crest, owner, xyz[:, 2])
    return Made(
        faces=planes_as_given(planes, solid=np.arange(len(rows))),
        row=rows,
        top=dict(zip(rows.tolist(), crest.tolist(), strict=True)),
    )


def _with_parapets(job: Job, rows: np.ndarray) -> Made:
    """Slabs whose edge rises above their top."""
    parts, row = job.polygons(rows)
    features = job.features
    base, top = features.base[row], features.top[row]
    number = np.arange(len(row))
    faces, built = trays(
        parts,
        base,
        top + features.parapet[row],
        rim=np.full(len(row), PARAPET),
        floor=top,
        solid=number,
        floor_part="roof",
    )
    slab = number[~built]
    roof = np.full(len(slab), PART_CODE["roof"])
    whole = prisms(parts[slab], base[slab], top[slab], solid=slab, top_part=roof)
    return Made(faces=join([faces, whole]), row=row)


def _pitched(job: Job, rows: np.ndarray) -> Made:
    """Roofs with planes; one whose outline cannot be resolved stays a slab, with a finding."""
    parts, row = job.polygons(rows)
    if not len(row):
        return together([])
    features = job.features
    number = np.arange(len(row))
    roofs = pitched(
        parts,
        features.base[row],
        features.top[row],
        pitch=features.pitch[row],
        shape=features.shape[row],
        solid=number,
    )
    slab = number[np.isnan(roofs.top)]
    whole = prisms(parts[slab], features.base[row[slab]], features.top[row[slab]], solid=slab)
    laid = number[~np.isnan(roofs.top)]
    top: dict[int, float] = {}
    for k in laid:
        top[int(row[k])] = max(float(roofs.top[k]), top.get(int(row[k]), -np.inf))
    message = "Its outline is too intricate for a pitched roof, so a flat one is drawn. Simplify it."
    return Made(
        faces=join([roofs.faces, whole]),
        row=row,
        top=top,
        findings=tuple(note(features, int(row[k]), "roof-unresolved", message) for k in slab),
    )


@dataclass(frozen=True, kw_only=True)
class Roofs:
    """
    Pitched roofs.

    Parameters
    ----------
    faces : Faces
        Their planes, gables and soffits.
    top : ndarray, shape (n,)
        Level of the highest ridge; NaN where no roof could be laid [m].
    """

    faces: Faces
    top: np.ndarray


def pitched(
    footprint: np.ndarray,
    base: np.ndarray,
    top: np.ndarray,
    *,
    pitch: np.ndarray,
    shape: np.ndarray,
    solid: np.ndarray,
) -> Roofs:
    """
    Lay pitched roofs.

    Parameters
    ----------
    footprint : ndarray of Polygon, shape (n,)
        Outline of the eaves [m].
    base, top : ndarray, shape (n,)
        Levels of eaves and ridge; where they are equal, the pitch raises the ridge [m].
    pitch : ndarray, shape (n,)
        Pitch of the planes; NaN for the usual one [degrees].
    shape : ndarray of str, shape (n,)
        "shed", "gable" or "hip".
    solid : ndarray of int, shape (n,)
        Solid of each.

    Returns
    -------
    Roofs
    """
    plain = shapely.orient_polygons(shapely.simplify(footprint, STRAIGHT))
    slope = np.tan(np.radians(np.where(np.isnan(pitch), PITCH, pitch)))
    crest = np.full(len(plain), np.nan)
    tables = []
    for row, outline in enumerate(plain):  # a roof is found from event to event, one at a time
        planes = _shed(outline) if shape[row] == "shed" else _ridged(outline, gabled=shape[row] == "gable")
        if planes is None:
            continue
        steep = (top[row] - base[row]) / planes.reach if top[row] - base[row] > EQUAL else slope[row]
        crest[row] = base[row] + steep * planes.reach
        tables.append(_raised(planes, base[row], steep, int(solid[row])))
    laid = np.flatnonzero(~np.isnan(crest))
    soffit = np.full(len(laid), PART_CODE["soffit"])
    if len(laid):
        tables.append(
            Rings(plain[laid]).lid(
                np.arange(len(laid)), base[laid], np.asarray(solid)[laid], soffit, upside_down=True
            )
        )
    return Roofs(faces=join(tables), top=crest)


@dataclass(frozen=True, kw_only=True)
class _Planes:
    """Planes in plan, with their height in terms of the distance from the eaves."""

    node: np.ndarray
    rings: list[list[int]]
    upright: list[bool]
    reach: float


def _raised(planes: _Planes, base: float, steep: float, solid: int) -> Faces:
    ring = planes.rings
    vertex = np.concatenate([np.asarray(r, dtype=np.int64) for r in ring])
    face = np.repeat(np.arange(len(ring)), [len(r) for r in ring])
    xyz = planes.node[vertex] * [1.0, 1.0, steep] + [0.0, 0.0, base]
    part = np.where(planes.upright, PART_CODE["side"], PART_CODE["roof"])
    return assemble(xyz, face=face, place=np.arange(len(face)), solid=np.full(len(ring), solid), part=part)


def _ridged(outline: shapely.Polygon, *, gabled: bool) -> _Planes | None:
    still = _gable_ends(outline) if gabled else None
    found: Skeleton | None = skeleton_of(outline, still)
    if found is None or found.reach <= 0:
        return None
    upright = [bool(still is not None and still[side]) for side in found.side]
    return _Planes(node=found.node, rings=found.rings, upright=upright, reach=found.reach)


def _sides(outline: shapely.Polygon) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Start of every side, the side after it on its ring, and whether the corner between is convex."""
    xy, owner = shapely.get_coordinates(shapely.get_rings(outline), return_index=True)
    last = np.append(owner[1:] != owner[:-1], True)
    xy, owner = xy[~last], owner[~last]
    ahead = np.arange(1, len(xy) + 1)
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    ahead[np.append(first[1:], len(xy)) - 1] = first
    here, there = xy[ahead] - xy, xy[ahead[ahead]] - xy[ahead]
    return xy, ahead, here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0] > 0


def _gable_ends(outline: shapely.Polygon) -> np.ndarray:
    """Sides between convex corners, shorter than one neighbour and no longer than both, shape (sides,)."""
    xy, ahead, convex = _sides(outline)
    length = np.hypot(*(xy[ahead] - xy).T)
    behind = np.argsort(ahead)
    ends = convex & convex[behind]
    neighbours = np.stack([length[ahead], length[behind]])
    ends &= (length < neighbours.max(axis=0) - EQUAL) & (length < neighbours.min(axis=0) + EQUAL)
    if not ends.any() and len(xy) == 4:  # a square: the ridge runs along its first side
        ends[[1, 3]] = True
    return ends


def _shed(outline: shapely.Polygon) -> _Planes:
    """One plane that rises from the longest side, of equally long ones the southernmost."""
    xy, ahead, _ = _sides(outline)
    along = xy[ahead] - xy
    length = np.hypot(*along.T)
    longest = np.flatnonzero(length > length.max() - EQUAL)
    low = longest[np.argmin((xy[longest] + along[longest] / 2)[:, 1])]
    normal = np.array([-along[low, 1], along[low, 0]]) / length[low]
    height = (xy - xy[low]) @ normal
    height -= height.min()
    height[height < 1e-9] = 0.0
    count = len(xy)
    node = np.vstack([np.column_stack([xy, height]), np.column_stack([xy, np.zeros(count)])])
    rings = [[k + count, int(ahead[k]) + count, int(ahead[k]), k] for k in range(count)]
    covers = _covering(outline, xy)
    return _Planes(
        node=node,
        rings=[*rings, *covers],
        upright=[True] * count + [False] * len(covers),
        reach=float(height.max()),
    )


def _covering(outline: shapely.Polygon, xy: np.ndarray) -> list[list[int]]:
    """The outline as one ring of corners, or as triangles where it has courtyards."""
    if not len(outline.interiors):
        return [list(range(len(xy)))]
    corner = {tuple(point): k for k, point in enumerate(xy.tolist())}
    parts = shapely.get_parts(shapely.orient_polygons(shapely.constrained_delaunay_triangles(outline)))
    return [[corner[tuple(point)] for point in shapely.get_coordinates(part)[:-1].tolist()] for part in parts]


def planes_as_given(planes: np.ndarray, *, solid: np.ndarray) -> Faces:
    """
    Take roof planes as they were measured.

    Parameters
    ----------
    planes : ndarray of Polygon Z, shape (n,)
        One polygon a plane, without holes; they need not meet [m].
    solid : ndarray of int, shape (n,)
        Solid of each plane.

    Returns
    -------
    Faces
        Two-sided, looking upward.
    """
    rings = shapely.get_exterior_ring(shapely.orient_polygons(planes))
    xyz, owner = shapely.get_coordinates(rings, include_z=True, return_index=True)
    faces = assemble(
        xyz,
        face=owner,
        place=np.arange(len(owner)),
        solid=np.asarray(solid),
        part=np.full(len(planes), PART_CODE["roof"]),
    )
    return replace(faces, two_sided=np.ones(len(faces), dtype=bool))
