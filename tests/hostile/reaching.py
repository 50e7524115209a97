"""
Files and paths that try to reach beyond themselves: to addresses, and to other files.

``attempts`` makes each of them; a listener on the loopback interface counts what asks for
something, and a secret outside the folder must show up nowhere.
"""

from __future__ import annotations

import http.server
import json
import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import siteaxo
from siteaxo.errors import SiteaxoError

from .making import beds, frame, geojson, replaced, site, sql

SECRET = "SECRET-4711-nightingale"


class _Handler(http.server.BaseHTTPRequestHandler):
    """Notes every request and has nothing."""

    def do_GET(self) -> None:
        self.server.asked.append(self.path)  # type: ignore[attr-defined]
        self.send_error(404)

    do_HEAD = do_POST = do_PUT = do_OPTIONS = do_GET  # noqa: N815 - the names are the library's

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


@contextmanager
def listener() -> Iterator[tuple[str, list[str]]]:
    """Listen on the loopback interface; hands out the address and a list of what is asked for."""
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Handler) as server:
        server.asked = []  # type: ignore[attr-defined]
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}", server.asked  # type: ignore[attr-defined]
        server.shutdown()


def secrets(folder: Path) -> Path:
    """Files outside that nobody is to read."""
    outside = folder / "outside"
    outside.mkdir()
    (outside / "secret.txt").write_text(f"{SECRET}\n", encoding="utf-8")
    (outside / "secret.toml").write_text(f'name = "{SECRET}"\n', encoding="utf-8")
    frame(mat=[SECRET] * 5).to_file(outside / "secret.shp")
    frame(mat=[SECRET] * 5).to_file(outside / "secret.gpkg", engine="pyogrio")
    return outside


Attempt = Callable[[Path, str, Path], Any]


def attempts() -> dict[str, Attempt]:
    """All attempts: each writes into a folder and returns changes to the layer, or a whole site file."""
    found: dict[str, Attempt] = {}
    for name, crs in _CRS.items():
        found[f"GeoJSON, {name}"] = lambda f, u, o, crs=crs: geojson(
            f, lambda top: top.__setitem__("crs", _filled(crs, u, o))
        )
        found[f"GeoJSON, {name}, escaped"] = lambda f, u, o, crs=crs: geojson(
            f,
            lambda top: json.dumps({**top, "crs": _filled(crs, u, o)}).replace('"crs"', '"\\u0063rs"'),
        )
        found[f"GeoJSON, {name}, in a feature"] = lambda f, u, o, crs=crs: geojson(
            f, lambda top: top["features"][0].__setitem__("crs", _filled(crs, u, o))
        )
    for suffix in (".gml", ".geojson", ".shp", ".gpkg", ".fgb", ".zip", ".json", ".asc"):
        for name, text in _TEXTS.items():
            found[f"{suffix[1:]} that is {name}"] = lambda f, u, o, s=suffix, t=text: _text(f, s, t, u, o)
    for name, (old, new) in _GML.items():
        found[f"GML, {name}"] = lambda f, u, o, old=old, new=new: _gml(f, old, new.format(u=u, o=o))
    for name, statements in _SQL.items():
        found[f"GeoPackage, {name}"] = lambda f, u, o, statements=statements: _gpkg(f, statements, u, o)
    for name, source in _SOURCES.items():
        found[f"source, {name}"] = lambda f, u, o, source=source: {"source": source.format(u=u, o=o)}
    for name, crs in _NAMES.items():
        found[f"crs, {name}"] = lambda f, u, o, crs=crs: _with_crs(f, crs.format(u=u, o=o))
        found[f"plane, {name}"] = lambda f, u, o, crs=crs: (
            f"[plane]\ncrs = {json.dumps(crs.format(u=u, o=o))}\n" + _beds(f)
        )
        found[f"prj, {name}"] = lambda f, u, o, crs=crs: _prj(f, crs.format(u=u, o=o))
    found["style outside"] = lambda f, u, o: f'style = "../outside/secret.toml"\n{_beds(f)}'
    found["style by a link"] = lambda f, u, o: _linked(f, o / "secret.toml", "s.toml", 'style = "s.toml"\n')
    found["layer by a link"] = lambda f, u, o: (
        _linked(f, o / "secret.gpkg", "beds.gpkg", "") and {"source": "beds.gpkg"}
    )
    found["attributes by a link"] = _linked_parts
    return found


