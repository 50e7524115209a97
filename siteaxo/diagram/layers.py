"""
The named, ordered layers that a drawing consists of.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

import numpy as np

FACE_COLUMNS: Final = (
    "layer",
    "source_id",
    "role",
    "part",
    "level_min",
    "level_max",
    "visible_share",
    "fill",
    "draw_order",
)
EDGE_COLUMNS: Final = ("layer", "source_id", "role", "kind", "line_mm", "colour", "draw_order")
PLAN_COLUMNS: Final = ("layer", "source_id", "role", "base", "top")
FINDING_COLUMNS: Final = ("severity", "code", "layer", "source_id", "field", "value", "message")


@dataclass(frozen=True, kw_only=True)
class ViewRecord:
    """
    What is needed to get from the page back to the site.

    A point (x, y, z) of the local plane lands on the page at the first two rows of
    ``matrix @ (x - origin_x, y - origin_y, z - drawn_in_place)``.

    Parameters
    ----------
    kind : str
        "planometric", "isometric", ...
    turn : float
        Turn of the plan from its base line [degrees anticlockwise].
    height_factor : float
        Page metres per metre of height [-].
    matrix : ndarray, shape (3, 3)
        Page right, page up and depth (greater is nearer) as rows; the squaring-up of
        the base line is included.
    plane_wkt : str
        The local plane's CRS as WKT 2.
    origin_x, origin_y : float
        Local origin on that plane [m].
    drawn_in_place : float
        The level that is not shifted up the page [m].
    north_angle : float
        Direction of true north on the page [degrees anticlockwise from page right].
    """

    kind: str
    turn: float
    height_factor: float
    matrix: np.ndarray
    plane_wkt: str
    origin_x: float
    origin_y: float
    drawn_in_place: float
    north_angle: float

    @property
    def keeps_plan(self) -> bool:
        """Whether the plan keeps its true shape, so that the map frame exists."""
        plan = self.matrix[:2, :2]
        return bool(np.allclose(plan @ plan.T, np.eye(2), atol=1e-12))


@dataclass(frozen=True, kw_only=True)
class DiagramLayers:
    """
    A finished drawing as GeoDataFrames in page metres at full size, x right, y up.

    Parameters
    ----------
    name : str
        Name of the site.
    view : ViewRecord
        The view it was drawn in.
    faces, edges, hidden_edges, plan : geopandas.GeoDataFrame
        Columns as in FACE_COLUMNS, EDGE_COLUMNS and PLAN_COLUMNS beside ``geometry``;
        no CRS is set, since the page is none of the Earth's.
    findings : pandas.DataFrame
        Columns as in FINDING_COLUMNS.
    report : mapping
        Figures of the run: counts, balances, what was redone.
    """

    name: str
    view: ViewRecord
    faces: Any
    edges: Any
    hidden_edges: Any
    plan: Any
    findings: Any
    report: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Page box of all that is drawn: left, bottom, right, top [m]."""
        boxes = [frame.total_bounds for frame in (self.faces, self.edges) if len(frame)]
        if not boxes:
            return (0.0, 0.0, 0.0, 0.0)
        low = np.min([box[:2] for box in boxes], axis=0)
        high = np.max([box[2:] for box in boxes], axis=0)
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
