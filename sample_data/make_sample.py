"""
Write the sample site: Wrenlow Quarry Garden, as a surveyor and a designer would hand it over.

Wrenlow is our own invention, and so is everything in it: a small public garden on the ledges
of a worked-out limestone quarry, with its old lime kiln. Its coordinates lie in open water, so
that it stands on nobody's land. The data are licensed like the library (MIT).

The hand-over has four sources:

- the survey and the design in shapefiles on the British National Grid, in metres;
- trees fixed by satellite, in WGS 84 longitude and latitude;
- the kiln from an old measured survey, on the National Grid in feet, with levels in feet;
- the surfaces in one GeoPackage with a table each.

Run ``python sample_data/make_sample.py`` to write the folder ``wrenlow`` beside this file, or
``--out FOLDER`` to write it elsewhere. The same versions of the libraries write the same bytes.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import fittings
import geopandas
import groundwork
import planting
import pyogrio
import pyproj
import surfaces
from setting_out import to_national_grid

PLACE = "Wrenlow Quarry Garden"
TITLE = "Four terraces around a sunken court"
FOLDER = "wrenlow"
NATIONAL_GRID = "EPSG:27700"
SATELLITE = "EPSG:4326"
GRID_IN_FEET = (
    "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 "
    "+x_0=400000 +y_0=-100000 +datum=OSGB36 +units=ft +type=crs"
)
WRITTEN_ON = "2025-03-03"  # a fixed date, so that the files can be made again byte for byte


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


def design_sheets() -> list[Sheet]:
    """The surfaces, all in one GeoPackage."""
    source = "design.gpkg"
    return [
        Sheet(
            name="lawn",
            role="lawn",
            mark="L",
            source=source,
            rows=surfaces.lawn_rows(),
            keys={"base": "below"},
        ),
        Sheet(
            name="water",
            role="water",
            mark="Q",
            source=source,
            rows=surfaces.water_rows(),
            keys={"base": "bed_level", "top": "water_level"},
        ),
        Sheet(
            name="paving",
            role="paving",
            mark="P",
            source=source,
            rows=surfaces.paving_rows(),
            keys={"base": "below", "material": "material"},
        ),
    ]


def ground_sheets() -> list[Sheet]:
    """Boundary, terraces, and what joins and holds them."""
    between = {"base": "foot_lvl", "top": "head_lvl"}
    return [
        Sheet(
            name="boundary",
            role="ground",
            mark="B",
            rows=groundwork.boundary_rows(),
            keys={"base": "slab_lvl", "top": "lane_lvl"},
        ),
        Sheet(
            name="terraces",
            role="terrace",
            mark="T",
            rows=groundwork.terrace_rows(),
            keys={"base": "foot_lvl", "top": "fin_lvl"},
        ),
        *design_sheets(),
        Sheet(
            name="paths",
            role="path",
            mark="W",
            rows=surfaces.path_rows(),
            keys={"base": "below", "width": "width_m"},
        ),
        Sheet(name="ramp", role="ramp", mark="R", rows=groundwork.ramp_rows(), keys=between),
        Sheet(name="steps", role="steps", mark="S", rows=groundwork.step_rows(), keys=between),
        Sheet(
            name="deck",
            role="deck",
            mark="D",
            rows=groundwork.deck_rows(),
            keys={"base": "base_lvl", "top": "top_lvl"},
        ),
        Sheet(
            name="walls",
            role="wall",
            mark="M",
            rows=groundwork.wall_rows(),
            keys={"base": "foot_lvl", "top": "cope_lvl"},
        ),
    ]


def standing_sheets() -> list[Sheet]:
    """Buildings, canopy, furniture and planting."""
    standing = {"base": "below", "height": "height_m"}
    line = standing | {"width": "width_m"}
    slab = {"base": "base_lvl", "top": "top_lvl"}
    tree = standing | {"diameter": "crown_m", "clear_stem": "stem_m", "shape": "form"}
    return [
        Sheet(name="free_walls", role="wall", mark="F", rows=groundwork.free_wall_rows(), keys=line),
        Sheet(
            name="buildings",
            role="structure",
            mark="H",
            rows=fittings.building_rows(),
            keys={"base": "base_lvl", "top": "eaves_lvl"},
        ),
        Sheet(
            name="kiln",
            role="structure",
            mark="K",
            crs=GRID_IN_FEET,
            rows=fittings.kiln_rows(),
            keys={"base": "base_ft", "top": "top_ft", "unit": "ft"},
        ),
        Sheet(name="posts", role="structure", mark="C", rows=fittings.post_rows(), keys=slab),
        Sheet(name="roof", role="roof", mark="Z", rows=fittings.roof_rows(), keys=slab),
        Sheet(name="canopy", role="canopy", mark="Y", rows=fittings.canopy_rows(), keys=slab),
        Sheet(
            name="planters",
            role="planter",
            mark="J",
            rows=fittings.planter_rows(),
            keys=standing | {"rim": 0.1},
        ),
        Sheet(name="seats", role="seat", mark="E", rows=fittings.seat_rows(), keys=line),
        Sheet(
            name="rails", role="rail", mark="G", rows=fittings.rail_rows(), keys=standing | {"width": 0.05}
        ),
        Sheet(name="hedges", role="hedge", mark="V", rows=planting.hedge_rows(), keys=line),
        Sheet(name="trees", role="tree", mark="A", crs=SATELLITE, rows=planting.tree_rows(), keys=tree),
    ]


def sheets() -> list[Sheet]:
    """Every layer, in the order of the site file."""
    return [*ground_sheets(), *standing_sheets()]


def reference_system(code: str) -> pyproj.CRS:
    """The CRS of a code; the grid in feet, which has none, gets a name."""
    crs = pyproj.CRS(code)
    if code != GRID_IN_FEET:
        return crs
    definition = crs.to_json_dict()
    definition["name"] = "OSGB36 / National Grid in feet"
    definition["base_crs"]["name"] = "OSGB36"
    return pyproj.CRS.from_json_dict(definition)


def frame(sheet: Sheet) -> geopandas.GeoDataFrame:
    """The layer as a table in its own CRS, each feature with an id of its own."""
    fields = [{key: value for key, value in row.items() if key != "geometry"} for row in sheet.rows]
    rows = [{"feat_id": f"{sheet.mark}{n:02d}"} | row for n, row in enumerate(fields, start=1)]
    shapes = to_national_grid([row["geometry"] for row in sheet.rows])
    table = geopandas.GeoDataFrame(rows, geometry=shapes, crs=NATIONAL_GRID).round(9)
    return table if sheet.crs == NATIONAL_GRID else table.to_crs(reference_system(sheet.crs))


def write(sheet: Sheet, folder: Path) -> None:
    """Write one layer."""
    table, path = frame(sheet), folder / sheet.file
    if path.suffix == ".gpkg":
        table.to_file(path, layer=sheet.name, driver="GPKG", engine="pyogrio")
        return
    table.to_file(
        path,
        driver="ESRI Shapefile",
        engine="pyogrio",
        encoding="UTF-8",
        layer_options={"DBF_DATE_LAST_UPDATE": WRITTEN_ON},
    )


def toml_value(value: str | float) -> str:
    """A value as TOML."""
    return f'"{value}"' if isinstance(value, str) else repr(value)


def site_file(layers: list[Sheet]) -> str:
    """The text of the site file."""
    lines = [
        f"# {PLACE}: an invented place. Written by make_sample.py.",
        f'name = "{PLACE}"',
        "",
        "[plane]",
        'crs = "auto"',
        'base_line = "auto"         # the straight south side, bearing 78 degrees',
        "",
        "[levels]",
        'unit = "m"',
        'drawn_in_place = "lowest"',
        "",
        "[view]",
        'kind = "planometric"',
        "turn = 60",
        "height_factor = 1.0",
        "",
        "[sheet]",
        'size = "A3"',
        "scale = 200",
        f'title = "{TITLE}"',
    ]
    for sheet in layers:
        keys: dict[str, Any] = {"name": sheet.name, "source": sheet.file}
        if sheet.source:
            keys["table"] = sheet.name
        keys |= {"role": sheet.role, "id": "feat_id"} | sheet.keys
        lines += ["", "[[layer]]", *(f"{key} = {toml_value(value)}" for key, value in keys.items())]
    return "\n".join(lines) + "\n"


def make(out: Path) -> Path:
    """Write the whole site into a folder of its own under *out* and return that folder."""
    folder = out / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{WRITTEN_ON}T09:00:00.000Z"})
    layers = sheets()
    for name in sorted({sheet.file for sheet in layers}):
        (folder / name).unlink(missing_ok=True)
    for sheet in layers:
        write(sheet, folder)
    (folder / "site.toml").write_text(site_file(layers), encoding="utf-8", newline="\n")
    return folder


def main() -> None:
    """Write the sample and say what was written."""
    parser = argparse.ArgumentParser(description=f"Write the sample site, {PLACE}.")
    parser.add_argument("--out", type=Path, default=Path(__file__).resolve().parent, help="parent folder")
    folder = make(parser.parse_args().out)
    for sheet in sheets():
        print(f"{sheet.name:12s}{sheet.role:12s}{len(sheet.rows):4d}  {sheet.file}")
    print(f"{sum(len(sheet.rows) for sheet in sheets())} features in {folder}")


if __name__ == "__main__":
    main()