_CRS: dict[str, Any] = {
    "a linked CRS": {"type": "link", "properties": {"href": "{u}/crs", "type": "proj4"}},
    "a CRS by URL": {"type": "url", "properties": {"url": "{u}/crs"}},
    "a CRS named by an address": {"type": "name", "properties": {"name": "{u}/crs"}},
    "a CRS named by a virtual path": {"type": "name", "properties": {"name": "/vsicurl/{u}/crs"}},
    "a CRS named by a file": {"type": "name", "properties": {"name": "{o}/secret.txt"}},
}
_VRT = (
    "<OGRVRTDataSource><OGRVRTLayer name='beds'><SrcDataSource>{}</SrcDataSource>"
    "</OGRVRTLayer></OGRVRTDataSource>"
)
_TEXTS = {
    "a list of files at an address": _VRT.format("/vsicurl/{u}/beds.shp"),
    "a list of files outside": _VRT.format("{o}/secret.shp"),
    "a list after a declaration": "<?xml version='1.0'?>\n<!-- x -->\n" + _VRT.format("{o}/secret.shp"),
    "a list after much white space": " " * 3000 + _VRT.format("{o}/secret.shp"),
    "a service": "<OGRWFSDataSource><URL>{u}/wfs</URL></OGRWFSDataSource>",
    "a map service": "<GDAL_WMS><Service name='WMS'><ServerUrl>{u}/wms</ServerUrl></Service></GDAL_WMS>",
    "a pipeline": '{{"type": "gdal_streamed_alg", "command_line": "gdal vector read {o}/secret.shp"}}',
    "a pipeline with spaces": '{{ "type" : "gdal_streamed_alg", "command_line": "gdal vector read {u}/a" }}',
    "a catalogue": '{{"stac_version": "1.0.0", "type": "FeatureCollection", "features": [], '
    '"links": [{{"href": "{u}/a"}}]}}',
    "an address": "{u}/beds.geojson",
    "a connection": "PG:host=127.0.0.1 port=1 dbname=x",
    "features of places elsewhere": '{{"type": "FeatureCollection", "features": [], "coordRefSys": '
    '"{u}/crs", "conformsTo": ["http://www.opengis.net/spec/json-fg-1/0.2/conf/core"]}}',
}
_ROOT = "<ogr:FeatureCollection"
_GML = {
    "a schema at an address": ('xsi:schemaLocation="', 'xsi:schemaLocation="http://x {u}/a.xsd '),
    "a schema by a virtual path": (
        'xsi:schemaLocation="',
        'xsi:schemaLocation="http://x /vsicurl/{u}/a.xsd ',
    ),
    "a schema outside": ('xsi:schemaLocation="', 'xsi:schemaLocation="http://x {o}/secret.txt '),
    "an entity at an address": (_ROOT, '<!DOCTYPE x [<!ENTITY e SYSTEM "{u}/e">]>' + _ROOT),
    "an entity outside": (_ROOT, '<!DOCTYPE x [<!ENTITY e SYSTEM "{o}/secret.txt">]>' + _ROOT),
    "a document type at an address": (_ROOT, '<!DOCTYPE x SYSTEM "{u}/x.dtd">' + _ROOT),
    "an include": (_ROOT, '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="{u}/x"/>' + _ROOT),
    "a stylesheet": (_ROOT, '<?xml-stylesheet href="{u}/x.xsl"?>' + _ROOT),
    "a geometry elsewhere": (
        "<ogr:geometryProperty>",
        '<ogr:geometryProperty xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="{u}/g#a">',
    ),
    "a CRS at an address": ("urn:ogc:def:crs:EPSG::25832", "{u}/crs"),
    "a CRS outside": ("urn:ogc:def:crs:EPSG::25832", "{o}/secret.txt"),
    "a list in a comment": (_ROOT, "<!-- " + _VRT.format("/vsicurl/{u}/v") + " -->" + _ROOT),
}
_ASK = "ogr_geocode('x', 'raw', 'SERVICE=x', 'QUERY_TEMPLATE={u}/%s')"
_REGISTERED = (
    "INSERT INTO gpkg_contents SELECT 'v', data_type, 'v', description, last_change, min_x, min_y, max_x, "
    "max_y, srs_id FROM gpkg_contents",
    "INSERT INTO gpkg_geometry_columns SELECT 'v', column_name, geometry_type_name, srs_id, z, m "
    "FROM gpkg_geometry_columns",
)
_SQL: dict[str, tuple[str, ...]] = {
    "a view that asks": (f"CREATE VIEW v AS SELECT fid, geom, nr, {_ASK} AS lvl FROM beds", *_REGISTERED),
    "a trigger that asks": (f"CREATE TRIGGER t AFTER INSERT ON beds BEGIN SELECT {_ASK}; END",),
    "a computed column that asks": (f"ALTER TABLE beds ADD COLUMN up TEXT AS ({_ASK}) VIRTUAL",),
    "a catalogue that asks": (
        "ALTER TABLE gpkg_contents RENAME TO c",
        f"CREATE VIEW gpkg_contents AS SELECT table_name, data_type, {_ASK} AS identifier, description, "
        "last_change, min_x, min_y, max_x, max_y, srs_id FROM c",
    ),
    "a view that loads": ("CREATE VIEW v AS SELECT load_extension('{o}/secret.txt') AS lvl", *_REGISTERED),
    "a view of a file": (
        "CREATE VIEW v AS SELECT fid, geom, nr, readfile('{o}/secret.txt') AS lvl FROM beds",
        *_REGISTERED,
    ),
}
_SOURCES = {
    "an address": "{u}/beds.geojson",
    "a virtual path": "/vsicurl/{u}/beds.geojson",
    "a virtual path in an archive": "/vsizip//vsicurl/{u}/beds.zip/beds.shp",
    "a virtual path of options": "/vsicurl?url={u}/beds.gpkg",
    "a file outside": "{o}/secret.gpkg",
    "a file upwards": "../outside/secret.gpkg",
    "a file upwards in a detour": "x/../../outside/secret.gpkg",
    "a connection": "PG:host=127.0.0.1 dbname=x",
    "a driver's prefix": "GeoJSON:{u}/beds.geojson",
    "a way into an archive": "x!../outside/secret.gpkg",
    "a zip address": "zip://../outside/secret.gpkg",
    "a zip with an address": "zip+{u}/beds.zip",
}
_NAMES = {
    "an address": "{u}/crs",
    "a file outside": "{o}/secret.txt",
    "a file with an at": "@{o}/secret.txt",
    "an init file": "+init={o}/secret.txt:x",
    "a grid at an address": "+proj=utm +zone=32 +ellps=GRS80 +nadgrids={u}/grid.tif",
    "a grid by a virtual path": "+proj=utm +zone=32 +ellps=GRS80 +nadgrids=/vsicurl/{u}/grid.tif",
    "a grid outside": "+proj=utm +zone=32 +ellps=GRS80 +nadgrids={o}/secret.txt",
    "a pipeline": "+proj=pipeline +step +proj=hgridshift +grids={u}/grid.tif",
    "a grid of no kind": "+proj=longlat +ellps=GRS80 +nadgrids={u}/x +type=crs",
    "a grid that may be missing": "+proj=utm +zone=32 +ellps=GRS80 +nadgrids=@{u}/x,null +type=crs",
    "a grid of heights": "+proj=utm +zone=32 +datum=WGS84 +geoidgrids={u}/x.gtx +vunits=m +type=crs",
    "a pipeline as a CRS": "+proj=pipeline +step +proj=utm +zone=32 +ellps=GRS80 +nadgrids={u}/x +type=crs",
    **{
        f"a pipeline of steps, {step.split()[0]}": "+proj=pipeline +step +proj=unitconvert +xy_in=deg "
        f"+xy_out=rad +step +proj={step} +step +proj=utm +zone=32 +ellps=GRS80"
        for step in (
            "gridshift +grids={u}/x",
            "hgridshift +grids={u}/x",
            "vgridshift +grids={u}/x",
            "xyzgridshift +grids={u}/x",
            "tinshift +file={u}/x",
            "defmodel +model={u}/x",
            "deformation +t_epoch=2000 +grids={u}/x",
        )
    },
}


