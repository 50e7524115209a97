"""
Exploded views: tables of a drawing that say which tier each row belongs to, and the plan beneath.

Levels in the tables are those of the site, not those at which the tiers are drawn; ``lift_m``
says how far apart the two are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final, TypeVar

import numpy as np
import pandas as pd
import shapely

from ..solids.stack import Stack
from ..source.roles import in_order, spoken
from ..view.dashes import Dashes
from ..view.overlay import careful, polygonal
from ..view.tolerance import GRID
from .clearance import Outline
from .layers import Beside, DiagramLayers
from .lift_lines import LiftLines
from .tables import extra_table, without_notes
from .tiers import PEOPLE, Tiers

PLAN: Final = "Plan"
"""Tier of the plan beneath an exploded view."""
MOST_ROLES: Final = 5
_PLURALS: Final = {"canopy": "canopies"}
_NO_PLURAL: Final = frozenset({"ground", "water", "paving", "steps", PEOPLE})
D = TypeVar("D", bound=DiagramLayers)


def with_tiers(diagram: D, stack: Stack, tiers: Tiers, lift: np.ndarray) -> D:
    """
    Add the columns ``tier`` and ``lift_m`` to every table, and give levels as they are on the site.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing of the lifted site.
    stack : Stack
        The site.
    tiers : Tiers
        Its tiers.
    lift : ndarray, shape (t,)
        How far each is lifted [m].

    Returns
    -------
    DiagramLayers
    """
    of = _tier_of(stack, tiers)
    names = np.array(tiers.names, dtype=object)

    def tagged(frame: Any, *levels: str) -> Any:
        tier = of.reindex(pd.MultiIndex.from_frame(frame[["layer", "source_id"]])).to_numpy(dtype=np.int64)
        if tiers.people >= 0 and "role" in frame:
            tier = np.where(frame["role"].to_numpy(dtype=str) == PEOPLE, tiers.people, tier)
        real = {level: frame[level].to_numpy(dtype=float) - lift[tier] for level in levels}
        return frame.assign(tier=names[tier], lift_m=lift[tier], **real)

    extra = {name: tagged(frame) for name, frame in diagram.extra.items()}
    lifted = without_notes(diagram).plan  # notes say where things are, not where they are drawn
    return replace(
        diagram,
        faces=tagged(diagram.faces, "level_min", "level_max"),
        edges=tagged(diagram.edges),
        hidden_edges=tagged(diagram.hidden_edges),
        plan=tagged(lifted, "base", "top"),
        extra=MappingProxyType(extra),
    )


def _tier_of(stack: Stack, tiers: Tiers) -> pd.Series:
    """Tier of every feature by its layer and id."""
    features = stack.features
    layers = np.array([key.name for key in features.layers], dtype=object)[features.layer]
    index = pd.MultiIndex.from_arrays([layers, features.source_id], names=["layer", "source_id"])
    series = pd.Series(tiers.feature, index=index)
    return series[~series.index.duplicated()]


def with_plan_below(diagram: D, plan: DiagramLayers, level: float) -> D:
    """
    Lay a plan beneath an exploded view, as far as nothing hides it.

    Parameters
    ----------
    diagram : DiagramLayers
        The exploded view, with its tiers.
    plan : DiagramLayers
        The plan of the same site, drawn from straight above.
    level : float
        Level that all of the plan is drawn at [m].

    Returns
    -------
    DiagramLayers
        With the rows of the plan, whose tier is "Plan"; their lift is from their own level.
    """
    view = diagram.view
    turn = view.matrix[:2, :2] @ np.linalg.inv(plan.view.matrix[:2, :2])
    shift = np.rint(view.matrix[:2, 2] * (level - view.drawn_in_place) / GRID) * GRID
    turn = np.eye(2) if np.allclose(turn, np.eye(2), atol=1e-12) else turn
    below = [plan.faces, plan.edges, *(plan.extra[name] for name in ("planting",) if name in plan.extra)]
    over = _reaching_over(diagram.faces, below, lambda xy: xy @ turn.T + shift)
    shapely.prepare(over)

    def moved(frame: Any, *, areas: bool) -> Any:
        shapes = np.asarray(frame.geometry.array, dtype=object)
        shapes = shapely.transform(shapes, lambda xy: xy @ turn.T + shift)
        left = _outside(_whole(shapes) if areas else shapes, over)
        left = polygonal(left) if areas else left
        kept = ~shapely.is_empty(left)
        shares = {}
        if areas and "visible_share" in frame:
            size = shapely.area(left) / np.where(shapely.area(shapes) > 0, shapely.area(shapes), 1.0)
            shares = {"visible_share": frame["visible_share"].to_numpy(dtype=float) * size}
        return frame.set_geometry(left).assign(tier=PLAN, **shares)[kept]

    faces = moved(plan.faces, areas=True)
    flat = {"normal_x": 0.0, "normal_y": 0.0, "normal_z": 1.0, "offset": level - view.drawn_in_place}
    faces = faces.assign(**flat, lift_m=level - faces["level_max"].to_numpy(dtype=float))
    edges = moved(plan.edges, areas=False).assign(lift_m=level)
    extra = dict(diagram.extra)
    for name, frame in plan.extra.items():
        if name == "planting":
            rows = moved(frame, areas=False).assign(lift_m=level)
            extra[name] = pd.concat([rows, extra[name]], ignore_index=True) if name in extra else rows
    return replace(
        diagram,
        faces=pd.concat([faces, diagram.faces], ignore_index=True),
        edges=pd.concat([edges, diagram.edges], ignore_index=True),
        extra=MappingProxyType(extra),
    )


def _whole(shapes: np.ndarray) -> np.ndarray:
    """Areas as valid ones: slivers as thin as a rounding error can fold when they are moved."""
    folded = ~shapely.is_valid(shapes)
    whole = shapes.copy()
    whole[folded] = shapely.make_valid(shapes[folded], method="structure", keep_collapsed=False)
    return whole


def _reaching_over(
    faces: Any, below: Sequence[Any], move: Callable[[np.ndarray], np.ndarray]
) -> shapely.Geometry:
    """All faces that come near what lies below once it is moved, as one."""
    shapes = np.asarray(faces.geometry.array, dtype=object)
    parts = [shapely.get_coordinates(np.asarray(frame.geometry.array, dtype=object)) for frame in below]
    hull = shapely.convex_hull(shapely.multipoints(move(np.concatenate(parts))))
    shapely.prepare(hull)
    return shapely.union_all(shapes[shapely.intersects(hull, shapes)])


def _outside(shapes: np.ndarray, over: shapely.Geometry) -> np.ndarray:
    """What of some shapes lies outside an area."""
    left = shapes.copy()
    met = np.flatnonzero(shapely.intersects(shapely.envelope(shapes), over))
    if len(met):
        left[met] = careful(shapely.difference, shapes[met], np.full(len(met), over, dtype=object))
    return left


def with_lift_lines(
    diagram: D, lines: LiftLines, seen: Dashes, tiers: Tiers, *, colour: str, line_mm: float
) -> D:
    """
    Add the table of lift lines.

    Parameters
    ----------
    diagram : DiagramLayers
        The exploded view.
    lines : LiftLines
        The lines.
    seen : Dashes
        What is seen of them.
    tiers : Tiers
        For names.
    colour, line_mm
        How they are drawn.

    Returns
    -------
    DiagramLayers
        ``tier`` is what a line holds up, ``foot`` what it stands on.
    """
    if not len(seen):
        return diagram
    view = diagram.view
    origin = np.array([view.origin_x, view.origin_y, view.drawn_in_place])
    ends = (lines.xyz - origin)[seen.edge] @ view.matrix[:2].T
    step = ends[:, 1] - ends[:, 0]
    dashes = np.stack(
        [ends[:, 0] + seen.begin[:, None] * step, ends[:, 0] + seen.end[:, None] * step], axis=1
    )
    names = np.array([*tiers.names, PLAN], dtype=object)
    rows = extra_table(
        shapely.linestrings(dashes),
        kind="lift",
        line_mm=line_mm,
        colour=colour,
        tier=names[lines.tier[seen.edge]],
        foot=names[lines.below[seen.edge]],
    )
    return replace(diagram, extra=MappingProxyType({**diagram.extra, "lift_lines": rows}))


def tier_words(stack: Stack, tiers: Tiers, outlines: list[Outline | None]) -> tuple[Beside, ...]:
    """
    Say beside each tier what it is and what belongs to it.

    Parameters
    ----------
    stack : Stack
        The site.
    tiers : Tiers
        Its tiers.
    outlines : list of Outline or None
        Outline of each where it is drawn, and at last that of the plan where there is one.

    Returns
    -------
    tuple of Beside
        The words point to the rightmost corner of each tier.
    """
    features = stack.features
    roles = np.array([key.role.name for key in features.layers], dtype=object)[features.layer]
    drawn = np.zeros(len(features), dtype=bool)
    drawn[stack.solid_feature] = True
    words = []
    for number, outline in enumerate(outlines):
        if outline is None:
            continue
        ends = outline.ends.reshape(-1, 2)
        corner = ends[np.argmax(ends[:, 0])]
        at = (float(corner[0]), float(corner[1]))
        if number == len(tiers):
            words.append(Beside(text=PLAN, at=at))
            continue
        own = set(roles[drawn & (tiers.feature == number)])
        text = tiers.names[number]
        words.append(Beside(text=text, detail=_listed(own, text), at=at))
    return tuple(words)


def _listed(roles: set[str], title: str) -> str:
    """Name some roles in stacking order, unless the title names them already."""
    names = [spoken(name) for name in in_order(roles)]
    many = [name if name in _NO_PLURAL else _PLURALS.get(name, f"{name}s") for name in names]
    if len(names) == 1 and (names[0] in title.lower() or many[0] in title.lower()):
        return ""
    return ", ".join(many if len(many) <= MOST_ROLES else [*many[: MOST_ROLES - 1], "and more"])
