"""
What the catalogue of bad inputs is made with: good files to spoil, a site to read them, a judge.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
import struct
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

import siteaxo
from siteaxo.errors import SiteaxoError

CRS = "EPSG:25832"
X, Y = 500_000.0, 5_700_000.0
COUNT = 5
BOXES = [shapely.box(X + 10 * i, Y, X + 10 * i + 5, Y + 5 + i) for i in range(COUNT)]
DRIVERS = {
    ".shp": "ESRI Shapefile",
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
}
SHP_HEADER, RECORD = 100, 8


@dataclass(frozen=True, kw_only=True)
class Case:
    """
    One kind of bad input.

    Parameters
    ----------
    name : str
        What is bad.
    make : callable
        Writes files into a folder and returns changes to the layer, or a whole site file.
    refused : str
        What the error's message must say; "" where it is to be read.
    finding : str
        Code of a finding that must be there; "" where there need be none.
    count : int or None
        How many features must be read.
    """

    name: str
    make: Callable[[Path], Any]
    refused: str = ""
    finding: str = ""
    count: int | None = None


CASES: dict[str, Case] = {}


def case(name: str, *, refused: str = "", finding: str = "", count: int | None = None) -> Callable[..., Any]:
    """Add a function to the catalogue."""

    def add(make: Callable[[Path], Any]) -> Callable[[Path], Any]:
        assert name not in CASES, name
        CASES[name] = Case(name=name, make=make, refused=refused, finding=finding, count=count)
        return make

    return add


def frame(geometry: Any = None, crs: Any = CRS, **columns: Any) -> gpd.GeoDataFrame:
    """Five boxes with an id, a level and a material."""
    shapes = BOXES if geometry is None else geometry
    n = len(shapes)
    data = {"nr": list(range(11, 11 + n)), "lvl": [1.5 + i for i in range(n)], "mat": list("abcdefgh"[:n])}
    return gpd.GeoDataFrame({**data, **columns}, geometry=list(shapes), crs=crs)


def beds(folder: Path, suffix: str = ".shp", **options: Any) -> Path:
    """Write a good file."""
    path = folder / f"beds{suffix}"
    made = frame(**options)
    if suffix == ".geojson" and made.crs is not None:
        made = made.to_crs("EPSG:4326")
    made.to_file(path, driver=DRIVERS[suffix], engine="pyogrio")
    return path


def site(changes: dict[str, Any]) -> str:
    """A site file with one layer."""
    keys = {"name": "beds", "source": "beds.shp", "role": "structure", "id": "nr", "base": 0, "top": "lvl"}
    keys = {key: value for key, value in {**keys, **changes}.items() if value is not None}
    lines = [f"{key} = {json.dumps(value, ensure_ascii=True)}" for key, value in keys.items()]
    return "[[layer]]\n" + "\n".join(lines) + "\n"


def judge(one: Case, folder: Path) -> str:
    """
    Make a case, read and stack it, and say what is wrong with how it ended.

    Returns
    -------
    str
        "" where it ended as it should.
    """
    made = one.make(folder)
    if isinstance(made, bytes):
        (folder / "site.toml").write_bytes(made)
    else:
        text = made if isinstance(made, str) else site(made or {})
        (folder / "site.toml").write_text(text, encoding="utf-8")
    try:
        model = siteaxo.read_site(folder / "site.toml").stack()
    except SiteaxoError as error:
        return _judge_refusal(one, error)
    except Exception as fault:
        return f"a traceback: {type(fault).__name__}: {fault}"
    return _judge_reading(one, model)


def _judge_refusal(one: Case, error: SiteaxoError) -> str:
    said = str(error)
    if not one.refused:
        return f"refused [{error.code}]: {said}"
    if not all(part.casefold() in said.casefold() for part in one.refused.split("|")):
        return f"refused, but says: {said}"
    return "" if error.code and error.code != "siteaxo" else "its error has no code"


def _judge_reading(one: Case, model: Any) -> str:
    codes = set(model.findings["code"])
    features = model.stack.features
    if one.refused:
        return f"read, with findings {sorted(codes)}"
    if one.finding and one.finding not in codes:
        return f"no finding {one.finding}, but {sorted(codes)}"
    if one.count is not None and len(features) != one.count:
        return f"{len(features)} features instead of {one.count}"
    finite = np.isfinite(features.base).all() and np.isfinite(features.top).all()
    return "" if finite and np.isfinite(model.stack.scene.faces.xyz).all() else "not finite"


def patch(path: Path, at: int, layout: str, *values: Any) -> None:
    """Write numbers into the middle of a file."""
    content = bytearray(path.read_bytes())
    struct.pack_into(layout, content, at if at >= 0 else len(content) + at, *values)
    path.write_bytes(content)


def record(folder: Path, number: int) -> int:
    """Where a shape record of the shapefile begins, after its header."""
    shx = (folder / "beds.shx").read_bytes()
    return struct.unpack_from(">i", shx, SHP_HEADER + 8 * number)[0] * 2 + RECORD


def cut(path: Path, share: float) -> None:
    """Cut a file short."""
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])


def replaced(path: Path, old: str, new: str, count: int = 1) -> None:
    """Change a text file."""
    text = path.read_text(encoding="utf-8")
    assert old in text, old
    path.write_text(text.replace(old, new, count), encoding="utf-8")


def sql(path: Path, *statements: str, triggers: bool = False) -> None:
    """Change a GeoPackage, without its triggers unless they are wanted."""
    with contextlib.closing(sqlite3.connect(path)) as base:
        if not triggers:
            rows = base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
            statements = (*(f'DROP TRIGGER "{name}"' for (name,) in rows), *statements)
        for statement in statements:
            base.execute(statement)
        base.commit()


def zipped(
    folder: Path, *, name: str = "beds.zip", inside: str = "", packed: int = zipfile.ZIP_DEFLATED
) -> Path:
    """Pack the shapefile."""
    with zipfile.ZipFile(folder / name, "w", packed) as archive:
        for part in sorted(folder.glob("beds.*")):
            if part.suffix in (".shp", ".shx", ".dbf", ".prj", ".cpg"):
                archive.write(part, inside + part.name)
    return folder / name


def geojson(
    folder: Path, change: Callable[[dict[str, Any]], Any] | None = None, name: str = "beds.geojson"
) -> Any:
    """Write GeoJSON after a change to it."""
    top = json.loads(frame().to_crs("EPSG:4326").to_json())
    changed = change(top) if change else None
    text = changed if isinstance(changed, str) else json.dumps(top if changed is None else changed)
    (folder / name).write_text(text, encoding="utf-8")
    return {"source": name}
