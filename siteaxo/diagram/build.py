"""
A resolved drawing made into the layers of a diagram.

Everything is named here and nothing is coloured: tones, widths and colours are left empty
for a style to fill in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import geopandas
import numpy as np
import shapely

from ..angles import cos_deg, sin_deg
from ..errors import Finding
from ..solids.faces import PARTS, normals, per_face, take
from ..solids.stack import Stack
from ..view.dashes import Dashes
from ..view.kinds import KINDS, PROFILE
from ..view.resolve import Drawing
from .layers import EDGE_COLUMNS, FACE_COLUMNS, GROUP, NUMBER, PLAN_COLUMNS, DiagramLayers, ViewRecord
from .numbers import row_numbers
from .outline import bare_stretches, parted
from .tables import findings_table, table

__all__ = ["build_diagram", "findings_table"]

CUT: Final = 2e-3  # ends of lines this near to the foot of their solid lie on it [m]


@dataclass(frozen=True, kw_only=True)
class Names:
    """Layer, id, role, material and order of each solid, as arrays of object."""

    layer: np.ndarray
    source_id: np.ndarray
    role: np.ndarray
    material: np.ndarray
    order: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Strokes:
    """Dashes with their kinds and what they outline."""

    dashes: Dashes
    kind: np.ndarray
    outline: np.ndarray


def build_diagram(
    stack: Stack,
    drawing: Drawing,
    *,
    name: str,
    view: ViewRecord,
    plan_turn: float,
    findings: Iterable[Finding],
    planned: np.ndarray | None = None,
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
    planned : ndarray of bool, shape (n,), optional
        Features that the plan shows; all when left out.

    Returns
    -------
    DiagramLayers
    """
    names = names_of(stack)
    seen = _outlined(stack, drawing, view)
    covered = drawing.hidden.take(np.flatnonzero(~_unseen_seams(stack, drawing)[drawing.hidden.edge]))
    hidden = Strokes(
        dashes=covered,
        kind=np.full(len(covered), "hidden", dtype=object),
        outline=np.full(len(covered), "", dtype=object),
    )
    return DiagramLayers(
        name=name,
        view=view,
        faces=_faces(stack, drawing, names, view),
        edges=_lines(stack, drawing, seen, names, view),
        hidden_edges=_lines(stack, drawing, hidden, names, view),
        plan=plan_table(stack, view, plan_turn, planned),
        findings=findings_table(findings),
        report=MappingProxyType(dict(drawing.report)),
    )


def names_of(stack: Stack) -> Names:
    """Name the solids of a site."""
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


def _faces(stack: Stack, drawing: Drawing, names: Names, view: ViewRecord) -> geopandas.GeoDataFrame:
    polygon = drawing.visible.polygon
    seen = np.flatnonzero(~shapely.is_empty(polygon))
    faces, row = stack.scene.faces, drawing.face[seen]
    solid = faces.solid[row]
    start, level = faces.vertex_start, faces.xyz[:, 2]
    normal = normals(faces)[row]
    behind = faces.two_sided[row] & (normal @ view.toward_viewer < 0)
    normal[behind] *= -1
    corner = faces.xyz[start[row]] - np.array([view.origin_x, view.origin_y, view.drawn_in_place])
    columns = {
        "layer": names.layer[solid],
        "source_id": names.source_id[solid],
        "role": names.role[solid],
        "part": np.array(PARTS, dtype=object)[faces.part[row]],
        "level_min": per_face(level, start, np.minimum)[row],
        "level_max": per_face(level, start, np.maximum)[row],
        "visible_share": np.clip(shapely.area(polygon[seen]) / drawing.area[seen], 0.0, 1.0),
        "fill": np.full(len(row), "", dtype=object),
        "draw_order": names.order[solid],
        "material": names.material[solid],
        **{f"normal_{axis}": normal[:, k] for k, axis in enumerate("xyz")},
        "offset": (corner * normal).sum(axis=1),
        GROUP: solid,
        NUMBER: row_numbers(solid, np.bincount(faces.solid, minlength=len(names.layer))),
    }
    return table(columns, FACE_COLUMNS, polygon[seen])


def _outlined(stack: Stack, drawing: Drawing, view: ViewRecord) -> Strokes:
    """Part the visible profiles where they stand against nothing, and say so."""
    dashes, kind = drawing.dashes, drawing.kind
    profile = np.flatnonzero(kind == PROFILE)
    polygon = drawing.visible.polygon
    ends, seen = dashes.take(profile).xy(drawing.edges), polygon[~shapely.is_empty(polygon)]
    stretches = bare_stretches(ends, seen)
    dashes, origin, bare = parted(dashes, profile, stretches)
    outline = np.where(bare, "site", "").astype(object)
    outline[bare & _at_foot(stack, drawing, dashes, view)] = "ground"
    word = np.array(KINDS, dtype=object)[kind[origin]]
    word[_on_contour(stack, drawing, dashes) & (word == "edge")] = "contour"
    return Strokes(dashes=dashes, kind=word, outline=outline)


def _on_contour(stack: Stack, drawing: Drawing, dashes: Dashes) -> np.ndarray:
    """Whether each dash is part of a contour of the ground."""
    contour = stack.contour
    if contour is None:
        return np.zeros(len(dashes), dtype=bool)
    source = drawing.edges.source[dashes.edge]
    own = (source >= 0) & (source < len(contour))
    return own & contour[np.where(own, source, 0)]


