"""
Rows of the tables that a drawing carries beside its faces and edges.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np

from ..diagram.layers import EXTRA_COLUMNS
from ..solids.scene import Scene
from ..solids.stack import Stack
from ..view.resolve import Drawing

ROW_COLUMNS: Final = (*EXTRA_COLUMNS, "opacity")

OF_MEMBERS: Final = ("member_edge", "member_face", "left")
"""Columns of page edges that have a row for each of their faces, not for each edge."""


@dataclass(frozen=True, kw_only=True)
class Rows:
    """
    Rows of one table.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n,)
        Those of ``ROW_COLUMNS``. A line has a colour and a width, and "" for its fill; an
        area has a fill and its opacity, 0 to 1, and 0 for its width.
    geometry : ndarray of object, shape (n,)
        Page geometries [m].
    """

    columns: Mapping[str, np.ndarray]
    geometry: np.ndarray

    def __len__(self) -> int:
        return len(self.geometry)


def rows_of(
    stack: Stack,
    feature: np.ndarray,
    geometry: np.ndarray,
    *,
    kind: np.ndarray | str,
    line_mm: np.ndarray | float = 0.0,
    colour: np.ndarray | str = "",
    fill: np.ndarray | str = "",
    opacity: np.ndarray | float = 1.0,
    draw_order: np.ndarray | int = 0,
    role: np.ndarray | str | None = None,
) -> Rows:
    """
    Put rows together from arrays or from values that all of them share.

    Parameters
    ----------
    stack : Stack
        For the names of features.
    feature : ndarray of int, shape (n,)
        The feature each row belongs to.
    geometry : ndarray of object, shape (n,)
        Page geometries [m].
    kind, line_mm, colour, fill, opacity, draw_order
        The other columns.
    role : optional
        Another role than the feature's.

    Returns
    -------
    Rows
    """
    features, count = stack.features, len(feature)
    layer = features.layer[feature]
    layers = np.array([key.name for key in features.layers], dtype=object)
    roles = np.array([key.role.name for key in features.layers], dtype=object)

    def column(value: object, dtype: type) -> np.ndarray:
        return np.array(np.broadcast_to(np.asarray(value, dtype=dtype), (count,)))

    columns = {
        "layer": layers[layer],
        "source_id": features.source_id[feature],
        "role": roles[layer] if role is None else column(role, object),
        "kind": column(kind, object),
        "line_mm": column(line_mm, float),
        "colour": column(colour, object),
        "fill": column(fill, object),
        "draw_order": column(draw_order, np.int64),
        "opacity": column(opacity, float),
    }
    return Rows(columns=columns, geometry=np.asarray(geometry, dtype=object))


def joined_rows(*tables: Rows) -> Rows:
    """Several tables one after another."""
    columns = {name: np.concatenate([table.columns[name] for table in tables]) for name in ROW_COLUMNS}
    return Rows(columns=columns, geometry=np.concatenate([table.geometry for table in tables]))


def split_drawing(drawing: Drawing, scene: Scene, taken: np.ndarray) -> tuple[Drawing, Drawing]:
    """
    Part a drawing into that of some solids and that of the others.

    What is hidden stays hidden: both parts fit together as they were.

    Parameters
    ----------
    drawing : Drawing
        A resolved scene.
    scene : Scene
        The scene.
    taken : ndarray of bool, shape (s,)
        Solids of the second part.

    Returns
    -------
    rest, part : Drawing
        Their reports are those of the whole.
    """
    face = taken[scene.faces.solid[drawing.face]]
    edge = taken[drawing.edges.solid]
    rest, part = (_share(drawing, face == wanted, edge == wanted) for wanted in (False, True))
    return rest, part


def _share(drawing: Drawing, face: np.ndarray, edge: np.ndarray) -> Drawing:
    """Some faces and edges of a drawing; edges are numbered anew."""
    number = np.cumsum(edge) - 1
    dash, hidden = edge[drawing.dashes.edge], edge[drawing.hidden.edge]
    seen, covered = drawing.dashes.take(dash), drawing.hidden.take(hidden)
    bare = drawing.edges.without_members()
    own = [field.name for field in fields(bare) if field.name not in OF_MEMBERS]
    return replace(
        drawing,
        face=drawing.face[face],
        area=drawing.area[face],
        visible=drawing.visible.take(face),
        edges=replace(bare, **{name: getattr(bare, name)[edge] for name in own}),
        dashes=replace(seen, edge=number[seen.edge]),
        kind=drawing.kind[dash],
        hidden=replace(covered, edge=number[covered.edge]),
        page=None,
    )
