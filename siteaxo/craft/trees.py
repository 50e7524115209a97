"""
Planting as it is drawn, in three degrees of detail, and as symbols on the plan.

*outline* leaves crowns as the solids they are. *texture* adds soft shade and foliage
where the light does not reach. *translucent* shows what stands beneath a crown through it, with its
branches. In a view from straight above each plant has its plan symbol instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..checks import one_of
from ..errors import SheetError
from ..plugins import is_foreign
from ..solids.faces import PART_CODE
from ..solids.stack import Stack
from ..view.projection import View
from ..view.resolve import Drawing
from .branches import Sprays, branching, palm_fronds
from .colours import darker
from .crescents import crescents
from .crowns import Plants, plants_of, seen_of
from .foliage import Strokes, foliage
from .light import MOST_TONES
from .rescale import SHADE
from .rows import Rows, joined_rows, rows_of
from .style import Style
from .symbols import hedge_symbol, plan_symbol

DETAILS: Final = ("outline", "texture", "translucent")
LINE_MM: Final = 0.13
OUTLINE_MM: Final = 0.25
CONTRAST: Final = 1.7  # planting lines stand off their tone by this many pattern steps [-]
UNDER: Final = -1
"""Place of foliage in the drawing order: under the outlines that it ends at."""
SHOWS_THROUGH: Final = 0.5  # opacity of translucent crowns


@dataclass(frozen=True, kw_only=True)
class _Page:
    """What the drawing of plants needs to know."""

    stack: Stack
    plants: Plants
    seen: np.ndarray
    stems: np.ndarray
    view: View
    origin: np.ndarray
    tone: np.ndarray
    line: np.ndarray


def planting_rows(
    stack: Stack,
    drawing: Drawing,
    view: View,
    *,
    origin: np.ndarray,
    style: Style,
    scale: float,
    detail: str = "texture",
    seed: int = 0,
) -> Rows:
    """
    Make rows of planting.

    Parameters
    ----------
    stack : Stack
        The solids of the site.
    drawing : Drawing
        All of them as resolved in *view*, crowns included. For translucent crowns the
        faces and lines on the sheet are those of another drawing, without crowns; see
        :func:`.crowns.without_crowns`.
    view : View
        The view, squared up as for the drawing.
    origin : ndarray, shape (3,)
        Site point at the page's origin [m].
    style : Style
        For tones and light.
    scale : float
        The x of 1:x that the strokes are for.
    detail : {"outline", "texture", "translucent"}
        The degree of detail.
    seed : int
        Another seed gives other strokes and branches.

    Returns
    -------
    Rows
        ``kind`` is shade, foliage, frond, branch, crown, outline or symbol. Shade, foliage and
        fronds lie under the lines of the drawing: their ``draw_order`` is below zero.

    Raises
    ------
    SheetError
        If the detail is unknown.
    """
    one_of(detail, DETAILS, "detail", SheetError)
    page = _page(stack, drawing, view, origin, style)
    tables = [_shade(page, style)] if detail == "texture" else [_no_rows(stack)]
    if from_straight_above(view):
        return joined_rows(*tables, _symbols(page, detail, seed))
    if detail == "translucent":
        tables += [_crowns(page, drawing), _branches(page, seed)]
    if detail != "outline":
        kept = np.flatnonzero((page.plants.kind == "hedge") | (detail == "texture"))
        strokes = foliage(
            page.plants.take(kept), stack.scene, view, origin=origin,
            towards_light=style.light.toward(view.matrix), scale=scale, seed=seed,
        )  # fmt: skip
        whole = Strokes(line=strokes.line, plant=kept[strokes.plant])
        tables += [_cut(page, whole.line, whole.plant, "foliage"), _fronds(page, seed)]
    return joined_rows(*tables)


def _page(stack: Stack, drawing: Drawing, view: View, origin: np.ndarray, style: Style) -> _Page:
    plants = plants_of(stack)
    features = stack.features
    roles = np.array([key.role.name for key in features.layers], dtype=object)
    pairs = zip(roles[features.layer[plants.feature]], features.material[plants.feature], strict=True)
    tone = np.array([style.top(str(role), str(material)) for role, material in pairs], dtype=object)
    step = CONTRAST * style.pattern_step
    known, which = np.unique(tone.astype(str), return_inverse=True)
    darks = np.array([darker(str(colour), step) for colour in known], dtype=object)
    centre = shapely.centroid(features.geometry[plants.feature])
    return _Page(
        stack=stack,
        plants=plants,
        seen=seen_of(plants, stack.scene, drawing),
        stems=shapely.get_coordinates(centre),
        view=view,
        origin=origin,
        tone=tone,
        line=darks[which] if len(plants) else tone,
    )


def from_straight_above(view: View) -> bool:
    """Whether heights do not show, as on a plan."""
    return bool(np.abs(view.matrix[:2, 2]).max() < 1e-12)


def _no_rows(stack: Stack) -> Rows:
    none = np.zeros(0, dtype=np.int64)
    return rows_of(stack, none, np.empty(0, dtype=object), kind="")


def _cut(page: _Page, line: np.ndarray, plant: np.ndarray, kind: str) -> Rows:
    """Lines cut by what is seen of their plants."""
    shown = shapely.intersection(line, page.seen[plant])
    there = np.flatnonzero(~shapely.is_empty(shown))
    parts, owner = shapely.get_parts(shown[there], return_index=True)
    real = shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING
    plant = plant[there[owner[real]]]
    return rows_of(
        page.stack,
        page.plants.feature[plant],
        parts[real],
        kind=kind,
        line_mm=LINE_MM,
        colour=page.line[plant],
        draw_order=UNDER if kind in ("foliage", "frond") else 2,
    )


def _shade(page: _Page, style: Style) -> Rows:
    """Crescents of shade on crowns."""
    area, plant, shade = crescents(
        page.plants, page.seen, page.stack.scene, page.view,
        origin=page.origin, towards_light=style.light.toward(page.view.matrix),
    )  # fmt: skip
    fills = [style.shaded(str(page.tone[p]), int(s), soft=True) for p, s in zip(plant, shade, strict=True)]
    return rows_of(
        page.stack,
        page.plants.feature[plant],
        area,
        kind=SHADE,
        fill=np.array(fills, dtype=object),
        draw_order=UNDER - MOST_TONES + shade,
    )


def _onto_page(page: _Page, sprays: Sprays) -> np.ndarray:
    count, points = sprays.xyz.shape[:2]
    xy = page.view.to_page(sprays.xyz.reshape(-1, 3) - page.origin)[:, :2]
    return shapely.linestrings(xy.reshape(count, points, 2)) if count else np.empty(0, dtype=object)


def _branches(page: _Page, seed: int) -> Rows:
    sprays = branching(page.plants, page.stack.features, page.stems, seed=seed)
    return _cut(page, _onto_page(page, sprays), sprays.plant, "branch")


def _fronds(page: _Page, seed: int) -> Rows:
    ribs, leaflets = palm_fronds(page.plants, page.stack.features, page.stems, seed=seed)
    lines = [_cut(page, _onto_page(page, sprays), sprays.plant, "frond") for sprays in (ribs, leaflets)]
    return joined_rows(*lines)


def _crowns(page: _Page, drawing: Drawing) -> Rows:
    """Translucent crowns and their outlines."""
    tree = np.flatnonzero((page.plants.kind != "hedge") & ~shapely.is_empty(page.seen))
    areas = rows_of(
        page.stack,
        page.plants.feature[tree],
        page.seen[tree],
        kind="crown",
        fill=page.tone[tree],
        opacity=SHOWS_THROUGH,
    )
    faces = page.stack.scene.faces
    crown = np.zeros(len(page.stack.scene.rank), dtype=bool)
    crown[faces.solid[faces.part == PART_CODE["crown"]]] = True
    edge = drawing.edges.solid[drawing.dashes.edge]
    mine = (edge < len(crown)) & crown[np.minimum(edge, len(crown) - 1)]
    dashes = drawing.dashes.take(mine)
    solid = drawing.edges.solid[dashes.edge]
    outlines = rows_of(
        page.stack,
        page.stack.solid_feature[solid],
        shapely.linestrings(dashes.xy(drawing.edges)),
        kind="outline",
        line_mm=OUTLINE_MM,
        colour=page.line[np.searchsorted(page.plants.solid, solid)],
        draw_order=3,
    )
    return joined_rows(areas, outlines)


def _symbols(page: _Page, detail: str, seed: int) -> Rows:
    """Plan symbols, cut by what is seen of their plants."""
    plants, features = page.plants, page.stack.features
    radius = features.diameter[plants.feature] / 2
    shapes, owners = [np.empty(0, dtype=object)], [np.zeros(0, dtype=np.int64)]
    for row, (kind, name) in enumerate(zip(plants.kind, plants.name, strict=True)):
        if kind == "hedge":
            footprint = features.geometry[plants.feature[row]]
            local = hedge_symbol(footprint, seed, name)
        else:
            degree = "outline" if detail == "outline" else "texture"
            own = features.shape[plants.feature[row]]  # a plug-in's symbol goes by the word for the shape
            word = str(own) if is_foreign(own) else kind
            symbol = plan_symbol(word, float(radius[row]), seed, name, detail=degree)
            local = [line + page.stems[row] for line in symbol]
        shapes.append(np.array([shapely.LineString(line) for line in local], dtype=object))
        owners.append(np.full(len(local), row))
    line = shapely.transform(np.concatenate(shapes), lambda xy: _on_page(page, xy))
    return _cut(page, line, np.concatenate(owners), "symbol")


def _on_page(page: _Page, xy: np.ndarray) -> np.ndarray:
    flat = np.column_stack([xy - page.origin[:2], np.zeros(len(xy))])
    return page.view.to_page(flat)[:, :2]
