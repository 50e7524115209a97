"""Bad GeoPackages, GeoJSON, GML and FlatGeobuf files, and files that are something else."""

from __future__ import annotations

import os
import socket
import sqlite3
import struct
from contextlib import closing

from .making import DRIVERS, X, Y, beds, case, cut, frame, geojson, patch, replaced, sql

# GeoPackages

_HEAD = b"GP\x00\x01" + struct.pack("<i", 25832)
_RING = [(X + 20, Y), (X + 25, Y), (X + 25, Y + 5), (X + 20, Y + 5), (X + 20, Y)]
_ARC = [(X + 20, Y), (X + 25, Y + 5), (X + 30, Y), (X + 25, Y - 5), (X + 20, Y)]


def _wkb(kind, body):
    return struct.pack("<BI", 1, kind) + body


def _points(points):
    return struct.pack("<I", len(points)) + b"".join(struct.pack(f"<{len(p)}d", *p) for p in points)


CURVE = (_HEAD + _wkb(10, struct.pack("<I", 1) + _wkb(8, _points(_ARC)))).hex()
_CORNERS = [(x, y, 3.0) for x, y in (*_RING[:3], _RING[0])]
TRIANGLES = (
    _HEAD + _wkb(1016, struct.pack("<I", 1) + _wkb(1017, struct.pack("<I", 1) + _points(_CORNERS)))
).hex()
MEASURED = (_HEAD + _wkb(2003, struct.pack("<I", 1) + _points([(*p, 7.0) for p in _RING]))).hex()


def _gpkg(name, *statements, layer=None, triggers=False, **expected):
    @case(f"GeoPackage: {name}", **expected)
    def _(f):
        beds(f, ".gpkg", crs="EPSG:25832")
        sql(f / "beds.gpkg", *statements, triggers=triggers)
        return {"source": "beds.gpkg", **(layer or {})}


