"""
The layers of Wrenlow Quarry Garden: what is in each file, and what the site file says of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import fittings
import groundwork
import hillside
import lodge
import meadow
import planting
import surfaces
import visitors

NATIONAL_GRID = "EPSG:27700"
SATELLITE = "EPSG:4326"
GRID_IN_FEET = (
    "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 "
    "+x_0=400000 +y_0=-100000 +datum=OSGB36 +units=ft +type=crs"
)
DESIGN, MEADOW = "design.gpkg", "meadow.gpkg"
STANDING = {"base": "below", "height": "height_m"}
LINE = STANDING | {"width": "width_m"}
BETWEEN = {"base": "foot_lvl", "top": "head_lvl"}
SLAB = {"base": "base_lvl", "top": "top_lvl"}


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One layer to be written: its rows, where they go, and what the site file says of it."""

    name: str
    role: str
    mark: str
    rows: list[dict[str, Any]]
    keys: dict[str, Any] = field(default_factory=dict)
    source: str = ""
    crs: str = NATIONAL_GRID

    @property
    def file(self) -> str:
        """File name; a shapefile of the layer's own name unless stated."""
        return self.source or f"{self.name}.shp"


def _layer(name: str, role: str, mark: str, rows: list[dict[str, Any]], **keys: Any) -> Sheet:
    return Sheet(name=name, role=role, mark=mark, rows=rows, keys=keys)


def _table(source: str, name: str, role: str, mark: str, rows: list[dict[str, Any]], **keys: Any) -> Sheet:
    return Sheet(name=name, role=role, mark=mark, rows=rows, keys=keys, source=source)


def survey_sheets() -> list[Sheet]:
    """The ground and what is known of its levels."""
    return [
        _layer("boundary", "ground", "B", meadow.boundary_rows(), base="slab_lvl", top="survey"),
        _table(MEADOW, "contours", "contour", "CL", meadow.contour_rows(), top="level_m"),
        _table(MEADOW, "field_contours", "contour", "CF", meadow.field_contour_rows()),
        _table(MEADOW, "breaklines", "breakline", "BL", meadow.breakline_rows()),
        _table(MEADOW, "spots", "spot level", "SL", meadow.spot_rows()),
        _table(MEADOW, "mound", "ground", "MD", meadow.mound_rows(), top_z="each"),
    ]


def design_sheets() -> list[Sheet]:
    """The surfaces, all in one GeoPackage."""
    return [
        _table(DESIGN, "lawn", "lawn", "L", surfaces.lawn_rows(), base="below"),
        _table(DESIGN, "water", "water", "Q", surfaces.water_rows(), base="bed_level", top="water_level"),
        _table(DESIGN, "rill", "water", "QR", surfaces.rill_rows(), base="below", drop="drop_m"),
        _table(DESIGN, "paving", "paving", "P", surfaces.paving_rows(), base="below", material="material"),
    ]


def climbing_sheets() -> list[Sheet]:
    """Paths, ramps and steps."""
    turning = BETWEEN | {"width": "width_m", "landing": "landing_m"}
    graded = {"top_z": "each", "width": "width_m"}
    return [
        _layer("paths", "path", "W", surfaces.path_rows(), base="below", width="width_m"),
        _layer("field_path", "path", "WF", hillside.field_path_rows(), **graded, bank="bank_run"),
        _layer("brow_paths", "path", "WB", hillside.brow_path_rows(), **graded),
        _layer("ramp", "ramp", "R", groundwork.ramp_rows(), **BETWEEN),
        _table(MEADOW, "switchback", "ramp", "RS", hillside.switchback_rows(), **turning),
        _layer("steps", "steps", "S", groundwork.step_rows(), **BETWEEN, cheek="cheek_m"),
        _layer("plinth_steps", "steps", "SP", groundwork.plinth_step_rows(), **BETWEEN),
        _table(
            MEADOW,
            "curved_steps",
            "steps",
            "SC",
            hillside.curved_step_rows(),
            **BETWEEN,
            riser=0.15,
            cheek=0.2,
        ),
        _table(MEADOW, "brow_steps", "steps", "SB", hillside.brow_step_rows(), **turning),
    ]


