"""
Drawings that tell what is new, kept and removed apart, by line and by tone.

New and changed features have their full tones and lines; what is kept is pale, in fine grey
lines; what is removed is a dashed outline over a thin wash.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final, TypeVar

import numpy as np
import pandas as pd
import shapely

from ..diagram.changes import CHANGED, KEPT, REMOVED
from ..diagram.layers import DiagramLayers
from ..diagram.tables import extra_table
from ..solids.faces import Faces, take
from ..solids.stack import Stack
from ..view.resolve import Drawing
from .colours import tone
from .cutouts import FigureFaces, with_figures
from .pale import paled
from .staging import Resolver
from .style import Style

WASH: Final = tone(0.72, 0.07, 35)
"""Tone of what is removed, a dusty clay."""
WASH_OPACITY: Final = 0.28
REMOVED_MM: Final = 0.18
D = TypeVar("D", bound=DiagramLayers)


def with_changes(diagram: D, table: pd.DataFrame, style: Style) -> D:
    """
    Say in every table what has become of each row's feature, and pale what is drawn of kept plants.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing of the later state.
    table : DataFrame
        Differences; see :func:`siteaxo.diagram.changes.differences`.
    style : Style
        The look.

    Returns
    -------
    DiagramLayers
        Faces and lines are paled when they are dressed for a scale.
    """
    later = table[table["change"] != REMOVED]
    index = pd.MultiIndex.from_arrays([later["layer"], later["source_id"].astype(str)])
    change = pd.Series(later["change"].to_numpy(dtype=object), index=index)

    def told(frame: Any) -> Any:
        keys = pd.MultiIndex.from_arrays([frame["layer"], frame["source_id"].astype(str)])
        return frame.assign(change=change.reindex(keys).fillna(KEPT).to_numpy(dtype=object))

    extra = {}
    for name, frame in diagram.extra.items():
        rows = told(frame)
        kept = (rows["change"] == KEPT).to_numpy()
        tones = {key: paled(rows[key].to_numpy(), kept, style.paper) for key in ("fill", "colour")}
        extra[name] = rows.assign(**tones)
    return replace(
        diagram,
        faces=told(diagram.faces),
        edges=told(diagram.edges),
        hidden_edges=told(diagram.hidden_edges),
        plan=told(diagram.plan),
        extra=MappingProxyType(extra),
    )


def with_removed(
    diagram: D, after: Stack, before: Stack, table: pd.DataFrame, resolver: Resolver, style: Style
) -> D:
    """
    Add the table of what is removed, as far as nothing that is there now hides it.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing of the later state.
    after, before : Stack
        Solids of both states, in one plane.
    table : DataFrame
        Differences.
    resolver : callable
        Resolves a scene in the view of the drawing.
    style : Style
        The look.

    Returns
    -------
    DiagramLayers
        Removed features have dashed outlines over a wash; the former state of changed ones has
        outlines only.
    """
    solids, gone = _solids_of(before, table)
    if not len(solids):
        return diagram
    scene, taken = _with_solids(after, before, solids)
    part = resolver(scene, only=taken)
    first = len(after.scene.rank)
    names = _names(before, solids)
    line, strokes = _strung(part.edges.solid[part.dashes.edge] - first, part.dashes.xy(part.edges))
    lines = extra_table(
        strokes,
        **{key: column[line] for key, column in names.items()},
        kind=np.where(gone[line], REMOVED, CHANGED).astype(object),
        line_mm=REMOVED_MM,
        colour=style.ink,
        opacity=1.0,
        draw_order=1,
        change=REMOVED,
    )
    areas = _washes(part, after, before, solids, gone, names)
    rows = pd.concat([frame for frame in (areas, lines) if len(frame)], ignore_index=True)
    return replace(diagram, extra=MappingProxyType({**diagram.extra, "removed": rows}))


def _strung(solid: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """String the dashes of each solid together, so that its lines are dashed as a whole."""
    if not len(solid):
        return solid, np.empty(0, dtype=object)
    order = np.argsort(solid, kind="stable")
    which, place = np.unique(solid[order], return_inverse=True)
    whole = shapely.multilinestrings(shapely.linestrings(ends[order]), indices=place)
    return which, shapely.line_merge(whole)


def _solids_of(before: Stack, table: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Solids of what is removed or was different before, and which of them are removed."""
    features = before.features
    layers = np.array([key.name for key in features.layers], dtype=object)[features.layer]
    own = pd.MultiIndex.from_arrays([layers, features.source_id.astype(str)])
    sets = [
        pd.MultiIndex.from_arrays([rows["layer"], rows["source_id"].astype(str)])
        for rows in (table[table["change"] == REMOVED], table[table["change"] == CHANGED])
    ]
    removed, changed = (own.isin(one) for one in sets)
    changed &= ~removed & (features.of_role("theme") != "ground")
    solids = np.flatnonzero((removed | changed)[before.solid_feature])
    return solids, removed[before.solid_feature[solids]]


def _names(before: Stack, solids: np.ndarray) -> dict[str, np.ndarray]:
    features, row = before.features, before.solid_feature[solids]
    layer = features.layer[row]
    return {
        "layer": np.array([key.name for key in features.layers], dtype=object)[layer],
        "source_id": features.source_id[row],
        "role": np.array([key.role.name for key in features.layers], dtype=object)[layer],
    }


def _with_solids(after: Stack, before: Stack, solids: np.ndarray) -> tuple[Any, np.ndarray]:
    """The later scene with some solids of the earlier one, and which solids of it those are."""
    number = np.full(len(before.scene.rank), -1)
    number[solids] = np.arange(len(solids))
    faces: Faces = before.scene.faces
    rows = np.flatnonzero(number[faces.solid] >= 0)
    chosen = take(faces, rows)
    added = replace(chosen, solid=number[chosen.solid])
    scene = with_figures(after.scene, FigureFaces(faces=added, piece=np.full(len(rows), "", dtype=object)))
    return scene, np.arange(len(scene.rank)) >= len(after.scene.rank)


def _washes(
    part: Drawing,
    after: Stack,
    before: Stack,
    solids: np.ndarray,
    gone: np.ndarray,
    names: dict[str, np.ndarray],
) -> Any:
    """What is seen of removed features, joined solid by solid."""
    offset = len(after.scene.faces)
    number = np.full(len(before.scene.rank), -1)
    number[solids] = np.arange(len(solids))
    faces = before.scene.faces
    own = number[faces.solid[np.flatnonzero(number[faces.solid] >= 0)]]
    solid = own[part.face - offset]
    seen = np.flatnonzero(~shapely.is_empty(part.visible.polygon) & gone[solid])
    which, place = np.unique(solid[seen], return_inverse=True)
    shapes = np.array(
        [shapely.union_all(part.visible.polygon[seen[place == k]]) for k in range(len(which))], dtype=object
    )
    return extra_table(
        shapes,
        **{key: column[which] for key, column in names.items()},
        kind=REMOVED,
        fill=WASH,
        opacity=WASH_OPACITY,
        change=REMOVED,
    )