_VIEW = (
    "CREATE VIEW v AS SELECT fid, geom, nr, lvl FROM beds",
    "INSERT INTO gpkg_contents SELECT 'v', data_type, 'v', description, last_change, min_x, min_y, max_x, "
    "max_y, srs_id FROM gpkg_contents WHERE table_name = 'beds'",
    "INSERT INTO gpkg_geometry_columns SELECT 'v', column_name, geometry_type_name, srs_id, z, m "
    "FROM gpkg_geometry_columns",
)
_OTHER = (
    "CREATE TABLE other AS SELECT * FROM beds",
    "INSERT INTO gpkg_contents SELECT 'other', data_type, 'o', description, last_change, min_x, min_y, "
    "max_x, max_y, srs_id FROM gpkg_contents WHERE table_name = 'beds'",
    "INSERT INTO gpkg_geometry_columns SELECT 'other', column_name, geometry_type_name, srs_id, z, m "
    "FROM gpkg_geometry_columns",
)
_gpkg("a view beside the table", *_VIEW, count=5)
_gpkg("a view that is asked for", *_VIEW, layer={"table": "v"}, refused="is a view|Only tables")
_gpkg("two tables and none named", *_OTHER, refused="several tables: beds, other")
_gpkg("a table that is not there", layer={"table": "bedz"}, refused="Did you mean 'beds'")
_gpkg(
    "a computed column", "ALTER TABLE beds ADD COLUMN up REAL AS (lvl * 2) VIRTUAL", refused="'up'|computed"
)
_gpkg(
    "a catalogue that is a view",
    "ALTER TABLE gpkg_contents RENAME TO c",
    "CREATE VIEW gpkg_contents AS SELECT * FROM c",
    refused="gpkg_contents as a view",
)
_gpkg("no catalogue", "DROP TABLE gpkg_contents", refused="no gpkg_contents")
_gpkg("no geometry columns", "DROP TABLE gpkg_geometry_columns", refused="no gpkg_geometry_columns")
_gpkg("no reference systems", "DROP TABLE gpkg_spatial_ref_sys", refused="no gpkg_spatial_ref_sys")
_gpkg("an empty catalogue", "DELETE FROM gpkg_contents", refused="no table with a geometry")
_gpkg(
    "a catalogue that names a table that is not there", "DROP TABLE beds", refused="no table with a geometry"
)
_gpkg(
    "an unknown reference system",
    "UPDATE gpkg_geometry_columns SET srs_id = 999999",
    "UPDATE gpkg_contents SET srs_id = 999999",
    refused="beds",
)
_gpkg(
    "the undefined reference system",
    "UPDATE gpkg_geometry_columns SET srs_id = -1",
    "UPDATE gpkg_contents SET srs_id = -1",
    refused="beds",
)
_gpkg("a text for a level", "UPDATE beds SET lvl = 'see plan' WHERE nr = 13", refused="lvl|13|see plan")
_gpkg(
    "a level with a null in it", "UPDATE beds SET lvl = '3' || char(0) || '4' WHERE nr = 13", refused="lvl|13"
)
_gpkg("an infinite level", "UPDATE beds SET lvl = 9e999 WHERE nr = 13", refused="lvl|13|inf")
_gpkg("no level for one", "UPDATE beds SET lvl = NULL WHERE nr = 13", finding="no-level", count=4)
_gpkg("no level for any", "UPDATE beds SET lvl = NULL", refused="none of its 5 features has a level")
_gpkg("-9999 for a level", "UPDATE beds SET lvl = -9999 WHERE nr = 13", finding="sentinel-level", count=4)
_gpkg("a level of 1e30", "UPDATE beds SET lvl = 1e30 WHERE nr = 13", finding="sentinel-level", count=4)
_gpkg("a level of 1e25", "UPDATE beds SET lvl = 1e25 WHERE nr = 13", refused="beds|13")
_gpkg("a blob for a level", "UPDATE beds SET lvl = x'0102' WHERE nr = 13", refused="lvl|13|0102")
_gpkg("no id for one", "UPDATE beds SET nr = NULL WHERE nr = 13", finding="missing-id", count=5)
_gpkg("an id of 63 ones", "UPDATE beds SET nr = (1 << 63) - 1 WHERE nr = 13", finding="inexact-id", count=5)
_gpkg("a top below its base", "UPDATE beds SET lvl = -3 WHERE nr = 13", refused="its top below its base|13")
_gpkg(
    "a geometry of rubbish",
    "UPDATE beds SET geom = x'47500001' WHERE nr = 13",
    finding="broken-record",
    count=4,
)
_gpkg(
    "a geometry cut short",
    "UPDATE beds SET geom = substr(geom, 1, 60) WHERE nr = 13",
    finding="broken-record",
    count=4,
)
_gpkg(
    "a geometry of text", "UPDATE beds SET geom = 'POLYGON' WHERE nr = 13", finding="broken-record", count=4
)
_gpkg(
    "a geometry of a million bytes of nothing",
    "UPDATE beds SET geom = zeroblob(1000000) WHERE nr = 13",
    finding="broken-record",
    count=4,
)
_gpkg("a curved polygon", f"UPDATE beds SET geom = x'{CURVE}' WHERE nr = 13", count=5)
_gpkg(
    "a surface of triangles",
    f"UPDATE beds SET geom = x'{TRIANGLES}' WHERE nr = 13",
    finding="broken-record",
    count=4,
)
_gpkg("measures", f"UPDATE beds SET geom = x'{MEASURED}' WHERE nr = 13", count=5)
_gpkg(
    "a point of nothing",
    "UPDATE beds SET geom = x'475000010000000001010000000000000000000000' WHERE nr = 13",
    finding="broken-record",
    count=4,
)
_gpkg(
    "a trigger that deletes",
    "CREATE TRIGGER t AFTER INSERT ON beds BEGIN DELETE FROM beds; END",
    triggers=True,
    count=5,
)
_gpkg(
    "a name with quotes in it",
    'ALTER TABLE beds RENAME TO "be""ds; --"',
    "UPDATE gpkg_contents SET table_name = 'be\"ds; --'",
    "UPDATE gpkg_geometry_columns SET table_name = 'be\"ds; --'",
    count=5,
)
_gpkg("a spatial index of another table", "DELETE FROM gpkg_extensions", count=5)
_gpkg(
    "no primary key",
    "CREATE TABLE b2 AS SELECT geom, nr, lvl FROM beds",
    "DROP TABLE beds",
    "ALTER TABLE b2 RENAME TO beds",
    count=5,
)


