"""
Frames of a drawing as it comes about by hand: outlines, verticals, and all edges with nothing hidden.

References
----------
Drawing a plan oblique by hand (common practice): the turned plan is traced at the lowest level,
heights are raised straight up from its corners from the lowest level on, corners are joined, and
lines that would not be seen are left out.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from ..solids.stack import Stack
from ..view.page import onto_page
from ..view.projection import View
from ..view.tolerance import Tolerance
from .build import findings_table, footprints_of, names_of, plan_table
from .layers import EDGE_COLUMNS, FACE_COLUMNS, DiagramLayers, ViewRecord
from .tables import table

UPRIGHT: Final = 1e-6  # edges whose ends are no farther apart in plan stand upright [m]
PART_KEYS: Final = ("layer", "source_id", "role")


class Frames:
    """
    Makes frames of one view of a site.

    Parameters
    ----------
    stack : Stack
        The solids.
    view : View
        The view, squared up.
    record : ViewRecord
        The same for tables.
    name : str
        Name of the site.
    plan_turn : float
        Turn of the plan table [degrees anticlockwise].
    level : float
        Level that outlines are drawn at, and heights are raised from [m].
    """

    def __init__(
        self, stack: Stack, view: View, record: ViewRecord, *, name: str, plan_turn: float, level: float
    ) -> None:
        self.stack, self.view, self.record = stack, view, record
        self.name, self.plan_turn, self.level = name, plan_turn, level
        self.origin = np.array([record.origin_x, record.origin_y, record.drawn_in_place])

    def outlines(self) -> DiagramLayers:
        """Outlines of all footprints at the lowest level."""
        return self._layers([self._footprints()])

    def raised(self, group: np.ndarray, newest: int, *, since: int | None = None) -> DiagramLayers:
        """
        Outlines, and the verticals of some groups of features.

        Parameters
        ----------
        group : ndarray of int, shape (n,)
            Group of each feature, the lowest first.
        newest : int
            The last group that is raised.
        since : int, optional
            The first group that is newly raised; *newest* when left out.

        Returns
        -------
        DiagramLayers
            New heights are of the kind "vertical", earlier ones "edge"; what leads up to them from
            the lowest level is "construction".
        """
        solid, foot, head = self._uprights()
        own = group[self.stack.solid_feature[solid]]
        there = own <= newest
        solid, foot, head, own = solid[there], foot[there], head[there], own[there]
        new = own >= (newest if since is None else since)
        ground = foot.copy()
        ground[:, 2] = self.level
        kinds = np.where(new, "vertical", "edge").astype(object)
        rows = [self._footprints(), (solid, self._lines(foot, head), kinds)]
        above = foot[:, 2] > self.level + UPRIGHT
        lead = np.full(int(above.sum()), "construction", dtype=object)
        rows.append((solid[above], self._lines(ground[above], foot[above]), lead))
        return self._layers(rows)

    def joined(self) -> DiagramLayers:
        """All edges, with nothing hidden; seams of curves only where they are a silhouette."""
        edges, faces = self.stack.scene.edges, self.stack.scene.faces
        front = np.zeros(len(faces), dtype=bool)
        front[onto_page(faces, self.view, self.origin, Tolerance()).index] = True
        turned = np.bincount(edges.member_edge, front[edges.face], minlength=len(edges))
        shown = np.flatnonzero(~edges.smooth | (turned == 1))
        lines = self._lines(edges.start[shown], edges.end[shown])
        return self._layers([(edges.solid[shown], lines, np.full(len(shown), "edge", dtype=object))])

    def _uprights(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Solid, lower and upper end of every upright edge that shows a corner, and of every stem."""
        edges, features = self.stack.scene.edges, self.stack.features
        step = edges.end - edges.start
        upright = (np.abs(step[:, :2]) <= UPRIGHT).all(axis=1) & (np.abs(step[:, 2]) > UPRIGHT)
        rows = np.flatnonzero(upright & ~edges.smooth)
        low = np.where(step[rows, 2:] > 0, edges.start[rows], edges.end[rows])
        high = np.where(step[rows, 2:] > 0, edges.end[rows], edges.start[rows])
        tree = features.of_role("form") == "tree"
        solids, first = np.unique(self.stack.solid_feature, return_index=True)
        stems = first[tree[solids]]
        feature = self.stack.solid_feature[stems]
        xy = shapely.get_coordinates(shapely.centroid(features.geometry[feature])).reshape(-1, 2)
        foot = np.column_stack([xy, features.base[feature]])
        head = np.column_stack([xy, features.top[feature]])
        own = ~tree[self.stack.solid_feature[edges.solid[rows]]]
        return (
            np.concatenate([edges.solid[rows[own]], stems]),
            np.concatenate([low[own], foot]),
            np.concatenate([high[own], head]),
        )

    def _lines(self, start: np.ndarray, end: np.ndarray) -> np.ndarray:
        """Lines on the page."""
        ends = np.stack([start, end], axis=1).reshape(-1, 3) - self.origin
        page = self.view.to_page(ends)[:, :2].reshape(-1, 2, 2)
        return shapely.linestrings(page) if len(page) else np.empty(0, dtype=object)

    def _footprints(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Outlines of the footprints of everything that has a solid, at the lowest level."""
        solids, first = np.unique(self.stack.solid_feature, return_index=True)
        shapes = footprints_of(self.stack)[solids]
        area = np.flatnonzero(shapely.get_dimensions(shapes) == 2)
        rings, owner = shapely.get_parts(shapely.boundary(shapes[area]), return_index=True)
        xy, ring = shapely.get_coordinates(rings, return_index=True)
        same = np.flatnonzero(ring[1:] == ring[:-1])
        start = np.column_stack([xy[same], np.full(len(same), self.level)])
        end = np.column_stack([xy[same + 1], np.full(len(same), self.level)])
        solid = first[area[owner[ring[same]]]]
        return solid, self._lines(start, end), np.full(len(same), "construction", dtype=object)

    def _layers(self, rows: list[tuple[np.ndarray, np.ndarray, np.ndarray]]) -> DiagramLayers:
        solid, lines, kind = (np.concatenate([row[k] for row in rows]) for k in range(3))
        lines = np.asarray(lines, dtype=object)
        real = np.flatnonzero(shapely.length(lines) > 0)
        solid, lines, kind = solid[real], lines[real], kind[real]
        names, count = names_of(self.stack), len(solid)
        columns: dict[str, Any] = {
            **{key: getattr(names, key)[solid] for key in PART_KEYS},
            "kind": kind,
            "line_mm": np.zeros(count),
            "colour": np.full(count, "", dtype=object),
            "draw_order": np.zeros(count, dtype=np.int64),
            "outline": np.full(count, "", dtype=object),
            "drawn": np.ones(count, dtype=np.int64),
        }
        none = np.empty(0, dtype=object)
        bare = table(dict.fromkeys(EDGE_COLUMNS, none), EDGE_COLUMNS, none)
        return DiagramLayers(
            name=self.name,
            view=self.record,
            faces=table(dict.fromkeys(FACE_COLUMNS, none), FACE_COLUMNS, none),
            edges=table(columns, EDGE_COLUMNS, lines),
            hidden_edges=bare,
            plan=plan_table(self.stack, self.record, self.plan_turn),
            findings=findings_table(()),
        )
