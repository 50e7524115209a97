"""
Write the sample site: Wrenlow Quarry Garden, as a surveyor and a designer would hand it over.

Wrenlow is our own invention, and so is everything in it: a small public garden on the ledges
of a worked-out limestone quarry, with its old lime kiln and the meadow around it. Its coordinates
lie in open water, so that it stands on nobody's land. The data are licensed like the library (MIT).

The hand-over has five sources:

- the works in shapefiles on the British National Grid, in metres;
- trees fixed by satellite, areas for people and notes, in WGS 84 longitude and latitude;
- the kiln from an old measured survey, on the National Grid in feet, with levels in feet;
- the surfaces in one GeoPackage with a table each, and the meadow in another;
- levels of the quarry floor, and of the foot of the field, as plain ASCII grids.

A style of its own says how brick in basket weave is laid.

Run ``python sample_data/make_sample.py`` to write the folder ``wrenlow`` beside this file, or
``--out FOLDER`` to write it elsewhere. The same versions of the libraries write the same bytes.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas
import pyogrio
import pyproj
from groundwork import works
from listing import GRID_IN_FEET, NATIONAL_GRID, Sheet, sheets
from meadow import floor_level, foot, hill, meadow_level
from setting_out import from_national_grid, to_national_grid
from shapely import Point, Polygon

PLACE = "Wrenlow Quarry Garden"
TITLE = "Terraces in an old quarry, and the meadow above"
FOLDER = "wrenlow"
WRITTEN_ON = "2025-03-03"  # a fixed date, so that the files can be made again byte for byte
NO_DATA = -9999
STYLE = "bonds.toml"
BONDS = """\
# How materials are laid that Wrenlow names and the library does not know.

[patterns.weave]
flat = { pattern = "basket weave", length = 0.3, width = 0.15 }
"""


@dataclass(frozen=True, kw_only=True)
class Grid:
    """Levels on a grid: where they are known, what they are, and how far apart they lie [m]."""

    area: Polygon
    level: Callable[[float, float], float]
    cell: float


def grids() -> dict[str, Grid]:
    """Grids of levels by name."""
    floor = works().buffer(3.0) - hill().buffer(1.6)
    return {
        "floor": Grid(area=floor, level=floor_level, cell=3.0),
        "foot": Grid(area=foot(), level=meadow_level, cell=1.0),
    }


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


def write_grid(grid: Grid, path: Path) -> None:
    """Write levels as an ASCII grid; what lies outside its area has none."""
    cell = grid.cell
    (outline,) = to_national_grid([grid.area])
    left, bottom, right, top = outline.bounds
    left, bottom = cell * (left // cell), cell * (bottom // cell)
    columns, rows = int((right - left) // cell) + 1, int((top - bottom) // cell) + 1
    lines = [f"ncols {columns}", f"nrows {rows}", f"xllcorner {left:.0f}", f"yllcorner {bottom:.0f}"]
    lines += [f"cellsize {cell:.0f}", f"nodata_value {NO_DATA}"]
    for row in range(rows):
        y = bottom + cell * (rows - 0.5 - row)
        places = from_national_grid([Point(left + cell * (k + 0.5), y) for k in range(columns)])
        levels = [round(grid.level(p.x, p.y), 2) if grid.area.contains(p) else NO_DATA for p in places]
        lines.append(" ".join(f"{level:g}" for level in levels))
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


def write(sheet: Sheet, folder: Path) -> None:
    """Write one layer."""
    table, path = frame(sheet), folder / sheet.file
    if path.suffix == ".gpkg":
        table.to_file(path, layer=sheet.name, driver="GPKG", engine="pyogrio")
        return
    if path.suffix == ".geojson":
        table.to_file(path, driver="GeoJSON", engine="pyogrio", layer_options={"COORDINATE_PRECISION": 9})
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
        f'style = "{STYLE}"',
        "",
        "[plane]",
        'crs = "auto"',
        'base_line = "auto"         # the straight south side, bearing 78 degrees',
        "",
        "[levels]",
        'unit = "m"',
        'drawn_in_place = "lowest"',
        "contour_interval = 0.5",
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
        if sheet.file.endswith(".gpkg"):
            keys["table"] = sheet.name
        keys |= {"role": sheet.role, "id": "feat_id"} | sheet.keys
        lines += ["", "[[layer]]", *(f"{key} = {toml_value(value)}" for key, value in keys.items())]
    for name in grids():
        lines += ["", "[[layer]]", f'name = "{name}"', f'source = "{name}.asc"']
        lines += [f'crs = "{NATIONAL_GRID}"', 'role = "spot level"']
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
    for name, grid in grids().items():
        write_grid(grid, folder / f"{name}.asc")
    (folder / STYLE).write_text(BONDS, encoding="utf-8", newline="\n")
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
