"""
A style put on a drawing: tones, patterns, and line widths for one scale.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final, TypeVar

import numpy as np
import shapely

from ..checks import finite
from ..diagram.changes import KEPT
from ..diagram.layers import PLANE_COLUMNS, DiagramLayers
from ..errors import SheetError
from .amid import amid_crowns
from .folds import LEAST_FOLD_MM, LYING, folds, long_enough
from .lines import LINE_KINDS, kind_ranks, no_wider
from .made_of import toned_as
from .members import narrowed
from .owners import Owners, owners_of
from .pale import paled
from .patterns import patterns_of
from .rescale import SHADE, rescaled
from .specks import no_specks
from .stubs import no_stubs
from .style import Style
from .surfaces import has_planes
from .thinning import far_enough
from .trace import Note, Trace, unnoted

SMALLEST_SHARE: Final = 1 / 12
"""No line is wider than this share of the side of a square as large as what is seen of its feature."""
GENTLE: Final = 0.45
"""
Slope up to which ground has the tone of level ground, so that no edge of a tone runs across a hill [-].

It lies between the slopes that banks are usually given (1:2.5, 1:2), so that none is half in one tone.
"""
STEPS: Final = "steps"  # the role whose short lines leave with what they lead on to
D = TypeVar("D", bound=DiagramLayers)


def dress(diagram: D, style: Style, *, scale: float, traced: bool = False) -> D:
    """
    Fill in tones, widths, colours, order and patterns.

    Parameters
    ----------
    diagram : DiagramLayers
        A drawing; it is not changed.
    style : Style
        The look.
    scale : float
        The x of the 1:x it is to be drawn at.
    traced : bool
        Give lines a column ``trace``, a number that tells what they went through (see :mod:`.trace`).

    Returns
    -------
    DiagramLayers
        The same drawing, of the same class, with ``scale`` set. Lines that would run into
        others at that scale have 0 in the column ``drawn``.

    Raises
    ------
    SheetError
        If the scale is not above zero.
    """
    if finite(scale, "scale", SheetError) <= 0:
        raise SheetError(
            f"scale is {scale!r}; give the x of 1:x, greater than zero.", field="scale", value=scale
        )
    faces = _toned(diagram, style)
    kept = {name: frame for name, frame in diagram.extra.items() if name not in ("patterns", "labels")}
    extra = {name: rescaled(name, frame, style, scale=scale) for name, frame in kept.items()}
    patterns = patterns_of(faces, diagram.plan, diagram.view, style, scale=scale)
    if len(patterns):
        extra["patterns"] = patterns
    seen, hidden = owners_of(faces, diagram.edges, diagram.hidden_edges)
    return replace(
        diagram,
        faces=faces,
        edges=_weighted(diagram.edges, style, scale, faces, seen, traced),
        hidden_edges=_weighted(diagram.hidden_edges, style, scale, faces, hidden, traced),
        extra=MappingProxyType(extra),
        scale=float(scale),
    )


def dressed(diagram: D, style: Style, *, scale: float) -> D:
    """
    Dress a drawing, unless it is dressed in that style for that scale already.

    Parameters
    ----------
    diagram, style, scale
        As for :func:`dress`.

    Returns
    -------
    DiagramLayers
    """
    alike = scale == diagram.scale and getattr(diagram, "style", None) == style
    return diagram if alike else dress(diagram, style, scale=scale)


def _toned(diagram: DiagramLayers, style: Style) -> Any:
    """Faces with the fills of a style; those without planes keep theirs."""
    faces = diagram.faces
    if not has_planes(faces):
        return faces
    normal = faces[list(PLANE_COLUMNS[:3])].to_numpy(dtype=float)
    shades = np.where(_gentle(faces, normal), 0, style.light.shades(normal, diagram.view.matrix))
    crown = np.asarray(faces["part"], dtype=object) == "crown"
    planting = diagram.extra.get("planting")
    if planting is not None and (planting["kind"] == SHADE).any():
        shades = np.where(crown, 0, shades)  # crescents of shade tell light from dark
    fill = style.fills(*toned_as(faces), shades, crown=crown)
    return faces.assign(fill=paled(fill, _kept(faces), style.paper))


def _gentle(faces: Any, normal: np.ndarray) -> np.ndarray:
    """Faces of gentle ground and of what follows it; banks are told from it by their tone."""
    lies = (faces["part"] == "slope") & faces["role"].isin(LYING)
    return np.asarray(lies) & (np.hypot(normal[:, 0], normal[:, 1]) <= GENTLE * normal[:, 2])


def _kept(frame: Any) -> np.ndarray:
    """Rows of features that were there before, in a drawing that tells what is new."""
    if "change" not in frame:
        return np.zeros(len(frame), dtype=bool)
    return np.asarray(frame["change"].to_numpy(dtype=object) == KEPT)


def _weighted(lines: Any, style: Style, scale: float, faces: Any, owners: Owners, traced: bool) -> Any:
    """Lines with their widths, colours and order, and whether they stay at this scale."""
    nothing = np.full(len(lines), "", dtype=object)
    kinds, roles, outlines = (
        np.asarray(lines.get(name, nothing), dtype=object) for name in ("kind", "role", "outline")
    )
    heavy = np.where(roles == "tree", "", outlines)  # crowns that reach over a site are no edge of it
    nearness = lines["nearness"].to_numpy(dtype=float) if "nearness" in lines else None
    weighed = np.where(amid_crowns(lines, faces), "edge", kinds)
    width = style.weights.widths(weighed, roles=roles, outlines=heavy, nearness=nearness, scale=scale)
    width = no_wider(width, SMALLEST_SHARE * _sizes(faces, owners) * 1000 / scale)
    told = bool(style.slight_ink)
    width, thin = narrowed(width, lines, faces, owners, outlines=heavy, scale=scale, told=told)
    order = style.edge_order(kinds, outlines)
    kept = _kept(lines)
    width = np.where(kept, np.minimum(width, style.weights.of("hidden", scale)), width)
    fold = folds(lines, faces)
    colour = np.where(thin & told, style.slight_ink, style.line_colours(kinds))
    owner = owners.line * len(LINE_KINDS) + kind_ranks(kinds)
    trace = Trace(len(lines))
    note = trace.note if traced else unnoted
    note(fold)
    return lines.assign(
        line_mm=width,
        colour=np.where(kept | (fold & (outlines == "")), style.hidden_ink, colour),
        draw_order=order,
        outline=outlines,
        drawn=_drawn(lines, width, order, fold, owner, scale, note),
        **({"trace": trace.code} if traced else {}),
    )


def _sizes(faces: Any, owners: Owners) -> np.ndarray:
    """Side of a square as large as what is seen of each line's feature, infinite where nothing is [m]."""
    area = np.bincount(owners.face, shapely.area(np.asarray(faces.geometry.array)))
    size = np.full(max(len(area), int(owners.line.max(initial=-1)) + 1), np.inf)
    seen = np.unique(owners.face)
    size[seen] = np.sqrt(area[seen])
    return size[owners.line]