@case("GeoPackage: another kind of database", refused="a database but no GeoPackage")
def _(f):
    with closing(sqlite3.connect(f / "beds.gpkg")) as base:
        base.execute("CREATE TABLE beds (a)")
        base.commit()
    return {"source": "beds.gpkg"}


for _share in (0.1, 0.5, 0.9):

    @case(f"GeoPackage: cut to {_share:.0%}", refused="beds.gpkg cannot be read")
    def _(f, share=_share):
        cut(beds(f, ".gpkg"), share)
        return {"source": "beds.gpkg"}


@case("GeoPackage: pages of zeros", refused="beds.gpkg cannot be read")
def _(f):
    path = beds(f, ".gpkg")
    content = path.read_bytes()
    path.write_bytes(content[:100] + bytes(len(content) - 100))
    return {"source": "beds.gpkg"}


@case("GeoPackage: an unfinished transaction beside it", refused="beds.gpkg cannot be read")
def _(f):
    path = beds(f, ".gpkg")
    (f / "beds.gpkg-journal").write_bytes(
        bytes.fromhex("d9d505f920a163d7") + b"\x00\x00\x00\x01" + bytes(600)
    )
    cut(path, 0.6)
    return {"source": "beds.gpkg"}


# GeoJSON


def _json(name, change, layer=None, **expected):
    @case(f"GeoJSON: {name}", **expected)
    def _(f):
        return {**geojson(f, change), **(layer or {})}


def _set(place, key, value):
    def change(top):
        (top if place is None else top["features"][place])[key] = value

    return change


def _crs(kind, **properties):
    return _set(None, "crs", {"type": kind, "properties": properties})


_json("as it should be", None, count=5)
_json("a linked CRS", _crs("link", href="http://127.0.0.1:9/a"), refused="not named by a code")
_json("a CRS by URL", _crs("url", url="http://127.0.0.1:9/a"), refused="not named by a code")
_json("a CRS named by an address", _crs("name", name="http://127.0.0.1:9/a"), refused="not named by a code")
_json("a CRS named by a file", _crs("name", name="/etc/passwd"), refused="not named by a code")
_json("a CRS that is a number", _set(None, "crs", 4326), refused="not named by a code")
_json("a CRS nobody knows", _crs("name", name="urn:ogc:def:crs:EPSG::999999"), refused="not known|999999")
_json(
    "a CRS for one feature only",
    _set(2, "crs", {"type": "name", "properties": {"name": "EPSG:25832"}}),
    refused="several|UTM zone 32N",
)
_json("a feature with a linked CRS", _set(2, "crs", {"type": "link"}), refused="not named by a code")
_json("a geometry that is missing", _set(2, "geometry", None), finding="no-geometry", count=4)
_json("a geometry that is a text", _set(2, "geometry", "POINT (1 2)"), finding="broken-record", count=4)
_json(
    "a geometry of an unknown type",
    _set(2, "geometry", {"type": "Blob", "coordinates": []}),
    finding="broken-record",
    count=4,
)
_json(
    "a geometry without coordinates",
    _set(2, "geometry", {"type": "Polygon"}),
    finding="broken-record",
    count=4,
)
_json(
    "coordinates that are texts",
    _set(2, "geometry", {"type": "Polygon", "coordinates": [[["a", "b"]] * 4]}),
    finding="broken-record",
    count=4,
)
_json(
    "coordinates that are null",
    _set(2, "geometry", {"type": "Polygon", "coordinates": [[[None, None]] * 4]}),
    finding="broken-record",
    count=4,
)
_json(
    "coordinates nested too deeply",
    _set(2, "geometry", {"type": "Polygon", "coordinates": [[[[1, 2]]]]}),
    finding="broken-record",
    count=4,
)
_json(
    "a ring of two points",
    _set(2, "geometry", {"type": "Polygon", "coordinates": [[[9.0, 51.45], [9.0001, 51.45]]]}),
    count=4,
)
_json("an empty ring", _set(2, "geometry", {"type": "Polygon", "coordinates": [[]]}), count=4)
_json("properties that are null", _set(2, "properties", None), refused="", finding="no-level", count=4)
_json("properties that are a list", _set(2, "properties", [1]), finding="no-level", count=4)
_json("an entry that is no feature", lambda top: top["features"].__setitem__(2, 7), refused="number 2")
_json("an entry that is null", lambda top: top["features"].__setitem__(2, None), refused="number 2")
_json("no features", _set(None, "features", []), refused="beds")
_json("features that are a text", _set(None, "features", "x"), refused="no list of features")
_json("cut short", lambda top: __import__("json").dumps(top)[:-40], refused="no whole GeoJSON")
_json("two files in one", lambda top: __import__("json").dumps(top) * 2, refused="no whole GeoJSON")
_json("a list", lambda top: "[1, 2]", refused="does not begin like")
_json("an object of another kind", lambda top: '{"a": 1}', refused="no GeoJSON")
_json("a topology", lambda top: '{"type": "Topology", "objects": {}, "arcs": []}', refused="no GeoJSON")
_json(
    "a pipeline",
    lambda top: '{"type": "gdal_streamed_alg", "command_line": "x"}',
    refused="points to other data",
)
_json(
    "features with places of their own",
    _set(None, "coordRefSys", "http://127.0.0.1:9/x"),
    refused="no plain GeoJSON",
)
_json("a hundred thousand brackets", lambda top: '{"type": ' + "[" * 100_000, refused="nested too deeply")
_json(
    "a level as text",
    lambda top: top["features"][2]["properties"].update(lvl="1_000"),
    refused="lvl|13|1_000",
)
_json(
    "a level of a thousand digits",
    lambda top: __import__("json").dumps(top).replace("3.5", "9" * 1000),
    refused="beds",
)
_json("a level of 1e999", lambda top: __import__("json").dumps(top).replace("3.5", "1e999"), refused="beds")
_json(
    "a level that is a list",
    lambda top: top["features"][2]["properties"].update(lvl=[1, 2]),
    refused="lvl|13",
)
_json(
    "a level that is true",
    lambda top: [one["properties"].update(lvl=True) for one in top["features"]] and None,
    refused="lvl",
)
_json("ids that are lists", lambda top: top["features"][2]["properties"].update(nr=[1, {"a": 2}]), count=5)
_json(
    "degrees beyond the poles",
    lambda top: __import__("json").dumps(top).replace("51.4", "151.4"),
    refused="beds",
)


