"""
A resolved drawing made into the layers of a diagram.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

import geopandas
import numpy as np
import pandas as pd
import shapely

from ..angles import cos_deg, sin_deg
from ..errors import Finding
from ..solids.faces import PARTS, normals, per_face
from ..solids.stack import Stack
from ..view.dashes import Dashes
from ..view.kinds import KINDS
from ..view.resolve import Drawing
from .layers import EDGE_COLUMNS, FACE_COLUMNS, FINDING_COLUMNS, PLAN_COLUMNS, DiagramLayers, ViewRecord

UPWARD = 0.5  # a face whose normal rises by more than this counts as a top [-]


class Look(Protocol):
    """What a style tells about tones and lines."""

    def fills(self, roles: np.ndarray, facings: np.ndarray, materials: np.ndarray) -> np.ndarray: ...
    def line_mm(self, kinds: np.ndarray) -> np.ndarray: ...
    def line_colours(self, kinds: np.ndarray) -> np.ndarray: ...
    def edge_order(self, kinds: np.ndarray) -> np.ndarray: ...


@dataclass(frozen=True, kw_only=True)
class Names:
    """Layer, id, role and material of each solid, as arrays of object."""

    layer: np.ndarray
    source_id: np.ndarray
    role: np.ndarray
    material: np.ndarray
    order: np.ndarray


def build_diagram(
    stack: Stack,
    drawing: Drawing,
    *,
    name: str,
    view: ViewRecord,
    plan_turn: float,
    findings: Iterable[Finding],
    look: Look,
) -> DiagramLayers:
    """
    Name and order everything that a drawing shows.

    Parameters
    ----------
    stack : Stack
        The solids.
    drawing : Drawing
        What is seen of them.
    name : str
        Name of the site.
    view : ViewRecord
        The view.
    plan_turn : float
        Turn of the plan table from the local plane [degrees anticlockwise].
    findings : iterable of Finding
        All that was noticed.
    look : Look
        The style.

    Returns
    -------
    DiagramLayers
    """
    names = _names(stack)
    return DiagramLayers(
        name=name,
        view=view,
        faces=_faces(stack, drawing, names, view, look),
        edges=_lines(drawing, drawing.dashes, np.array(KINDS, dtype=object)[drawing.kind], names, look),
        hidden_edges=_lines(
            drawing, drawing.hidden, np.full(len(drawing.hidden), "hidden", dtype=object), names, look
        ),
        plan=_plan(stack, view, plan_turn),
        findings=findings_table(findings),
        report=MappingProxyType(dict(drawing.report)),
    )


def findings_table(findings: Iterable[Finding]) -> pd.DataFrame:
    """
    Put findings into a table, one row each.

    Examples
    --------
    >>> findings_table([Finding(severity="info", code="split", message="")])["code"].tolist()
    ['split']
    """
    rows = [[getattr(finding, column) for column in FINDING_COLUMNS] for finding in findings]
    return pd.DataFrame(rows, columns=list(FINDING_COLUMNS), dtype=object)


def _names(stack: Stack) -> Names:
    features, row = stack.features, stack.solid_feature
    layer_names = np.array([key.name for key in features.layers], dtype=object)
    roles = np.array([key.role.name for key in features.layers], dtype=object)
    layer = features.layer[row]
    return Names(
        layer=layer_names[layer],
        source_id=features.source_id[row],
        role=roles[layer],
        material=features.material[row],
        order=features.order[row],
    )


def _faces(
    stack: Stack, drawing: Drawing, names: Names, view: ViewRecord, look: Look
) -> geopandas.GeoDataFrame:
    polygon = drawing.visible.polygon
    seen = np.flatnonzero(~shapely.is_empty(polygon))
    faces, row = stack.scene.faces, drawing.face[seen]
    solid = faces.solid[row]
    start, level = faces.vertex_start, faces.xyz[:, 2]
    columns = {
        "layer": names.layer[solid],
        "source_id": names.source_id[solid],
        "role": names.role[solid],
        "part": np.array(PARTS, dtype=object)[faces.part[row]],
        "level_min": per_face(level, start, np.minimum)[row],
        "level_max": per_face(level, start, np.maximum)[row],
        "visible_share": np.clip(shapely.area(polygon[seen]) / drawing.area[seen], 0.0, 1.0),
        "fill": look.fills(names.role[solid], _facings(normals(faces)[row], view), names.material[solid]),
        "draw_order": names.order[solid],
    }
    return _table(columns, FACE_COLUMNS, polygon[seen])


def _facings(normal: np.ndarray, view: ViewRecord) -> np.ndarray:
    """Whether each face looks up, or to the left or right of the page."""
    aside = normal @ view.matrix[0]
    facing = np.where(aside >= 0, "right", "left").astype(object)
    facing[normal[:, 2] > UPWARD] = "up"
    return facing


def _lines(
    drawing: Drawing, dashes: Dashes, kinds: np.ndarray, names: Names, look: Look
) -> geopandas.GeoDataFrame:
    solid = drawing.edges.solid[dashes.edge]
    columns = {
        "layer": names.layer[solid],
        "source_id": names.source_id[solid],
        "role": names.role[solid],
        "kind": kinds,
        "line_mm": look.line_mm(kinds),
        "colour": look.line_colours(kinds),
        "draw_order": look.edge_order(kinds),
    }
    return _table(columns, EDGE_COLUMNS, shapely.linestrings(dashes.xy(drawing.edges)))


def _plan(stack: Stack, view: ViewRecord, turn: float) -> geopandas.GeoDataFrame:
    features = stack.features
    sine, cosine = sin_deg(turn), cos_deg(turn)
    rotation = np.array([[cosine, -sine], [sine, cosine]])
    centre = np.array([view.origin_x, view.origin_y])
    there = np.flatnonzero(~shapely.is_empty(features.geometry))
    layer = features.layer[there]
    columns = {
        "layer": np.array([key.name for key in features.layers], dtype=object)[layer],
        "source_id": features.source_id[there],
        "role": np.array([key.role.name for key in features.layers], dtype=object)[layer],
        "base": features.base[there],
        "top": features.top[there],
    }
    footprint = _footprints(stack)[there]
    return _table(columns, PLAN_COLUMNS, shapely.transform(footprint, lambda xy: (xy - centre) @ rotation.T))


def _footprints(stack: Stack) -> np.ndarray:
    """Footprints, with trees as the circles of their crowns."""
    features = stack.features
    geometry = features.geometry.copy()
    crown = np.flatnonzero(features.of_role("form") == "tree")
    geometry[crown] = shapely.buffer(shapely.centroid(geometry[crown]), features.diameter[crown] / 2)
    return geometry


def _table(
    columns: dict[str, np.ndarray], order: tuple[str, ...], geometry: np.ndarray
) -> geopandas.GeoDataFrame:
    frame = pd.DataFrame({name: columns[name] for name in order})
    return geopandas.GeoDataFrame(frame, geometry=geometry)
