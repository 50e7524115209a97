"""
Faces and lines as compound paths: one for every tone and one for every width.

In one compound path the coverage of neighbouring faces adds up exactly where they meet, so
no hairline shows between them, and files are small and quick to write.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from ..craft.lines import CHAIN, DASH
from ..craft.shade import without_slits
from ..diagram.alike import alike
from ..diagram.layers import EXTRA_TABLES, DiagramLayers
from ..units import points_from_mm
from .behind import without_words
from .compound import Compound, in_parts
from .groups import Group
from .pdf import LayerName

TABLE_NAMES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "faces": "Tones",
        "shadows": "Shadows",
        "patterns": "Patterns",
        "hidden_edges": "Hidden lines",
        "edges": "Lines",
        "planting": "Planting",
        "panels": "Panels",
        "people": "People",
        "removed": "Removed",
        "lift_lines": "Lift lines",
        "finding_marks": "Findings",
        "caution_marks": "Cautions",
        "labels": "Labels",
        "furniture": "Sheet",
    }
)
"""What each table of a drawing is called where it can be switched off."""
DASHES: Final[Mapping[str, tuple[float, ...]]] = MappingProxyType({"lift_lines": CHAIN, "removed": DASH})
"""Dashes and gaps of the lines of further tables, in line widths; those of others are unbroken."""


@dataclass
class Ink:
    """
    What has been drawn: which named group belongs to which layers that can be switched off.

    Parameters
    ----------
    layers : dict of str to (str, str)
        Heading and name of the layer of each named group.
    """

    layers: dict[str, LayerName] = field(default_factory=dict)

    def name(self, name: str, layer: str, heading: str = "Site layers") -> str:
        """Return *name*, numbered where it is taken already, and put it into a layer."""
        number, free = 1, name
        while free in self.layers:
            number += 1
            free = f"{name}_{number}"
        self.layers[free] = (heading, layer.encode("utf-8", "replace").decode("utf-8"))
        return free


def draw_tables(
    axes: Axes, diagram: DiagramLayers, *, hidden: bool = False, layers: dict[str, LayerName] | None = None
) -> Ink:
    """
    Draw every table of a drawing but its labels, undermost first.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in page metres.
    diagram : DiagramLayers
        The drawing.
    hidden : bool
        Draw hidden lines too, dashed.
    layers : dict, optional
        Groups that are on the figure already; new ones are added.

    Returns
    -------
    Ink
        The groups that were drawn.
    """
    ink = Ink(layers={} if layers is None else layers)
    place = 1.0
    for name in _order(diagram, hidden):
        group = Group(axes, ink.name(name, TABLE_NAMES[name], ""), place)
        place += 0.01
        frame = getattr(diagram, name) if name not in EXTRA_TABLES else diagram.extra[name]
        if name == "shadows" and diagram.scale:
            frame = without_slits(frame, diagram.faces, scale=diagram.scale)
        if name == "patterns" and diagram.scale and "labels" in diagram.extra:
            frame = without_words(frame, diagram.extra["labels"], scale=diagram.scale)
        if name == "faces":
            fill_faces(group, frame, ink)
            place = _under(axes, diagram, ink, place)
        elif name in ("edges", "hidden_edges"):
            stroke_lines(group, frame, ink, table=name, dashed=name == "hidden_edges")
        else:
            draw_extra(group, frame[frame["draw_order"] >= 0], ink, table=name)
    return ink


def _under(axes: Axes, diagram: DiagramLayers, ink: Ink, place: float) -> float:
    """Draw what lies on the faces, under everything else: rows whose place is below zero."""
    for name, frame in diagram.extra.items():
        low = frame[frame["draw_order"] < 0] if name != "labels" else frame[:0]
        if len(low):
            group = Group(axes, ink.name(f"{name}_under", TABLE_NAMES[name], ""), place)
            draw_extra(group, low, ink, table=name)
            place += 0.01
    return place


def _order(diagram: DiagramLayers, hidden: bool) -> Iterator[str]:
    """Names of the tables that are drawn, undermost first."""
    yield "faces"
    yield from (name for name in diagram.extra if EXTRA_TABLES[name].over == "faces")
    if hidden:
        yield "hidden_edges"
    yield "edges"
    late = ("labels", "finding_marks")
    yield from (name for name in diagram.extra if EXTRA_TABLES[name].over == "edges" and name not in late)


def fill_faces(group: Group, faces: Any, ink: Ink) -> None:
    """
    Fill the faces, one compound path for every layer and tone.

    All faces of a tone together are laid under them first, so that no hairline shows between
    two layers of one tone, and hardly any paper between two tones that meet inside a pixel.

    Parameters
    ----------
    group : Group
        What they are drawn in.
    faces : GeoDataFrame
        With the columns geometry, layer, role, fill and draw_order.
    ink : Ink
        What has been drawn.
    """
    areas = Compound(faces.geometry.array, closed=True)
    for (fill,), rows in _groups(faces, ["fill"]):
        name = ink.name(f"faces_under_{fill.removeprefix('#')}", TABLE_NAMES["faces"], "")
        _add(group, areas.path(rows), name, facecolor=fill)
    for (layer, role, fill), rows in _groups(faces, ["layer", "role", "fill"]):
        name = ink.name(f"faces_{_layer_name(layer, role)}_{fill.removeprefix('#')}", str(layer))
        _add(group, areas.path(rows), name, facecolor=fill)


def _layer_name(layer: object, role: object) -> str:
    """Name of a layer and its role for a group."""
    return f"{id_from(layer)}_{id_from(role)}"


def stroke_lines(group: Group, lines: Any, ink: Ink, *, table: str = "edges", dashed: bool = False) -> None:
    """
    Draw lines, one compound path for every layer, kind, width and colour.

    Parameters
    ----------
    group : Group
        What they are drawn in.
    lines : GeoDataFrame
        With the columns geometry, layer, role, kind, line_mm, colour and draw_order; rows
        whose column ``drawn`` is 0 are left out.
    ink : Ink
        What has been drawn.
    table : str
        Name of the table, for the groups of an SVG.
    dashed : bool
        Draw dashes of 12 and gaps of 3 line widths (ISO 128-2).
    """
    if "drawn" in lines:
        lines = lines[lines["drawn"].to_numpy() == 1]
    keys = ["layer", "role", "kind", "line_mm", "colour"]
    strings = Compound(lines.geometry.array, closed=False)
    for (layer, role, kind, width_mm, colour), rows in _groups(lines, keys):
        look = f"{id_from(kind)}_{width_mm * 100:.0f}_{colour.removeprefix('#')}"
        for part in in_parts(strings.path(rows)):
            name = ink.name(f"{table}_{_layer_name(layer, role)}_{look}", str(layer))
            _stroke(group, part, name, colour, width_mm, dashes=DASH if dashed else None)


def draw_extra(group: Group, rows: Any, ink: Ink, *, table: str) -> None:
    """
    Draw a further table: areas filled, lines stroked, in the order of draw_order.

    Parameters
    ----------
    group : Group
        What it is drawn in.
    rows : GeoDataFrame
        With EXTRA_COLUMNS, and ``opacity`` where fills let through what lies under them.
    ink : Ink
        What has been drawn.
    table : str
        Name of the table, for the groups of an SVG.
    """
    rows = rows if "opacity" in rows else rows.assign(opacity=1.0)
    rows = rows[rows["drawn"].to_numpy() == 1] if "drawn" in rows else rows
    keys = ["draw_order", "layer", "role", "kind", "fill", "colour", "line_mm", "opacity"]
    areas, strings = (Compound(rows.geometry.array, closed=closed) for closed in (True, False))
    for (_, layer, role, kind, fill, colour, width_mm, opacity), some in _groups(rows, keys):
        stem = f"{table}_{_layer_name(layer, role)}_{id_from(kind)}"
        outline = areas.path(some)
        if fill and outline is not None:
            name = ink.name(f"{stem}_{fill.removeprefix('#')}", str(layer))
            _add(group, outline, name, facecolor=fill, alpha=None if opacity == 1.0 else opacity)
        if colour and width_mm > 0:
            for path in (outline, strings.path(some)):
                for part in in_parts(path):
                    look = f"{width_mm * 100:.0f}_{colour.removeprefix('#')}"
                    _stroke(
                        group,
                        part,
                        ink.name(f"{stem}_{look}", str(layer)),
                        colour,
                        width_mm,
                        dashes=DASHES.get(table),
                    )


def id_from(text: object) -> str:
    """
    Make a name that can be an XML id out of any text.

    Examples
    --------
    >>> id_from("Dyers' Yard, 2")
    'dyers-yard-2'
    """
    letters = unicodedata.normalize("NFKD", str(text)).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", letters.lower()).strip("-") or "unnamed"


def _groups(frame: Any, keys: list[str]) -> Iterator[tuple[tuple[Any, ...], np.ndarray]]:
    """Yield rows that are drawn alike, from the undermost to the topmost."""
    place = frame["draw_order"].to_numpy()
    groups = [(values, rows, place[rows].min()) for values, rows in alike(frame, keys)]
    for values, rows, _ in sorted(groups, key=lambda one: one[2]):
        yield values, rows


def _stroke(
    group: Group,
    path: Path,
    name: str,
    colour: str,
    width_mm: float,
    *,
    dashes: tuple[float, ...] | None = None,
) -> None:
    _add(
        group,
        path,
        name,
        fill=False,
        edgecolor=colour,
        linewidth=points_from_mm(width_mm),
        linestyle=(0.0, dashes) if dashes else "solid",
        capstyle="butt" if dashes else "round",
        joinstyle="round",
    )


def _add(group: Group, path: Path | None, name: str, **look: Any) -> None:
    """Put a path into a group as it is, neither snapped to pixels nor clipped."""
    if path is None:
        return
    if "facecolor" in look:
        look |= {"edgecolor": "none", "linewidth": 0.0}
    group.add(PathPatch(path, clip_on=False, snap=False, gid=name, **look))