def _filled(thing: Any, url: str, outside: Path) -> Any:
    return json.loads(json.dumps(thing).replace("{u}", url).replace("{o}", str(outside)))


def _text(folder: Path, suffix: str, text: str, url: str, outside: Path) -> dict[str, Any]:
    (folder / f"beds{suffix}").write_text(text.format(u=url, o=outside), encoding="utf-8")
    role = {"role": "spot level", "id": None, "top": None, "base": None} if suffix == ".asc" else {}
    return {"source": f"beds{suffix}", **role}


def _gml(folder: Path, old: str, new: str) -> dict[str, Any]:
    path = beds(folder, ".gml")
    replaced(path, old, new, count=-1)
    return {"source": "beds.gml"}


def _gpkg(folder: Path, statements: tuple[str, ...], url: str, outside: Path) -> dict[str, Any]:
    path = beds(folder, ".gpkg")
    sql(path, *(one.replace("{u}", url).replace("{o}", str(outside)) for one in statements), triggers=True)
    return {"source": "beds.gpkg", "table": "v" if "CREATE VIEW v" in statements[0] else None}


def _beds(folder: Path) -> str:
    beds(folder)
    return site({})


def _with_crs(folder: Path, crs: str) -> dict[str, Any]:
    beds(folder)
    return {"crs": crs}


