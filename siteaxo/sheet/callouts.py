"""
Call-outs: words that a drawing's author has said about a feature or a place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from ..angles import cos_deg, sin_deg
from ..checks import finite
from ..diagram.layers import DiagramLayers, ViewRecord
from ..errors import SheetError
from .placing import pole
from .words import plain_text


@dataclass(frozen=True, kw_only=True)
class Label:
    """
    Words about a feature or a place.

    Parameters
    ----------
    text : str
        One line.
    layer, source_id : str, optional
        The feature: its layer and its own id; the largest visible face of the layer where no
        id is given.
    at : tuple of three floats, optional
        The place instead: easting, northing and level on the local plane [m].

    Raises
    ------
    SheetError
        If there is no text, or neither a feature nor a place, or both.

    Examples
    --------
    >>> Label(text="Sunken court", layer="terraces", source_id="T3").source_id
    'T3'
    >>> Label(text="Spring", at=(500004.0, 5700003.0, 11.2)).at[2]
    11.2
    """

    text: str
    layer: str | None = None
    source_id: str | None = None
    at: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.text, str) or not plain_text(self.text):
            raise SheetError(f"A label needs a text, not {self.text!r}.", field="text", value=self.text)
        if (self.layer is None) == (self.at is None):
            raise SheetError(
                f"Label {self.text!r}: give either a layer (and the id of a feature) or a place `at`.",
                field="layer",
                value=self.layer,
            )
        if self.at is not None:
            if len(self.at) != 3:
                raise SheetError(
                    f"Label {self.text!r}: `at` is easting, northing and level.", field="at", value=self.at
                )
            for number in self.at:
                finite(number, f"`at` of label {self.text!r}", SheetError)


@dataclass(frozen=True, kw_only=True)
class Target:
    """What a label points to: a page point, and the visible area about it if there is one."""

    text: str
    point: np.ndarray
    region: shapely.Geometry | None
    layer: str
    source_id: str
    role: str
    fill: str


def targets_of(labels: tuple[Label, ...], diagram: DiagramLayers) -> list[Target]:
    """
    Find what labels point to, and add the notes of the site.

    A feature of role "note" is a label of its own: its id is its text.

    Parameters
    ----------
    labels : tuple of Label
        What its author has said.
    diagram : DiagramLayers
        The drawing.

    Returns
    -------
    list of Target
        Labels first, in their order; features that are hidden whole are left out.

    Raises
    ------
    SheetError
        If a label names a layer or a feature that the drawing does not have.
    """
    found = [_target(label, diagram) for label in labels]
    return [one for one in found if one is not None] + _notes(diagram)


def _target(label: Label, diagram: DiagramLayers) -> Target | None:
    if label.at is not None:
        point = page_of(np.array(label.at, dtype=float)[None], diagram.view)[0]
        return Target(text=label.text, point=point, region=None, layer="", source_id="", role="", fill="")
    plan, faces = diagram.plan, diagram.faces
    known = plan["layer"].astype(str) == label.layer
    if label.source_id is not None:
        known &= plan["source_id"].astype(str) == str(label.source_id)
    if not known.any():
        what = f"feature {label.source_id!r} of layer" if label.source_id is not None else "layer"
        raise SheetError(
            f"Label {label.text!r}: the drawing has no {what} {label.layer!r}. Ids are those of the layer's "
            "`id` field, else row numbers; what was set aside is in the findings.",
            layer=str(label.layer),
            source_ids=[] if label.source_id is None else [label.source_id],
            field="labels",
            value=label.text,
        )
    own = faces[faces["layer"].astype(str) == label.layer]
    if label.source_id is not None:
        own = own[own["source_id"].astype(str) == str(label.source_id)]
    if not len(own):
        return None
    level = own[own["normal_z"] > 0.5] if "normal_z" in own else own
    own = level if len(level) else own
    parts, row = shapely.get_parts(np.asarray(own.geometry.array, dtype=object), return_index=True)
    largest = int(np.argmax(shapely.area(parts)))
    face = own.iloc[int(row[largest])]
    return Target(
        text=label.text,
        point=pole(parts[largest]),
        region=parts[largest],
        layer=str(face["layer"]),
        source_id=str(face["source_id"]),
        role=str(face["role"]),
        fill=str(face["fill"]),
    )


def _notes(diagram: DiagramLayers) -> list[Target]:
    plan, view = diagram.plan, diagram.view
    notes = plan[plan["role"] == "note"]
    if not len(notes):
        return []
    turn = view.turn - view.base_line
    c, s = cos_deg(turn), sin_deg(turn)
    middle = shapely.get_coordinates(shapely.point_on_surface(np.asarray(notes.geometry.array)))
    level = np.nan_to_num(notes["top"].to_numpy(dtype=float), nan=view.drawn_in_place)
    local = middle @ np.array([[c, -s], [s, c]]) + (view.origin_x, view.origin_y)
    page = page_of(np.column_stack([local, level]), view)
    return [
        Target(
            text=str(row.source_id),
            point=page[number],
            region=None,
            layer=str(row.layer),
            source_id=str(row.source_id),
            role="note",
            fill="",
        )
        for number, row in enumerate(notes.itertuples(index=False))
        if plain_text(row.source_id)
    ]


def page_of(points: np.ndarray, view: ViewRecord) -> Any:
    """Page points of points of the local plane, shape (n, 2) [m]."""
    origin = np.array([view.origin_x, view.origin_y, view.drawn_in_place])
    return (points - origin) @ view.matrix[:2].T
