"""
Paving and material patterns in true scale on what is seen of every face.

A pattern is laid in the plane of each face, brought onto the page with the face, and cut to
what is seen of it. Where the joints of a face would come to lie nearer than 0.7 mm on paper,
every second one is drawn: bricks of 10 cm are laid whole to 1:140, and every second course of
them to 1:285. Where even those would lie nearer, and where courses
vary, a face has none. What is narrower than a board, such as a post, is one piece of timber and has
no joints. Textures have their size on paper, and only marks that are seen whole are drawn.

References
----------
ISO 128-20 §4.4 (lines at least 0.7 mm apart).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..diagram.layers import GROUP, NUMBER, ViewRecord
from ..diagram.tables import extra_table
from .bonds import BONDS, Bond, Joints, joints_of, thinned_bond
from .finishes import Finish, Laying
from .light import UPRIGHT
from .style import Style
from .surfaces import Surfaces, has_planes, surfaces_of
from .textures import COURSED, COURSES, TEXTURES
from .thinning import LEAST_MM

TEXTURE_MM: Final = {"gravel": (1.7, 0.18), "soil": (1.9, 0.5), "water": (1.7, 1.2), "grass": (4.2, 0.6)}
"""Spacing and size of the marks of each texture on paper [mm]."""
STROKES: Final = {"grass": 3}
"""How many strokes a mark of a texture has, one where it is not in here; they follow one another."""
UPRIGHT_TEXTURES: Final = frozenset({"grass", "water"})
"""Textures that stand upright on the page, however the plan is turned."""
FLAT_ROLES: Final = frozenset(
    {"ground", "terrace", "lawn", "water", "paving", "path", "ramp", "steps", "deck", "seat", "planter"}
)
"""Roles whose tops show the pattern for what lies flat."""


def patterns_of(faces: Any, plan: Any, view: ViewRecord, style: Style, *, scale: float) -> Any:
    """
    Lay the patterns of all faces whose material has one.

    Parameters
    ----------
    faces : GeoDataFrame
        Visible faces with their planes, materials and fills.
    plan : GeoDataFrame
        Footprints on the turned plan.
    view : ViewRecord
        The view.
    style : Style
        Which pattern each material has.
    scale : float
        The x of 1:x.

    Returns
    -------
    GeoDataFrame
        One row of lines for each face that has a pattern, with EXTRA_COLUMNS; ``kind`` is
        the pattern's name, ``units_per_m2`` how many units lie on a square metre of the face.
    """
    if not has_planes(faces) or not len(faces):
        return extra_table(np.empty(0, dtype=object))
    rows, shapes, kinds, units = [], [], [], []
    for laying, chosen in _by_laying(faces, style):
        surfaces = surfaces_of(faces.iloc[chosen], plan, view, laying.along)
        polygons = np.asarray(faces.geometry.array, dtype=object)[chosen]
        row, lines = laid(laying, surfaces, polygons, scale=scale)
        rows.append(chosen[row])
        shapes.append(lines)
        kinds.append(np.full(len(row), laying.pattern, dtype=object))
        units.append(np.full(len(row), laying.units_per_m2))
    if not rows:
        return extra_table(np.empty(0, dtype=object))
    row = np.concatenate(rows)
    order = np.argsort(row, kind="stable")
    row, kind, lines = row[order], np.concatenate(kinds)[order], np.concatenate(shapes)[order]
    return _named(faces.iloc[row], kind, lines, np.concatenate(units)[order], style, scale)


def _named(
    faces: Any, kind: np.ndarray, lines: np.ndarray, units: np.ndarray, style: Style, scale: float
) -> Any:
    inks = {fill: style.pattern_ink(fill) for fill in faces["fill"].unique()}
    return extra_table(
        lines,
        layer=faces["layer"].to_numpy(dtype=object),
        source_id=faces["source_id"].to_numpy(dtype=object),
        role=faces["role"].to_numpy(dtype=object),
        kind=kind,
        line_mm=style.weights.of("pattern", scale),
        colour=np.array([inks[fill] for fill in faces["fill"]], dtype=object),
        units_per_m2=units,
        **{name: faces[name].to_numpy() for name in (GROUP, NUMBER) if name in faces},
    )


def _by_laying(faces: Any, style: Style) -> list[tuple[Laying, np.ndarray]]:
    """Layings that occur, each with the rows of the faces that show it."""
    role, roles = pd.factorize(np.asarray(faces["role"], dtype=object))
    material, materials = pd.factorize(np.asarray(faces["material"], dtype=object))
    numbers, at = np.unique(role * len(materials) + material, return_inverse=True)
    pairs = [(str(roles[one // len(materials)]), str(materials[one % len(materials)])) for one in numbers]
    finishes: list[Finish] = [style.finish(*pair) for pair in pairs]
    upright = faces["normal_z"].to_numpy(dtype=float) < UPRIGHT
    found: dict[Laying, list[np.ndarray]] = {}
    for number, finish in enumerate(finishes):
        mine = at == number
        flat = finish.flat if pairs[number][0] in FLAT_ROLES else None
        for laying, rows in ((flat, mine & ~upright), (finish.upright, mine & upright)):
            if laying is not None and rows.any():
                found.setdefault(laying, []).append(np.flatnonzero(rows))
    return [(laying, np.sort(np.concatenate(rows))) for laying, rows in found.items()]


def laid(
    laying: Laying, surfaces: Surfaces, polygons: np.ndarray, *, scale: float, whole: bool = True
) -> tuple[np.ndarray, np.ndarray]:
    """
    Lay one pattern over polygons in their planes.

    Parameters
    ----------
    laying : Laying
        The pattern.
    surfaces : Surfaces
        Planes of the polygons.
    polygons : ndarray of Polygon or MultiPolygon, shape (f,)
        What is seen of each [m on the page].
    scale : float
        The x of 1:x.
    whole : bool
        Draw only those marks of a texture that are seen whole; else cut them as well.

    Returns
    -------
    row : ndarray of int, shape (n,)
        Polygons that get any line.
    lines : ndarray of MultiLineString, shape (n,)
        The lines, cut to their polygons.
    """
    rows, lines = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=object)]
    for row, bond in _with_room(laying, surfaces, LEAST_MM * scale / 1000):
        row = row[_jointed(laying, surfaces.take(row), polygons[row])]
        if not len(row):
            continue
        planes, shapes = surfaces.take(row), polygons[row]
        if laying.is_texture:
            face, found = _marks(laying.pattern, planes, shapes, scale, whole=whole)
        else:
            face, found = _cut(_joints(laying, bond, planes, shapes), planes, shapes)
        rows.append(row[face])
        lines.append(found)
    row = np.concatenate(rows)
    order = np.argsort(row, kind="stable")
    return row[order], np.concatenate(lines)[order]


def _jointed(laying: Laying, planes: Surfaces, polygons: np.ndarray) -> np.ndarray:
    """Which polygons are wider than a board, where boards are laid."""
    if laying.pattern != "boards":
        return np.ones(len(polygons), dtype=bool)
    box = planes.boxes(polygons, 0.0)
    return np.asarray((box[:, 2:] - box[:, :2]).min(axis=1) > laying.width)


def _with_room(laying: Laying, surfaces: Surfaces, least: float) -> list[tuple[np.ndarray, Bond]]:
    """Faces on which a pattern has room, by which of its joints are drawn there."""
    bond = _bond(laying)
    pitches = [(family.angle, family.pitch) for family in bond] or _pitches(laying)
    if not pitches or not len(surfaces):
        return [(np.arange(len(surfaces)), bond)] if len(surfaces) else []
    room = np.array([surfaces.spread_on_page(angle) * pitch for angle, pitch in pitches]) / least * (1 + 1e-9)
    if not bond:
        row = np.flatnonzero(room.min(axis=0) >= 1.0)
        return [(row, bond)] if len(row) else []
    steps = np.minimum(np.floor(2 * room), 2.0) / 2  # 1: all, ½: every second, 0: none
    kinds, which = np.unique(steps, axis=1, return_inverse=True)
    drawn = [thinned_bond(bond, kind) for kind in kinds.T.tolist()]
    return [(np.flatnonzero(which.ravel() == k), some) for k, some in enumerate(drawn) if some]


def _bond(laying: Laying) -> Bond:
    """Joints of a pattern of units of one size; none of others."""
    if laying.pattern not in BONDS or laying.length is None or laying.width is None:
        return ()
    return BONDS[laying.pattern](laying.length, laying.width)


def _pitches(laying: Laying) -> list[tuple[float, float]]:
    """Directions of joints of varying courses and the least distance of those side by side [degrees, m]."""
    if laying.is_texture or laying.length is None or laying.width is None:
        return []
    narrowest = laying.width * min(COURSES) / float(np.mean(COURSES))
    return [
        (0.0, narrowest if laying.pattern == "random courses" else laying.width),
        (90.0, laying.length / 2),
    ]


def _joints(laying: Laying, bond: Bond, planes: Surfaces, polygons: np.ndarray) -> Joints:
    assert laying.length is not None
    assert laying.width is not None
    if laying.pattern in COURSED:
        return COURSED[laying.pattern](laying.length, laying.width, planes.boxes(polygons, 0.0))
    boxes = {angle: planes.boxes(polygons, angle) for angle in {family.angle for family in bond}}
    return Joints.joined([joints_of(family, boxes[family.angle]) for family in bond])


def _cut(joints: Joints, planes: Surfaces, polygons: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bring joints onto the page and cut them to the polygons of their faces."""
    if not len(joints.face):
        return joints.face, np.empty(0, dtype=object)
    face = np.unique(joints.face)
    lines = shapely.linestrings(planes.to_page(joints.ab, joints.face))
    many = shapely.multilinestrings(lines, indices=np.searchsorted(face, joints.face))
    return _only_lines(face, shapely.intersection(many, polygons[face]))