def _prj(folder: Path, text: str) -> dict[str, Any]:
    beds(folder)
    (folder / "beds.prj").write_text(text, encoding="utf-8")
    return {}


def _linked(folder: Path, target: Path, name: str, text: str) -> str:
    if name != "beds.gpkg":
        beds(folder)
    (folder / name).symlink_to(target)
    return text + site({})


def _linked_parts(folder: Path, url: str, outside: Path) -> dict[str, Any]:
    beds(folder)
    for suffix in (".dbf", ".prj", ".cpg"):
        (folder / f"beds{suffix}").unlink(missing_ok=True)
        (folder / f"beds{suffix}").symlink_to(outside / "secret.txt")
    return {"material": "mat"}


def tried(attempt: Attempt, folder: Path, url: str, outside: Path) -> str:
    """
    Make an attempt, read what it made, and return all that was said of it.

    Raises
    ------
    Exception
        If reading it ended in anything but a result or an error of ours.
    """
    made = attempt(folder, url, outside)
    text = made if isinstance(made, str) else site(made or {})
    (folder / "site.toml").write_text(text, encoding="utf-8")
    before = os.getcwd()
    os.chdir(folder)
    try:
        model = siteaxo.read_site(folder / "site.toml").stack()
        said = model.findings.drop(columns="geometry", errors="ignore").to_csv()
        return f"read: {said} {model.draw().faces.drop(columns='geometry').to_csv()}"
    except SiteaxoError as error:
        return f"[{error.code}] {error}"
    finally:
        os.chdir(before)
