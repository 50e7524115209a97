"""
The named, ordered layers that a drawing consists of.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from ..checks import one_of
from ..errors import SheetError

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
    "material",
)
EDGE_COLUMNS: Final = (
    "layer",
    "source_id",
    "role",
    "kind",
    "line_mm",
    "colour",
    "draw_order",
    "outline",
    "drawn",
)
PLAN_COLUMNS: Final = ("layer", "source_id", "role", "base", "top")
FINDING_COLUMNS: Final = ("severity", "code", "layer", "source_id", "field", "value", "message")
PLANE_COLUMNS: Final = ("normal_x", "normal_y", "normal_z", "offset")
"""Columns that faces carry in memory: the unit normal of each face's plane, and how far the
plane lies from the page's origin along it [m]."""
GROUP: Final = "group"
"""Column that faces and lines carry in memory: the number of the solid that a row shows; of lines where
faces cross, which stand behind all others, that number and how many solids there are."""
NUMBER: Final = "number"
"""Column that faces and lines carry in memory: a number for each row, ascending, that stays where other
solids change; a file has it as the number of its row."""
PART_COLUMNS: Final = ("tier", "lift_m", "change")
"""Columns that tables of pulled-apart and compared drawings have as well: the tier each row belongs
to, how far it is lifted [m], and whether its feature is new, changed, kept or removed."""
EXTRA_COLUMNS: Final = ("layer", "source_id", "role", "kind", "line_mm", "colour", "fill", "draw_order")
"""Columns of every further table; it may have more. "" is no colour and no fill."""


@dataclass(frozen=True, kw_only=True)
class ExtraTable:
    """
    What a further table of a drawing is for.

    Parameters
    ----------
    over : {"faces", "edges"}
        What it is drawn over; tables over the same lie in the order of ``EXTRA_TABLES``. Rows
        whose ``draw_order`` is below zero lie on the faces, under all other tables.
    description : str
        What it holds.
    """

    over: str
    description: str


EXTRA_TABLES: Final[Mapping[str, ExtraTable]] = MappingProxyType(
    {
        "patterns": ExtraTable(over="faces", description="Joints and textures on what is seen"),
        "shadows": ExtraTable(over="faces", description="Cast shadows on what is seen"),
        "panels": ExtraTable(over="edges", description="Translucent panels of rails"),
        "people": ExtraTable(over="edges", description="People, bicycles and dogs for scale"),
        "planting": ExtraTable(over="edges", description="Trees, shrubs and hedges as drawn"),
        "removed": ExtraTable(over="edges", description="What was there before and is no more"),
        "lift_lines": ExtraTable(over="edges", description="Lines along which parts are pulled apart"),
        "finding_marks": ExtraTable(over="edges", description="Places of findings"),
        "caution_marks": ExtraTable(over="edges", description="Places to look at"),
        "labels": ExtraTable(over="edges", description="Level marks, names and dimensions on the sheet"),
    }
)
"""Tables that a drawing may have beside its own, in the order they are drawn."""


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
    base_line : float
        Direction of the base line on the local plane [degrees anticlockwise from its east].
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
    base_line: float = 0.0

    @property
    def keeps_plan(self) -> bool:
        """Whether the plan keeps its true shape, so that the map frame exists."""
        plan = self.matrix[:2, :2]
        return bool(np.allclose(plan @ plan.T, np.eye(2), atol=1e-12))

    @property
    def toward_viewer(self) -> np.ndarray:
        """Unit vector along the line of sight toward the viewer, shape (3,)."""
        along = np.cross(self.matrix[0], self.matrix[1])
        along = along if self.matrix[2] @ along > 0 else -along
        return along / np.linalg.norm(along)


@dataclass(frozen=True, kw_only=True)
class Beside:
    """
    Words that stand beside a part of a drawing, at the right of all that is drawn.

    Parameters
    ----------
    text, detail : str
        One line each; the detail in smaller letters.
    at : tuple of two floats
        Page point of the part that they belong to [m].
    """

    text: str
    at: tuple[float, float]
    detail: str = ""


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
        no CRS is set, since the page is none of the Earth's. Faces may carry
        PLANE_COLUMNS too, lines ``nearness`` (0 farthest from the viewer, 1 nearest), and both GROUP
        and NUMBER.
    findings : pandas.DataFrame
        Columns as in FINDING_COLUMNS.
    report : mapping
        Figures of the run: counts, balances, what was redone.
    extra : mapping of str to geopandas.GeoDataFrame
        Further tables by name, any of EXTRA_TABLES, with EXTRA_COLUMNS.
    scale : float, optional
        The x of the 1:x that widths, patterns and thinning are for.
    caption : str
        What it shows, where it is one of several drawings of a site.
    beside : tuple of Beside
        Words beside its parts.
    extent : tuple of four floats, optional
        Page box that it is laid out for together with others: left, bottom, right, top [m].
    unit : {"m", "ft", "ft-us"}
        What its captions, its lists and its sheets speak; its tables are in metres whatever it is.

    Raises
    ------
    SheetError
        If a further table is none of EXTRA_TABLES.
    """

    name: str
    view: ViewRecord
    faces: Any
    edges: Any
    hidden_edges: Any
    plan: Any
    findings: Any
    report: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    extra: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    scale: float | None = None
    caption: str = ""
    beside: tuple[Beside, ...] = ()
    extent: tuple[float, float, float, float] | None = None
    unit: str = "m"

    def __post_init__(self) -> None:
        for name in self.extra:
            one_of(name, EXTRA_TABLES, "table", SheetError)
        ordered = {name: self.extra[name] for name in EXTRA_TABLES if name in self.extra}
        object.__setattr__(self, "extra", MappingProxyType(ordered))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Page box of all that is drawn but for labels, and of its extent: left, bottom, right, top [m]."""
        further = [frame for name, frame in self.extra.items() if name != "labels"]
        boxes = [frame.total_bounds for frame in (self.faces, self.edges, *further) if len(frame)]
        boxes = [box for box in boxes if np.isfinite(box).all()]
        boxes += [] if self.extent is None else [np.array(self.extent)]
        if not boxes:
            return (0.0, 0.0, 0.0, 0.0)
        low = np.min([box[:2] for box in boxes], axis=0)
        high = np.max([box[2:] for box in boxes], axis=0)
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