def _marks(
    pattern: str, planes: Surfaces, polygons: np.ndarray, scale: float, *, whole: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Marks of a texture in the polygons of their faces."""
    spacing, size = (mm * scale / 1000 for mm in TEXTURE_MM[pattern])
    make: Callable[[float, float, np.ndarray], Joints] = TEXTURES[pattern]
    joints = make(spacing, size, planes.boxes(polygons, 0.0))
    per = STROKES.get(pattern, 1)
    if pattern in UPRIGHT_TEXTURES:
        foot = np.repeat(joints.ab[::per, :1], per, axis=0)
        page = planes.to_page(foot, joints.face) + joints.ab - foot
    else:
        page = planes.to_page(joints.ab, joints.face)
    lines, owner = shapely.linestrings(page), joints.face
    if whole:
        shapely.prepare(polygons)
        inside = shapely.contains_properly(polygons[owner], lines)
        kept = np.repeat(inside.reshape(-1, per).all(axis=1), per)
        lines, owner = lines[kept], owner[kept]
    face = np.unique(owner)
    if not len(face):
        return face, np.empty(0, dtype=object)
    marks = shapely.multilinestrings(lines, indices=np.searchsorted(face, owner))
    return (face, marks) if whole else _only_lines(face, shapely.intersection(marks, polygons[face]))


def _only_lines(face: np.ndarray, shapes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Leave out points and empty results, and make the rest lines of many parts."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    lines = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    parts, owner = parts[lines], owner[lines]
    kept = np.unique(owner)
    if not len(kept):
        return kept, np.empty(0, dtype=object)
    return face[kept], shapely.multilinestrings(parts, indices=np.searchsorted(kept, owner))
