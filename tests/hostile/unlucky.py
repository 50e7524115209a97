"""Bad inputs that look good: things said twice, headers that disagree, what other systems add."""

from __future__ import annotations

import json
import zipfile

from .making import beds, case, geojson, patch, replaced, site, sql, zipped

PARTS = (".shp", ".shx", ".dbf", ".prj")

# archives


def _in_two_folders(f):
    beds(f)
    with zipfile.ZipFile(f / "two.zip", "w") as archive:
        for folder in ("east", "west"):
            for suffix in PARTS:
                archive.write(f / f"beds{suffix}", f"{folder}/beds{suffix}")


@case("archive with shapefiles of one name in two folders", refused="several tables: east/beds, west/beds")
def _(f):
    _in_two_folders(f)
    return {"source": "two.zip"}


@case("archive with shapefiles of one name in two folders, one named", count=5)
def _(f):
    _in_two_folders(f)
    return {"source": "two.zip", "table": "west/beds"}


@case("archive with what macOS adds", count=5)
def _(f):
    beds(f)
    with zipfile.ZipFile(zipped(f), "a") as archive:
        for suffix in PARTS:
            archive.writestr(f"__MACOSX/._beds{suffix}", b"\x00\x05\x16\x07" + bytes(100))
    return {"source": "beds.zip"}


@case("archive in an archive", refused="holds no shapefile")
def _(f):
    beds(f)
    with zipfile.ZipFile(f / "outer.zip", "w") as archive:
        archive.write(zipped(f), "beds.zip")
    return {"source": "outer.zip"}


@case("archive of ten thousand names, the last two alike", refused="'a.shp' twice")
def _(f):
    with zipfile.ZipFile(f / "beds.zip", "w") as archive:
        for name in (*map(str, range(9_990)), "a.shp", "A.shp"):
            archive.writestr(name, b"")
    return {"source": "beds.zip"}


# shapefiles

for _field in ("lvl", "nr"):

    @case(f"attributes with the field {_field} twice", refused=f"'{_field}' more than once")
    def _(f, name=_field):
        beds(f, **{f"{name}2": [9.0] * 5})
        path = f / "beds.dbf"
        path.write_bytes(path.read_bytes().replace(f"{name}2\0".encode(), f"{name}\0\0".encode(), 1))


@case("attributes with a field without a name", count=5)
def _(f):
    path = beds(f).with_suffix(".dbf")
    path.write_bytes(path.read_bytes().replace(b"mat\0", bytes(4), 1))


@case("shapefile header of two gigabytes", count=5)
def _(f):
    patch(beds(f), 24, ">i", 2**30)


@case("index header of four gigabytes", refused="beds.shp cannot be read")
def _(f):
    patch(beds(f).with_suffix(".shx"), 24, ">i", 2**31 - 1)


@case("encoding of a million letters", count=5)
def _(f):
    beds(f).with_suffix(".cpg").write_bytes(b"U" * 1_000_000)


@case("projection file nested a hundred thousand deep", refused="coordinate reference system")
def _(f):
    beds(f).with_suffix(".prj").write_text('PROJCS["a",' * 100_000)


# GeoPackages


def _gpkg(name, *statements, layer=None, **expected):
    @case(f"GeoPackage: {name}", **expected)
    def _(f):
        sql(beds(f, ".gpkg", crs="EPSG:25832"), *statements)
        return {"source": "beds.gpkg", **(layer or {})}


def _header(at, byte):
    """Put bytes at a place (from 1) of the geometry of one feature."""
    after = at + len(byte) // 2
    changed = f"substr(geom, 1, {at - 1}) || x'{byte}' || substr(geom, {after})"
    return f"UPDATE beds SET geom = CAST({changed} AS BLOB) WHERE nr = 13"


