"""Drawings made by hand, with figures that can be worked out on paper."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import geopandas
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely

from siteaxo.angles import cos_deg, sin_deg
from siteaxo.craft.dress import dress
from siteaxo.craft.style import Style
from siteaxo.diagram.layers import FINDING_COLUMNS, DiagramLayers, ViewRecord

PLANE = pyproj.CRS.from_proj4(
    "+proj=tmerc +lat_0=52.1 +lon_0=-1.3 +k=1 +x_0=0 +y_0=0 +ellps=WGS84 +units=m"
).to_wkt("WKT2_2019")
ORIGIN = (140.0, -60.0)


def planometric_matrix(turn: float, height_factor: float = 1.0) -> np.ndarray:
    """Rows right, up and depth of a planometric view."""
    c, s = cos_deg(turn), sin_deg(turn)
    return np.array([[c, -s, 0.0], [s, c, height_factor], [0.0, 0.0, 1.0]])


def view_record(turn: float = 0.0, **changes: object) -> ViewRecord:
    """A planometric view of a plane whose grid north is true north."""
    values = {
        "kind": "planometric",
        "turn": turn,
        "height_factor": 1.0,
        "matrix": planometric_matrix(turn),
        "plane_wkt": PLANE,
        "origin_x": ORIGIN[0],
        "origin_y": ORIGIN[1],
        "drawn_in_place": 12.0,
        "north_angle": 90.0 + turn,
    }
    return ViewRecord(**(values | changes))


def terraces(
    *,
    name: str = "Dyers' Yard",
    view: ViewRecord | None = None,
    style: Style | None = None,
    scale: float = 200.0,
    material: str = "",
) -> DiagramLayers:
    """
    Three terraces, each 10 m wide, 2 m deep and 1 m above the last, seen from the south.

    Page x runs from 0 to 10 and page y from 0 to 9: risers and tops are 10 × 1 and 10 × 2.
    """
    look = style or Style()
    low = 3.0 * np.arange(3)
    shapes = np.concatenate([shapely.box(0, low + 1, 10, low + 3), shapely.box(0, low, 10, low + 1)])
    facings = np.repeat(["up", "left"], 3)
    levels = np.tile([13.0, 14.0, 15.0], 2)
    roles = np.tile(["lawn", "terrace", "terrace"], 2)
    faces = {
        "layer": np.where(roles == "lawn", "Lawns", "Terraces"),
        "source_id": np.tile(["7", "8", "9"], 2),
        "role": roles,
        "part": np.repeat(["top", "side"], 3),
        "level_min": np.where(facings == "up", levels, 12.0),
        "level_max": levels,
        "visible_share": np.where(facings == "up", 1.0, np.tile([1.0, 1 / 2, 1 / 3], 2)),
        "fill": "",
        "draw_order": np.zeros(6, dtype=int),
        "material": np.where(roles == "terrace", material, ""),
        "normal_x": np.zeros(6),
        "normal_y": np.where(facings == "up", 0.0, -1.0),
        "normal_z": np.where(facings == "up", 1.0, 0.0),
        "offset": np.where(facings == "up", levels - 12.0, -np.tile([0.0, 2.0, 4.0], 2)),
    }
    flat = [[(0, y), (10, y)] for y in (0, 1, 3, 4, 6, 7, 9)]
    upright = [[(x, 0), (x, 9)] for x in (0, 10)]
    kinds = ["foot", "edge", "foot", "edge", "foot", "edge", "profile", "profile", "profile"]
    hidden = [[(1, 4), (1, 6)], [(9, 4), (9, 6)]]
    footprints = shapely.box(0, 2.0 * np.arange(3), 10, 2.0 * np.arange(3) + 2)
    plan = {
        "layer": faces["layer"][:3],
        "source_id": faces["source_id"][:3],
        "role": roles[:3],
        "base": np.full(3, 12.0),
        "top": levels[:3],
    }
    bare = DiagramLayers(
        name=name,
        view=view or view_record(),
        faces=geopandas.GeoDataFrame(faces, geometry=shapes),
        edges=_lines(flat + upright, kinds),
        hidden_edges=_lines(hidden, ["hidden"] * 2),
        plan=geopandas.GeoDataFrame(plan, geometry=footprints),
        findings=pd.DataFrame(
            [["warning", "level-missing", "lawns", "7", "top", "-9999", "taken from below"]],
            columns=list(FINDING_COLUMNS),
        ),
    )
    return dress(bare, look, scale=scale)


def _lines(ends: list, kinds: list[str]) -> geopandas.GeoDataFrame:
    columns = {
        "layer": "Terraces",
        "source_id": "8",
        "role": "terrace",
        "kind": kinds,
        "line_mm": 0.0,
        "colour": "",
        "draw_order": 0,
        "outline": "",
        "drawn": 1,
    }
    return geopandas.GeoDataFrame(columns, geometry=shapely.linestrings(np.array(ends, dtype=float)))


def without_rows(diagram: DiagramLayers) -> DiagramLayers:
    """The same drawing with every table empty."""
    tables = {
        table: getattr(diagram, table).iloc[:0]
        for table in ("faces", "edges", "hidden_edges", "plan", "findings")
    }
    return DiagramLayers(name=diagram.name, view=diagram.view, **tables)


@contextlib.contextmanager
def room_for(size: float) -> Iterator[None]:
    """The largest file this process may write is *size* bytes, which fails as a full disk does."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(size), hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
