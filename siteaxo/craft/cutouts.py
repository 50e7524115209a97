"""
Figures as flat faces that face the page.

A figure stands upright through its stand point, parallel to page right. As a solid of
the scene it hides and is hidden like everything else.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
import shapely

from ..errors import SheetError
from ..solids.edges import Edges, edges_of
from ..solids.faces import PART_CODE, Faces, join
from ..solids.scene import Scene
from ..solids.stack import Stack
from ..view.projection import View
from ..view.resolve import Drawing
from .clothes import Clothes
from .figures import NAMES, figures
from .people import People
from .rows import Rows, joined_rows, rows_of

COARSE: Final = 0.01
"""Outlines that only cast shadows may leave figures by this share of their height."""

TOUCHING: Final = 1e-4  # lines whose middle is so near to a figure's outline run along it [m]


@dataclass(frozen=True, kw_only=True)
class FigureFaces:
    """
    Figures as faces.

    Parameters
    ----------
    faces : Faces
        Two-sided, one solid a figure, numbered from 0.
    piece : ndarray of object, shape (f,)
        What each face is: skin, hair, upper, lower, shoes or thing.
    """

    faces: Faces
    piece: np.ndarray


def page_right_on_plan(view: View) -> np.ndarray:
    """
    Direction in plan that is seen level on the page, to the right; shape (2,).

    Raises
    ------
    SheetError
        If the view shows the plan edge-on.
    """
    plan = view.matrix[:2, :2]
    if abs(np.linalg.det(plan)) < 1e-9:
        raise SheetError(
            f"A {view.kind} view shows the plan edge-on: people cannot be stood on it.",
            field="view",
            value=view.kind,
        )
    along = np.linalg.solve(plan, [1.0, 0.0])
    return along / np.hypot(*along)


def figure_faces(people: People, right: np.ndarray) -> FigureFaces:
    """
    Stand figures up as flat faces.

    Parameters
    ----------
    people : People
        The figures.
    right : ndarray, shape (2,)
        Direction in plan that they are drawn along, such as page right.

    Returns
    -------
    FigureFaces
    """
    tables, pieces, owner = [], [], []
    for kind in np.unique(people.figure):
        rows = np.flatnonzero(people.figure == kind)
        for word, polygon in figures()[kind].pieces:
            tables.append(_stood_up(polygon, people, rows, right))
            pieces.append(np.full(len(rows), word, dtype=object))
            owner.append(rows)
    faces = join(tables)
    return FigureFaces(faces=faces, piece=np.concatenate(pieces) if pieces else np.zeros(0, dtype=object))


def outline_faces(people: People, right: np.ndarray) -> Faces:
    """
    Stand figures up as one outline each, to cast shadows; parameters as of :func:`figure_faces`.

    Returns
    -------
    Faces
        Two-sided, one solid a figure, numbered from 0.
    """
    tables = []
    for kind in np.unique(people.figure):
        rows = np.flatnonzero(people.figure == kind)
        parts = shapely.get_parts(shapely.simplify(figures()[kind].outline, COARSE))
        tables += [_stood_up(polygon, people, rows, right) for polygon in parts]
    return join(tables)


def _stood_up(polygon: shapely.Polygon, people: People, rows: np.ndarray, right: np.ndarray) -> Faces:
    """One flat piece of several figures of one kind."""
    rings = [np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    flat = np.concatenate(rings)
    size = people.height[rows]
    across = flat[:, 0] * (size * np.where(people.mirrored[rows], -1.0, 1.0))[:, None]
    xyz = np.empty((len(rows), len(flat), 3))
    xyz[..., :2] = people.xyz[rows, None, :2] + across[..., None] * right
    xyz[..., 2] = people.xyz[rows, 2, None] + flat[:, 1] * size[:, None]
    start = np.concatenate([[0], np.cumsum([len(ring) for ring in rings])])
    ring_start = (np.arange(len(rows))[:, None] * len(flat) + start[:-1]).ravel()
    return Faces(
        xyz=xyz.reshape(-1, 3),
        ring_start=np.append(ring_start, len(rows) * len(flat)),
        face_start=np.arange(len(rows) + 1) * len(rings),
        solid=rows.astype(np.int64),
        part=np.full(len(rows), PART_CODE["side"], dtype=np.int8),
        two_sided=np.ones(len(rows), dtype=bool),
    )


def with_figures(scene: Scene, figure: FigureFaces) -> Scene:
    """
    Add figures to a scene as further solids, in front of what they touch.

    Parameters
    ----------
    scene : Scene
        The solids of a site, s of them.
    figure : FigureFaces
        Their solids follow as s, s + 1, ...

    Returns
    -------
    Scene
    """
    return with_solids(scene, figure.faces)


def with_solids(scene: Scene, faces: Faces) -> Scene:
    """
    Add faces to a scene as further solids, in front of what they touch.

    Parameters
    ----------
    scene : Scene
        The solids of a site, s of them.
    faces : Faces
        Their solids follow as s, s + 1, ...

    Returns
    -------
    Scene
    """
    more = int(faces.solid.max(initial=-1)) + 1
    first = len(scene.rank)
    moved = replace(faces, solid=faces.solid + first)
    extra = np.arange(more)
    return replace(
        scene,
        faces=join([scene.faces, moved]),
        edges=_joined_edges(scene.edges, edges_of(moved), len(scene.faces)),
        rank=np.append(scene.rank, scene.rank.max(initial=0) + 1 + extra),
        group=np.append(scene.group, scene.group.max(initial=0) + 1 + extra),
    )


def _joined_edges(first: Edges, second: Edges, faces: int) -> Edges:
    """Two tables of edges, the faces of the second standing after so many others."""
    columns = {
        field.name: (getattr(first, field.name), getattr(second, field.name)) for field in fields(Edges)
    }
    columns["face"] = (first.face, second.face + faces)
    columns["member_start"] = (first.member_start, second.member_start[1:] + first.member_start[-1])
    return Edges(**{name: np.concatenate(pair) for name, pair in columns.items()})


def people_rows(
    stack: Stack,
    people: People,
    figure: FigureFaces,
    part: Drawing,
    *,
    clothes: Clothes | None = None,
    seed: int = 0,
) -> Rows:
    """
    Make rows of what is seen of people: their pieces filled, then their outlines.

    Parameters
    ----------
    stack : Stack
        The site's solids, s of them, without the figures.
    people : People
        The figures.
    figure : FigureFaces
        Their faces, as added to the scene that was drawn.
    part : Drawing
        The part of the drawing that shows figures; see :func:`.rows.split_drawing`.
    clothes : Clothes, optional
        Their tones.
    seed : int
        Another seed gives other clothes.

    Returns
    -------
    Rows
        ``kind`` is what the figure is doing; ``role`` is people.
    """
    look = clothes or Clothes()
    names = np.array(NAMES, dtype=object)
    seen = np.flatnonzero(~shapely.is_empty(part.visible.polygon))
    face = part.face[seen] - len(stack.scene.faces)
    who = figure.faces.solid[face]
    fills = rows_of(
        stack,
        people.feature[who],
        part.visible.polygon[seen],
        kind=names[people.figure[who]],
        fill=look.fills(figure.piece[face], people.name[who], seed),
        role="people",
    )
    if not look.line_mm:
        return fills
    line = part.edges.solid[part.dashes.edge] - len(stack.scene.rank)
    outlines = rows_of(
        stack,
        people.feature[line],
        shapely.linestrings(part.dashes.xy(part.edges)),
        kind=names[people.figure[line]],
        line_mm=look.line_mm,
        colour=look.line,
        draw_order=1,
        role="people",
    )
    return joined_rows(fills, outlines)


def without_contacts(rest: Drawing, part: Drawing) -> Drawing:
    """
    Leave out the lines along which what people stand on would cut them.

    Figures are flat, and on a slope a foot dips into the ground; the line in which they cross is
    none of either.

    Parameters
    ----------
    rest, part : Drawing
        What is seen of a site, and of its people.

    Returns
    -------
    Drawing
        The first, without those lines.
    """
    crossing = np.flatnonzero(rest.edges.source[rest.dashes.edge] < 0)
    shown = part.visible.polygon[~shapely.is_empty(part.visible.polygon)]
    if not len(crossing) or not len(shown):
        return rest
    middle = shapely.points(rest.dashes.take(crossing).xy(rest.edges).mean(axis=1))
    along = shapely.STRtree(shown).query(middle, predicate="dwithin", distance=TOUCHING)[0]
    kept = np.delete(np.arange(len(rest.dashes)), crossing[along])
    return replace(rest, dashes=rest.dashes.take(kept), kind=rest.kind[kept])