@case("GeoJSON: written in Latin-1", refused="not written in UTF-8")
def _(f):
    geojson(f)
    text = (f / "beds.geojson").read_text().replace('"a"', '"grès"')
    (f / "beds.geojson").write_bytes(text.encode("latin-1"))
    return {"source": "beds.geojson"}


@case("GeoJSON: a byte order mark before it", count=5)
def _(f):
    geojson(f)
    (f / "beds.geojson").write_bytes(b"\xef\xbb\xbf" + (f / "beds.geojson").read_bytes())
    return {"source": "beds.geojson"}


@case("GeoJSON: written in UTF-16", refused="does not begin like")
def _(f):
    geojson(f)
    (f / "beds.geojson").write_bytes((f / "beds.geojson").read_text().encode("utf-16"))
    return {"source": "beds.geojson"}


# GML


def _gml(name, old, new, **expected):
    @case(f"GML: {name}", **expected)
    def _(f):
        path = beds(f, ".gml")
        (f / "beds.xsd").unlink(missing_ok=True)
        if old:
            replaced(path, old, new)
        return {"source": "beds.gml"}


_ROOT = "<ogr:FeatureCollection"
_gml("as it should be", "", "", count=5)
_gml("a document type", _ROOT, f"<!DOCTYPE x [<!ENTITY e 'e'>]>{_ROOT}", refused="document type")
_gml(
    "an entity from a file",
    _ROOT,
    f'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>{_ROOT}',
    refused="document type",
)
_gml(
    "entities that multiply",
    _ROOT,
    '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>' + _ROOT,
    refused="document type",
)
_gml(
    "a list of other files in a comment",
    _ROOT,
    f"<!-- <OGRVRTDataSource> -->{_ROOT}",
    refused="points to other data",
)
_gml(
    "a service",
    _ROOT,
    f"<OGRWFSDataSource><URL>http://127.0.0.1:9</URL></OGRWFSDataSource>{_ROOT}",
    refused="points to other data",
)
_gml("an element not closed", "</ogr:FeatureCollection>", "", refused="no whole GML")
_gml("an entity nobody declared", "<ogr:lvl>3.5<", "<ogr:lvl>&x;<", refused="no whole GML")
_gml("no namespace of GML", "http://www.opengis.net/gml/3.2", "http://localhost/gml", refused="no GML")
_gml(
    "a schema from elsewhere",
    'xsi:schemaLocation="',
    'xsi:schemaLocation="x http://127.0.0.1:9/a.xsd ',
    count=5,
)
_gml("a level that is a text", "<ogr:lvl>3.5<", "<ogr:lvl>see plan<", refused="lvl|see plan")
_gml("a feature without a geometry", "<ogr:geometryProperty>", "<ogr:x>", refused="no whole GML")
_gml(
    "coordinates that are words",
    "<gml:posList>",
    "<gml:posList>north south ",
    refused="feature 1 has coordinates that are no numbers",
)
_gml("an odd number of coordinates", "<gml:posList>", "<gml:posList>1 ", refused="beds.0")
_gml("a processing instruction", _ROOT, f"<?php system('id'); ?>{_ROOT}", count=5)