_gpkg("a geometry that names another system", _header(5, "E6100000"), finding="reader-note", count=5)
_gpkg("a geometry header of the other byte order", _header(4, "02"), finding="reader-note", count=5)
_gpkg("a geometry with an unknown kind of box", _header(4, "0F"), finding="broken-record", count=4)
_gpkg("a geometry without the box it has", _header(4, "01"), finding="broken-record", count=4)
_gpkg("a geometry whose numbers are of the other byte order", _header(41, "00"), finding="broken-record")
_gpkg("a geometry whose box is another's", _header(9, "00" * 32), count=5)
_gpkg(
    "contents that name another system",
    "UPDATE gpkg_contents SET srs_id = 4326",
    finding="reader-note",
    count=5,
)
_gpkg(
    "a column that names another system", "UPDATE gpkg_geometry_columns SET srs_id = 4326", refused="WGS 84"
)
_gpkg(
    "a geometry column that is not there",
    "UPDATE gpkg_geometry_columns SET column_name = 'shape'",
    refused="beds.gpkg cannot be read",
)
_gpkg(
    "a field with an end of line and a mark of direction in its name",
    'ALTER TABLE beds RENAME COLUMN lvl TO "l\nvl\u202e"',
    layer={"top": "l\nvl\u202e"},
    count=5,
)
_gpkg("a number of a feature below zero", "UPDATE beds SET fid = -5 WHERE nr = 13", count=5)
_gpkg("two thousand columns", *(f"ALTER TABLE beds ADD COLUMN c{i} REAL" for i in range(1900)), count=5)

# GeoJSON


def _json(name, change, **expected):
    @case(f"GeoJSON: {name}", **expected)
    def _(f):
        return geojson(f, change)


def _said(old, new):
    return lambda top: json.dumps(top).replace(old, new, 1)


_LINK = '{"crs": {"type": "link", "properties": {"href": "http://127.0.0.1:9/a"}}, "crs": null, '
_json("a level twice in one feature", _said('"lvl": 3.5', '"lvl": 3.5, "lvl": 99'), refused="'lvl' twice")
_json("a geometry twice", _said('"geometry":', '"geometry": null, "geometry":'), refused="'geometry' twice")
_json("a CRS twice, one of them a link", _said("{", _LINK), refused="twice")
_json("features twice", lambda top: json.dumps(top)[:-1] + ', "features": []}', refused="'features' twice")
_json("a level of five thousand digits", _said("3.5", "9" * 5000), refused="beds.geojson")
_json("a coordinate of five thousand digits", _said("51.4", "9" * 5000 + ".4"), refused="beds.geojson")
_json("a coordinate more that is NaN", _said("51.4", "NaN, 51.4"), finding="broken-record", count=4)

# GML


def _gml(name, old, new, **expected):
    @case(f"GML: {name}", **expected)
    def _(f):
        path = beds(f, ".gml")
        path.with_suffix(".xsd").unlink(missing_ok=True)
        replaced(path, old, new)
        return {"source": "beds.gml"}


_gml("a level as CDATA", "<ogr:lvl>3.5<", "<ogr:lvl><![CDATA[3.5]]><", count=5)

# site files


@case("site file: a key of twenty thousand parts", refused="more than 32 parts (at line 2)")
def _(f):
    return "\na" + ".a" * 20_000 + " = 1\n"


@case("site file: a header of a million parts", refused="more than 32 parts")
def _(f):
    return "[" + "'a' . " * 1_000_000 + "a]\n"


@case("site file: a hundred thousand layers without a name", refused="number 1|no name")
def _(f):
    return "[[layer]]\n" * 100_000


@case("layer: a CRS as JSON a hundred thousand deep", refused="crs|no known coordinate reference system")
def _(f):
    beds(f).with_suffix(".prj").unlink()
    return site({"crs": '{"a":' * 100_000})


@case("layer: a name with ends of line and marks of direction", count=5)
def _(f):
    beds(f)
    return {"name": "=1+1\nb\u202egnp.\u0007"}