def built_sheets() -> list[Sheet]:
    """Deck, walls, buildings, roofs and canopies."""
    stone = {"material": "material"}
    cope = {"base": "foot_lvl", "top": "cope_lvl"}
    return [
        _layer("deck", "deck", "D", groundwork.deck_rows(), **SLAB, **stone),
        _layer("walls", "wall", "M", groundwork.wall_rows(), **cope),
        _layer("brow_walls", "wall", "MB", lodge.brow_wall_rows(), **cope, **stone),
        _layer("copings", "wall", "MC", lodge.coping_rows(), base="bed_lvl", top="cope_lvl"),
        _layer("free_walls", "wall", "F", groundwork.free_wall_rows(), **LINE, across="split"),
        _layer("buildings", "structure", "H", fittings.building_rows(), base="base_lvl", top="eaves_lvl"),
        Sheet(
            name="kiln",
            role="structure",
            mark="K",
            crs=GRID_IN_FEET,
            rows=fittings.kiln_rows(),
            keys={"base": "base_ft", "top": "top_ft", "unit": "ft"} | stone,
        ),
        _layer("posts", "structure", "C", fittings.post_rows(), **SLAB),
        _layer(
            *("lodge", "structure", "HL", lodge.lodge_rows()),
            **{"base": "below", "storeys": "storeys", "storey_height": "storey_m"},
        ),
        _layer("bothy", "structure", "HB", lodge.bothy_rows(), base="below", top_z="max", **stone),
        _layer("blocks", "structure", "HQ", hillside.block_rows(), base="below", top_z="mean", **stone),
        _layer("shed", "structure", "HS", lodge.shed_rows(), base_z="min", height="height_m"),
        _layer(
            "store", "structure", "HR", lodge.store_rows(), base="below", height="height_ft", unit="ft-us"
        ),
        _layer("roof", "roof", "Z", fittings.roof_rows(), **SLAB, parapet="parapet_m"),
        _layer(
            *("pitched_roofs", "roof", "ZP", lodge.roof_rows()),
            **{"base": "below", "across": "whole", "pitch": "pitch_deg", "shape": "form"},
            **stone,
        ),
        _layer("roof_planes", "roof", "ZM", lodge.plane_rows(), base_z="min", top_z="each", **stone),
        _layer(
            *("canopy", "canopy", "Y", [*fittings.canopy_rows(), *lodge.pergola_rows()]),
            **SLAB,
            **{"posts": "post_m", "beams": "beam_m"},
            **stone,
        ),
    ]


def standing_sheets() -> list[Sheet]:
    """Furniture, planting, people and notes."""
    planter = STANDING | {"rim": "rim_m", "drop": "soil_m"}
    tree = STANDING | {"diameter": "crown_m", "clear_stem": "stem_m", "shape": "form"}
    return [
        _layer("planters", "planter", "J", fittings.planter_rows(), **planter),
        _layer("seats", "seat", "E", fittings.seat_rows(), **LINE),
        _layer("rails", "rail", "G", fittings.rail_rows(), **STANDING, width=0.05, posts=1.5, shape="form"),
        _layer("hedges", "hedge", "V", planting.hedge_rows(), **LINE),
        Sheet(name="trees", role="tree", mark="A", crs=SATELLITE, rows=planting.tree_rows(), keys=tree),
        Sheet(
            name="people",
            role="people",
            mark="U",
            crs=SATELLITE,
            rows=visitors.people_rows(),
            source="people.geojson",
            keys={"density": "per_m2"},
        ),
        Sheet(
            name="notes",
            role="note",
            mark="N",
            crs=SATELLITE,
            rows=visitors.note_rows(),
            source="notes.geojson",
            keys={"id": "text"},
        ),
    ]


def terrace_sheets() -> list[Sheet]:
    """Terraces: level, level with banks, and tilted."""
    level = {"base": "foot_lvl", "top": "fin_lvl"}
    slope = {"base": "foot_lvl", "top": "high_lvl", "low": "low_lvl", "fall_bearing": "fall_brg"}
    return [
        _layer("terraces", "terrace", "T", [*groundwork.terrace_rows(), *hillside.lookout_rows()], **level),
        _layer("banked", "terrace", "TB", hillside.terrace_rows(), **level, bank="bank_run"),
        _layer("green", "terrace", "TG", hillside.green_rows(), **slope),
        _layer(
            *("picnic", "terrace", "TP", hillside.picnic_rows()),
            **{"base": "foot_lvl", "top": "finished levels"},
        ),
        _layer("pegs", "finished level", "PG", hillside.finished_level_rows(), top="fin_lvl"),
        _layer(
            *("court", "terrace", "TC", hillside.court_rows()),
            **{"base": "foot_lvl", "top": "finished levels", "bank": "bank_run"},
        ),
        _layer("court_edges", "finished level", "PE", hillside.court_edge_rows(), top="fin_lvl"),
    ]


def sheets() -> list[Sheet]:
    """Every layer, in the order of the site file."""
    return [
        *survey_sheets(),
        *terrace_sheets(),
        *design_sheets(),
        *climbing_sheets(),
        *built_sheets(),
        *standing_sheets(),
    ]