def _at_foot(stack: Stack, drawing: Drawing, dashes: Dashes, view: ViewRecord) -> np.ndarray:
    """Whether each dash lies at the foot of ground that stands on nothing."""
    edges, features = drawing.edges, stack.features
    feature = stack.solid_feature[edges.solid[dashes.edge]]
    found = (features.of_role("theme") == "ground")[feature]
    rows = np.flatnonzero(found)
    edge = dashes.edge[rows]
    page = np.concatenate([edges.xy[edge], edges.depth[edge, :, None]], axis=2)
    level = page @ np.linalg.inv(view.matrix)[2] + view.drawn_in_place
    found[rows] = (np.abs(level - features.base[feature[rows], None]) <= CUT).all(axis=1)
    return found


def _unseen_seams(stack: Stack, drawing: Drawing) -> np.ndarray:
    """Which page edges are smooth and no profile: both their faces are turned the same way."""
    edges = stack.scene.edges
    front = np.zeros(len(stack.scene.faces), dtype=bool)
    front[drawing.face] = True
    smooth = np.flatnonzero(edges.smooth)
    first = edges.member_start[smooth]
    alike = front[edges.face[first]] == front[edges.face[first + 1]]
    seam = np.zeros(len(edges) + 1, dtype=bool)  # the last stands for lines where faces cross
    seam[smooth] = alike
    return seam[drawing.edges.source]


def _lines(
    stack: Stack, drawing: Drawing, strokes: Strokes, names: Names, view: ViewRecord
) -> geopandas.GeoDataFrame:
    dashes = strokes.dashes
    solid = drawing.edges.solid[dashes.edge]
    own = np.bincount(stack.scene.edges.solid, minlength=len(names.layer))
    group = solid + len(own) * (drawing.edges.source[dashes.edge] < 0)
    count = len(dashes)
    columns = {
        "layer": names.layer[solid],
        "source_id": names.source_id[solid],
        "role": names.role[solid],
        "kind": strokes.kind,
        "line_mm": np.zeros(count),
        "colour": np.full(count, "", dtype=object),
        "draw_order": np.zeros(count, dtype=np.int64),
        "outline": strokes.outline,
        "drawn": np.ones(count, dtype=np.int64),
        "nearness": _nearness(drawing, view)[dashes.edge],
        GROUP: group,
        NUMBER: row_numbers(group, np.tile(own, 2)),
    }
    return table(columns, EDGE_COLUMNS, shapely.linestrings(dashes.xy(drawing.edges)))


def _nearness(drawing: Drawing, view: ViewRecord) -> np.ndarray:
    """How near to the viewer the middle of each page edge lies: 0 farthest, 1 nearest."""
    edges = drawing.edges
    middle = np.column_stack([edges.xy[:, 0] + edges.xy[:, 1], edges.depth[:, 0] + edges.depth[:, 1]]) / 2
    near = middle @ (np.linalg.inv(view.matrix).T @ view.toward_viewer)
    span = float(np.ptp(near)) if len(near) else 0.0
    return (near - near.min()) / span if span > 0 else np.ones(len(near))


def plan_table(
    stack: Stack, view: ViewRecord, turn: float, planned: np.ndarray | None = None
) -> geopandas.GeoDataFrame:
    """Footprints on the plan, all or some, turned by *turn* from the local plane [degrees anticlockwise]."""
    features = stack.features
    sine, cosine = sin_deg(turn), cos_deg(turn)
    rotation = np.array([[cosine, -sine], [sine, cosine]])
    centre = np.array([view.origin_x, view.origin_y])
    there = np.flatnonzero(~shapely.is_empty(features.geometry) & (True if planned is None else planned))
    layer = features.layer[there]
    columns = {
        "layer": np.array([key.name for key in features.layers], dtype=object)[layer],
        "source_id": features.source_id[there],
        "role": np.array([key.role.name for key in features.layers], dtype=object)[layer],
        "base": features.base[there],
        "top": features.top[there],
    }
    footprint = _as_drawn(stack, footprints_of(stack), view.base_line)[there]
    return table(columns, PLAN_COLUMNS, shapely.transform(footprint, lambda xy: (xy - centre) @ rotation.T))


def _as_drawn(stack: Stack, footprints: np.ndarray, base_line: float) -> np.ndarray:
    """Footprints, where laid over the ground cut to the box, square to the base line, of what is drawn."""
    drape = np.flatnonzero(stack.features.of_role("form") == "drape")
    faces, drawn = stack.scene.faces, footprints.copy()
    owner = stack.solid_feature[faces.solid]
    lying = take(faces, np.flatnonzero(np.isin(owner, drape)))
    if not len(lying):
        return drawn
    sine, cosine = sin_deg(base_line), cos_deg(base_line)
    square = np.array([[cosine, -sine], [sine, cosine]])  # from the local plane to the base line, for rows
    xy = lying.xyz[:, :2] @ square
    place = np.searchsorted(drape, stack.solid_feature[lying.solid[lying.vertex_face]])
    low, high = np.full((len(drape), 2), np.inf), np.full((len(drape), 2), -np.inf)
    np.minimum.at(low, place, xy)
    np.maximum.at(high, place, xy)
    bounds = shapely.bounds(shapely.transform(footprints[drape], lambda xy: xy @ square))
    beyond = np.maximum(low - bounds[:, :2], bounds[:, 2:] - high).max(axis=1)
    cut = np.isfinite(low[:, 0]) & (beyond > CUT)
    boxes = shapely.transform(shapely.box(*low[cut].T, *high[cut].T), lambda xy: xy @ square.T)
    drawn[drape[cut]] = shapely.intersection(footprints[drape[cut]], boxes)
    return drawn


def footprints_of(stack: Stack) -> np.ndarray:
    """Footprints, with trees as the circles of their crowns."""
    features = stack.features
    geometry = features.geometry.copy()
    crown = np.flatnonzero(features.of_role("form") == "tree")
    geometry[crown] = shapely.buffer(shapely.centroid(geometry[crown]), features.diameter[crown] / 2)
    return geometry