@case("GML: a CRS named by an address", refused="which is no code")
def _(f):
    path = beds(f, ".gml")
    replaced(path, "urn:ogc:def:crs:EPSG::25832", "http://127.0.0.1:9/crs", count=-1)
    return {"source": "beds.gml"}


@case("GML: nested a thousand deep", refused="nested too deeply")
def _(f):
    path = beds(f, ".gml")
    replaced(path, "<ogr:featureMember>", "<a>" * 1000 + "</a>" * 1000 + "<ogr:featureMember>")
    return {"source": "beds.gml"}


@case("GML: in an encoding nobody knows", refused="beds.gml")
def _(f):
    replaced(beds(f, ".gml"), 'encoding="utf-8"', 'encoding="klingon"')
    return {"source": "beds.gml"}


@case("GML: a web page", refused="no whole GML|beds.gml")
def _(f):
    (f / "beds.gml").write_text("<!doctype html><html><body><p>404</body></html>")
    return {"source": "beds.gml"}


# FlatGeobuf

for _share in (0.02, 0.3, 0.7, 0.95):

    @case(
        f"FlatGeobuf: cut to {_share:.0%}",
        refused="beds.fgb" if _share < 0.9 else "",
        finding="" if _share < 0.9 else "broken-record",
    )
    def _(f, share=_share):
        cut(beds(f, ".fgb"), share)
        return {"source": "beds.fgb"}


@case("FlatGeobuf: another version", refused="does not begin like")
def _(f):
    patch(beds(f, ".fgb"), 3, "B", 99)
    return {"source": "beds.fgb"}


@case("FlatGeobuf: a header of two gigabytes", refused="beds.fgb")
def _(f):
    patch(beds(f, ".fgb"), 8, "<I", 2**31 - 1)
    return {"source": "beds.fgb"}


@case("FlatGeobuf: no features", refused="beds")
def _(f):
    frame().iloc[:0].to_file(f / "beds.fgb", driver="FlatGeobuf", engine="pyogrio")
    return {"source": "beds.fgb"}


# what is something else

for _suffix in (".shp", ".gpkg", ".geojson", ".fgb", ".gml", ".zip"):
    for _what, _content in [
        ("nothing", b""),
        ("one byte", b"\x00"),
        ("random bytes", os.urandom(3000)),
        ("a list of other files", b"<OGRVRTDataSource><OGRVRTLayer name='a'/></OGRVRTDataSource>"),
        ("a picture", b"\x89PNG\r\n\x1a\n" + bytes(100)),
    ]:

        @case(f"{_suffix[1:]} that is {_what}", refused=f"beds{_suffix}")
        def _(f, suffix=_suffix, content=_content):
            (f / f"beds{suffix}").write_bytes(content)
            return {"source": f"beds{suffix}"}

    @case(f"{_suffix[1:]} that is a folder", refused="is a folder")
    def _(f, suffix=_suffix):
        (f / f"beds{suffix}").mkdir()
        return {"source": f"beds{suffix}"}

    @case(f"{_suffix[1:]} that is a pipe", refused="no regular file")
    def _(f, suffix=_suffix):
        os.mkfifo(f / f"beds{suffix}")
        return {"source": f"beds{suffix}"}