def _drawn(
    lines: Any,
    width: np.ndarray,
    order: np.ndarray,
    fold: np.ndarray,
    owner: np.ndarray,
    scale: float,
    note: Note,
) -> np.ndarray:
    """1 for lines that stay, 0 for those that give way or are too short; only straight ones can."""
    shapes = np.asarray(lines.geometry.array, dtype=object)
    straight = (shapely.get_type_id(shapes) == shapely.GeometryType.LINESTRING) & (
        shapely.get_num_coordinates(shapes) == 2
    )
    drawn = np.ones(len(lines), dtype=np.int64)
    rows = np.flatnonzero(straight)
    xy = shapely.get_coordinates(shapes[rows]).reshape(-1, 2, 2)
    drawn[rows] = far_enough(
        xy,
        width[rows],
        order[rows],
        scale=scale,
        owner=owner[rows],
        readable=lambda seen: _readable(xy[seen], fold[rows[seen]], scale),
        note=lambda state, some=slice(None): note(state, rows[some]),
    )
    steps = np.asarray(lines["role"], dtype=object)[rows] == STEPS
    drawn[rows] = no_stubs(xy, drawn[rows] > 0, steps, scale=scale)
    return drawn


def _readable(ends: np.ndarray, fold: np.ndarray, scale: float) -> np.ndarray:
    """Lines that are neither short folds nor specks."""
    kept = np.ones(len(ends), dtype=bool)
    kept[fold] = long_enough(ends[fold], LEAST_FOLD_MM * scale / 1000)
    kept[kept] = no_specks(ends[kept], scale=scale)
    return kept