for _suffix in DRIVERS:

    @case(f"{_suffix[1:]} called something else", refused="does not begin like")
    def _(f, suffix=_suffix):
        other = ".fgb" if suffix != ".fgb" else ".gpkg"
        beds(f, suffix, crs="EPSG:4326" if suffix == ".geojson" else "EPSG:25832").rename(f / f"beds{other}")
        return {"source": f"beds{other}"}


@case("a socket", refused="no regular file")
def _(f):
    here = os.getcwd()
    os.chdir(f)
    try:
        with socket.socket(socket.AF_UNIX) as one:
            one.bind("beds.gpkg")
    finally:
        os.chdir(here)
    return {"source": "beds.gpkg"}


@case("a link to nothing", refused="there is no file")
def _(f):
    (f / "beds.gpkg").symlink_to(f / "gone.gpkg")
    return {"source": "beds.gpkg"}


@case("a link to itself", refused="beds.gpkg")
def _(f):
    (f / "beds.gpkg").symlink_to(f / "beds.gpkg")
    return {"source": "beds.gpkg"}


@case("a link that leads out of the folder", refused="outside")
def _(f):
    (f / "beds.gpkg").symlink_to("/etc/hostname")
    return {"source": "beds.gpkg"}


@case("attributes that are a link out of the folder", refused="outside")
def _(f):
    beds(f)
    (f / "beds.prj").unlink()
    (f / "beds.prj").symlink_to("/etc/hostname")


@case("a kind of file that is not read", refused="no kind that can be read")
def _(f):
    (f / "beds.dxf").write_text("0\nSECTION\n")
    return {"source": "beds.dxf"}


@case("a name that readers take apart", refused="Rename")
def _(f):
    beds(f, ".gpkg").rename(f / "a!b.gpkg")
    return {"source": "a!b.gpkg"}


@case("a grid of levels that lies about its size", refused="beds.asc")
def _(f):
    (f / "beds.asc").write_text("ncols 9000000\nnrows 9000000\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3\n")
    return {
        "source": "beds.asc",
        "role": "spot level",
        "id": None,
        "top": None,
        "base": None,
        "crs": "EPSG:25832",
    }


for _word in ("inf", "nan", "1_0", "1e999", "-3"):

    @case(f"a grid of levels with {_word} columns", refused="beds.asc")
    def _(f, word=_word):
        (f / "beds.asc").write_text(f"ncols {word}\nnrows 1\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3\n")
        return {
            "source": "beds.asc",
            "role": "spot level",
            "id": None,
            "top": None,
            "base": None,
            "crs": "EPSG:25832",
        }


# levels as texts

for _word in [
    "1_000",
    "inf",
    "-inf",
    "nan",
    "1e400",
    "0x10",
    "1.2.3",
    "12,5,3",
    "٣",
    "1/2",
    "12 ft 6 in",
    "--3",
    "+-3",
    "3-",
    "1e",
    ".",
    "true",
    "12 km",
    "12\n13",
    "=1+1",
    "1;2",
    "№3",
    "3.5m3",
]:

    @case(f"a level written {_word!r}", refused="lvl|13")
    def _(f, word=_word):
        frame(lvl=["1,5", "2.5 m", word, "8 ft", "5"]).to_file(
            f / "beds.gpkg", layer="beds", engine="pyogrio"
        )
        return {"source": "beds.gpkg"}


for _word, _code in [
    ("", "missing-level"),
    ("   ", "missing-level"),
    ("-9999", "sentinel-level"),
    ("-1000.0", "sentinel-level"),
    ("1e31", "sentinel-level"),
]:

    @case(f"a level written {_word!r} for none", finding=_code, count=4)
    def _(f, word=_word):
        frame(lvl=["1,5", "2.5 m", word, "8 ft", "5"]).to_file(
            f / "beds.gpkg", layer="beds", engine="pyogrio"
        )
        return {"source": "beds.gpkg"}
