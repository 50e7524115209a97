"""Bad shapefiles and archives of them."""

from __future__ import annotations

import os
import shutil
import stat
import struct
import zipfile

import numpy as np
import shapely

from .making import BOXES, X, Y, beds, case, cut, frame, patch, record, zipped

for _suffix, _refused, _finding in [
    (".shx", "beds.shp cannot be read", ""),
    (".prj", "no coordinate reference system", ""),
    (".dbf", "no field", ""),
    (".cpg", "", ""),
]:

    @case(f"shapefile without its {_suffix}", refused=_refused, finding=_finding)
    def _(f, suffix=_suffix):
        beds(f)
        (f / f"beds{suffix}").unlink()


for _suffix, _refused in [
    (".shp", "does not begin like"),
    (".shx", "beds.shp"),
    (".dbf", "no field"),
    (".prj", "coordinate reference system"),
]:

    @case(f"shapefile whose {_suffix} is empty", refused=_refused)
    def _(f, suffix=_suffix):
        beds(f)
        (f / f"beds{suffix}").write_bytes(b"")


for _suffix, _share, _refused, _finding, _count in [
    (".shp", 0.9, "", "broken-record", 4),
    (".shp", 0.3, "none of its features can be used", "", None),
    (".shp", 0.15, "beds.shp", "", None),
    (".shx", 0.9, "beds.shp cannot be read", "", None),
    (".dbf", 0.9, "", "broken-record", 4),
    (".dbf", 0.2, "announces 5 rows", "", None),
]:

    @case(
        f"shapefile whose {_suffix} is cut to {_share:.0%}", refused=_refused, finding=_finding, count=_count
    )
    def _(f, suffix=_suffix, share=_share):
        beds(f)
        cut(f / f"beds{suffix}", share)


for _what, _at, _layout, _value in [
    ("of another shape type", 0, "<i", 3),
    ("of an unknown shape type", 0, "<i", 99),
    ("with too many points", 40, "<i", 2**30),
    ("with too many parts", 36, "<i", 2**30),
    ("with a negative number of points", 40, "<i", -5),
    ("with a negative number of parts", 36, "<i", -1),
    ("whose part begins before it", 44, "<i", -5),
    ("whose part begins behind it", 44, "<i", 4000),
    ("with no parts", 36, "<i", 0),
]:

    @case(f"shape record {_what}", finding="broken-record", count=4)
    def _(f, at=_at, layout=_layout, value=_value):
        beds(f)
        patch(f / "beds.shp", record(f, 2) + at, layout, value)


for _what, _value in [("NaN", np.nan), ("infinity", np.inf), ("1e308", 1e308)]:

    @case(f"shape vertex at {_what}", refused="2" if _value != 1e308 else "beds")
    def _(f, value=_value):
        beds(f)
        patch(f / "beds.shp", record(f, 2) + 48 + 16, "<d", value)
        return {"id": None}


@case("shape record left empty on purpose", finding="no-geometry", count=4)
def _(f):
    beds(f)
    patch(f / "beds.shp", record(f, 2), "<i", 0)


@case("shapefile whose index points outside the file", finding="broken-record", count=4)
def _(f):
    beds(f)
    patch(f / "beds.shx", 100 + 16, ">i", 2**30)


@case("shapefile whose index has a negative place", refused="beds.shp cannot be read")
def _(f):
    beds(f)
    patch(f / "beds.shx", 100 + 16, ">i", -50)


@case("shapefile whose index points into another record", finding="broken-record")
def _(f):
    beds(f)
    patch(f / "beds.shx", 100 + 16, ">i", (record(f, 1) + 30) // 2)


@case("shapefile whose index leaves out a record", finding="broken-record", count=4)
def _(f):
    beds(f)
    shx = (f / "beds.shx").read_bytes()
    (f / "beds.shx").write_bytes(shx[:-8])
    patch(f / "beds.shx", 24, ">i", (len(shx) - 8) // 2)


@case("shapefile with fewer rows of attributes than shapes", finding="broken-record", count=4)
def _(f):
    beds(f)
    patch(f / "beds.dbf", 4, "<I", 4)


@case("shapefile that announces more rows of attributes than it has", finding="reader-note")
def _(f):
    beds(f)
    patch(f / "beds.dbf", 4, "<I", 400)


@case("shapefile that announces four billion rows", finding="reader-note")
def _(f):
    beds(f)
    patch(f / "beds.dbf", 4, "<I", 2**32 - 1)


@case("shapefile of another file's attributes", finding="broken-record", count=3)
def _(f):
    other = f / "other"
    other.mkdir()
    frame(BOXES[:3]).to_file(other / "beds.shp")
    beds(f)
    shutil.copy(other / "beds.dbf", f / "beds.dbf")


@case("attribute row marked as deleted", finding="deleted-records", count=4)
def _(f):
    beds(f)
    dbf = (f / "beds.dbf").read_bytes()
    _, header, width = struct.unpack_from("<IHH", dbf, 4)
    patch(f / "beds.dbf", header + 2 * width, "B", 0x2A)


for _what, _at, _value in [
    ("header length 0", 8, 0),
    ("header length 65535", 8, 65535),
    ("row length 0", 10, 0),
]:

    @case(f"attributes with a {_what}", refused="beds")
    def _(f, at=_at, value=_value):
        beds(f)
        patch(f / "beds.dbf", at, "<H", value)


for _word in ("see plan", "nan", "inf", "1_0", "0x10", "1.2.3", "--1", "1e", "*****", "       "):
    _gone = _word in ("*****", "       ")

    @case(
        f"number field that holds {_word!r}",
        refused="" if _gone else f"lvl|13|{_word}",
        finding="no-level" if _gone else "",
        count=4 if _gone else None,
    )
    def _(f, word=_word):
        beds(f)
        content = bytearray((f / "beds.dbf").read_bytes())
        at = content.index(b"3.5000000")
        end = at
        while content[end : end + 1].isdigit() or content[end : end + 1] == b".":
            end += 1
        content[at:end] = word.encode().ljust(end - at)
        (f / "beds.dbf").write_bytes(content)


for _what, _encoding, _declared, _finding in [
    ("UTF-8 without a .cpg", "UTF-8", None, "encoding"),
    ("Latin-1 called UTF-8", "ISO-8859-1", "UTF-8", "encoding"),
    ("UTF-8 called Latin-1", "UTF-8", "ISO-8859-1", "encoding"),
    ("UTF-8 called Windows-1252", "UTF-8", "1252", "encoding"),
    ("a .cpg that names no encoding", "UTF-8", "KLINGON", "encoding"),
    ("a .cpg of two lines of rubbish", "UTF-8", "\x00\x01\nx" * 50, "encoding"),
]:

    @case(f"texts in {_what}", finding=_finding, count=5)
    def _(f, encoding=_encoding, declared=_declared):
        beds(f, mat=["grès", "Läufer", "c", "d", "é"]) if encoding == "UTF-8" else frame(
            mat=["grès", "Läufer", "c", "d", "é"]
        ).to_file(f / "beds.shp", encoding=encoding)
        (f / "beds.cpg").unlink(missing_ok=True)
        if declared:
            (f / "beds.cpg").write_text(declared, encoding="ascii")
        return {"material": "mat"}


@case("encoding declared that is not known", refused="encoding|klingon")
def _(f):
    beds(f)
    return {"encoding": "klingon"}


@case("field named in other letters", finding="field-case", count=5)
def _(f):
    beds(f)
    return {"top": "LVL"}


@case("field that is not there", refused="levle|Did you mean 'lvl'")
def _(f):
    beds(f)
    return {"top": "levle"}


@case("two fields that differ in their letters only", refused="LvL")
def _(f):
    frame(crs="EPSG:4326", LVL=[9.0] * 5).to_file(f / "beds.geojson", driver="GeoJSON", engine="pyogrio")
    return {"top": "LvL", "source": "beds.geojson"}


@case("field name cut to ten letters", refused="elevation_top|elevation_")
def _(f):
    frame().rename(columns={"lvl": "elevation_top"}).to_file(f / "beds.shp")
    return {"top": "elevation_top"}


@case("shapefile named in capitals", count=5)
def _(f):
    beds(f)
    for part in list(f.glob("beds.*")):
        part.rename(f / part.name.upper())
    return {"source": "BEDS.SHP"}


@case("shapefile header that says another length", count=5)
def _(f):
    beds(f)
    patch(f / "beds.shp", 24, ">i", 7)


@case("shapefile header with NaN for its box", count=5)
def _(f):
    beds(f)
    patch(f / "beds.shp", 36, "<4d", *[np.nan] * 4)


@case("projection file of rubbish", refused="coordinate reference system")
def _(f):
    beds(f)
    (f / "beds.prj").write_bytes(os.urandom(200))


@case("projection file of an engineering system", refused="beds")
def _(f):
    beds(f)
    (f / "beds.prj").write_text('LOCAL_CS["mine",UNIT["metre",1]]')


# archives


@case("archive of a shapefile", count=5)
def _(f):
    beds(f)
    zipped(f)
    return {"source": "beds.zip"}


@case("archive with a path that leads out of it", refused="leads out of it")
def _(f):
    beds(f)
    with zipfile.ZipFile(zipped(f), "a") as archive:
        archive.writestr("../../evil.shp", b"\x00\x00\x27\x0a")
    return {"source": "beds.zip"}


@case("archive with an absolute path", refused="leads out of it")
def _(f):
    beds(f)
    with zipfile.ZipFile(zipped(f), "a") as archive:
        archive.writestr("/etc/evil.txt", b"x")
    return {"source": "beds.zip"}


@case("archive with backward slashes", refused="leads out of it")
def _(f):
    beds(f)
    with zipfile.ZipFile(zipped(f), "a") as archive:
        archive.writestr("..\\..\\evil.txt", b"x")
    return {"source": "beds.zip"}


@case("archive that holds a link", refused="as a link")
def _(f):
    beds(f)
    with zipfile.ZipFile(zipped(f, inside="a/"), "a") as archive:
        for suffix in (".shp", ".shx"):
            link = zipfile.ZipInfo(f"b/beds{suffix}")
            link.external_attr = (stat.S_IFLNK | 0o777) << 16
            archive.writestr(link, "/etc/hostname")
    with zipfile.ZipFile(f / "links.zip", "w") as archive:
        link = zipfile.ZipInfo("beds.shp")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/hostname")
    return {"source": "links.zip"}


@case("archive that unpacks to two hundred times its size", refused="archive_ratio")
def _(f):
    beds(f)
    (f / "beds.dbf").write_bytes((f / "beds.dbf").read_bytes() + bytes(20_000_000))
    zipped(f)
    return {"source": "beds.zip"}


@case("archive with a member twice", refused="twice")
def _(f):
    import warnings

    beds(f)
    with zipfile.ZipFile(zipped(f), "a") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        archive.writestr("beds.shp", b"\x00\x00\x27\x0a")
    return {"source": "beds.zip"}


@case("archive whose member is damaged", refused="cannot be unpacked")
def _(f):
    beds(f)
    zipped(f, packed=zipfile.ZIP_STORED)
    with zipfile.ZipFile(f / "beds.zip") as archive:
        at = archive.getinfo("beds.shp").header_offset + 200
    patch(f / "beds.zip", at, "B", 0x77)
    return {"source": "beds.zip"}


@case("archive that lies about a size", refused="beds.zip")
def _(f):
    beds(f)
    zipped(f)
    content = (f / "beds.zip").read_bytes()
    at = content.rindex(b"PK\x01\x02", 0, content.index(b"beds.shp", content.index(b"PK\x01\x02")))
    patch(f / "beds.zip", at + 24, "<I", 10)
    return {"source": "beds.zip"}


@case("archive that is encrypted", refused="encrypted")
def _(f):
    beds(f)
    zipped(f)
    content = bytearray((f / "beds.zip").read_bytes())
    at = 0
    while (at := content.find(b"PK\x01\x02", at)) >= 0:
        content[at + 8] |= 1
        at += 4
    (f / "beds.zip").write_bytes(content)
    return {"source": "beds.zip"}


@case("archive cut short", refused="cannot be opened")
def _(f):
    beds(f)
    cut(zipped(f), 0.5)
    return {"source": "beds.zip"}


@case("archive without a shapefile", refused="holds no shapefile")
def _(f):
    with zipfile.ZipFile(f / "beds.zip", "w") as archive:
        archive.writestr("readme.txt", "x")
    return {"source": "beds.zip"}


@case("archive with nothing in it", refused="holds no shapefile")
def _(f):
    with zipfile.ZipFile(f / "beds.zip", "w"):
        pass
    return {"source": "beds.zip"}


@case("archive with two shapefiles", refused="several tables")
def _(f):
    beds(f)
    with zipfile.ZipFile(zipped(f), "a") as archive:
        archive.write(f / "beds.shp", "walls.shp")
    return {"source": "beds.zip"}


@case("archive with twenty thousand files", refused="archive_files")
def _(f):
    with zipfile.ZipFile(f / "beds.zip", "w") as archive:
        for number in range(10_001):
            archive.writestr(str(number), b"")
    return {"source": "beds.zip"}


@case("archive whose .shp is something else", refused="does not begin like a shapefile")
def _(f):
    beds(f)
    (f / "beds.shp").write_text("<OGRVRTDataSource/>")
    zipped(f)
    return {"source": "beds.zip"}


@case("archive whose .shx is missing", refused="beds.zip cannot be read")
def _(f):
    beds(f)
    (f / "beds.shx").unlink()
    zipped(f)
    return {"source": "beds.zip"}


@case("archive called a shapefile", refused="does not begin like a shapefile")
def _(f):
    beds(f)
    zipped(f, name="x.zip").rename(f / "beds.shp")


# geometry


TURN = np.linspace(0, 2 * np.pi, 1_000_000, endpoint=False)


def _shapes(name, shapes, **expected):
    @case(f"geometry: {name}", **expected)
    def _(f, shapes=shapes):
        made = shapes() if callable(shapes) else shapes
        frame(made).to_file(f / "beds.gpkg", layer="beds", engine="pyogrio")
        return {"source": "beds.gpkg"}


def _at(*xy):
    return [(X + x, Y + y) for x, y in xy]


_BOX = shapely.box(X, Y, X + 5, Y + 5)
_FAR = shapely.box(X + 20, Y, X + 25, Y + 5)
_shapes("a bow-tie", [shapely.Polygon(_at((0, 0), (4, 4), (4, 0), (0, 4)))], finding="made-valid", count=2)
_shapes(
    "a ring drawn twice",
    [shapely.Polygon([*_BOX.exterior.coords[:-1], *_BOX.exterior.coords])],
    finding="made-valid",
    count=1,
)
_shapes(
    "a star that overlaps itself",
    [shapely.Polygon(_at(*[(9 * np.cos(a), 9 * np.sin(a)) for a in np.radians(144 * np.arange(5))]))],
    finding="made-valid",
)
_shapes(
    "a spike",
    [shapely.Polygon(_at((0, 0), (4, 0), (4, 4), (4, 9), (4, 4), (0, 4)))],
    finding="made-valid",
    count=1,
)
_shapes(
    "a needle without area",
    [_FAR, shapely.Polygon(_at((0, 0), (5, 0), (9, 0)))],
    finding="no-extent",
    count=1,
)
_shapes(
    "nothing but needles",
    [shapely.Polygon(_at((0, 0), (5, 0), (9, 0)))],
    refused="none of its features can be used",
)
_shapes("a hole outside its shell", [shapely.Polygon(_BOX.exterior, [_FAR.exterior])], finding="made-valid")
_shapes(
    "two holes that overlap",
    [
        shapely.Polygon(
            _BOX.exterior, [_at((1, 1), (3, 1), (3, 3), (1, 3)), _at((2, 2), (4, 2), (4, 4), (2, 4))]
        )
    ],
    finding="made-valid",
)
_shapes(
    "a hole as large as its shell",
    [_FAR, shapely.Polygon(_BOX.exterior, [_BOX.exterior])],
    finding="no-extent",
    count=1,
)
_shapes("a point twice in a row", [shapely.Polygon(_at((0, 0), (4, 0), (4, 0), (4, 4), (0, 4)))], count=1)
_shapes("a shell drawn clockwise", [shapely.Polygon(list(_BOX.exterior.coords)[::-1])], count=1)
_shapes("an empty polygon", [_FAR, shapely.Polygon()], finding="no-geometry", count=1)
_shapes("no geometry at all", [_FAR, None], finding="no-geometry", count=1)
_shapes("only empty ones", [shapely.Polygon(), None], refused="none of its features can be used")
_shapes(
    "a line among polygons", [_FAR, shapely.LineString(_at((0, 0), (4, 4)))], finding="wrong-kind", count=1
)
_shapes("a point among polygons", [_FAR, shapely.Point(X, Y)], finding="wrong-kind", count=1)
_shapes(
    "a collection of all kinds",
    [shapely.GeometryCollection([_FAR, shapely.Point(X, Y)])],
    finding="wrong-kind",
    count=1,
)
_shapes(
    "a collection with nothing in it", [_FAR, shapely.GeometryCollection()], finding="no-geometry", count=1
)
_shapes(
    "collections in collections",
    [shapely.GeometryCollection([shapely.GeometryCollection([shapely.MultiPolygon([_FAR, _BOX])])])],
    finding="split",
    count=2,
)
_shapes(
    "lines where polygons are needed",
    [shapely.LineString(_at((0, 0), (4, 4)))],
    refused="are lines|needs polygons",
)
_shapes("a part that is empty", [shapely.MultiPolygon([_FAR, shapely.Polygon()])], count=1)
_shapes(
    "parts that overlap",
    [shapely.MultiPolygon([_BOX, shapely.box(X + 2, Y, X + 7, Y + 5)])],
    finding="split",
    count=2,
)
_shapes("Z of no use", [shapely.force_3d(_BOX, 5.0)], finding="z-unused", count=1)
_shapes("Z that is NaN", [shapely.Polygon([(x, y, np.nan) for x, y in _BOX.exterior.coords])], count=1)
_shapes("Z that is infinite", [shapely.force_3d(_BOX, np.inf)], count=1)
_shapes("the same twice", [_BOX, _BOX], finding="buried", count=2)
_shapes("a polygon a hair wide", [_FAR, shapely.box(X, Y, X + 1e-9, Y + 5)], finding="no-extent", count=1)
_shapes(
    "a polygon of a millionth of a metre",
    [_FAR, shapely.box(X, Y, X + 1e-6, Y + 1e-6)],
    finding="no-extent",
    count=1,
)
_shapes(
    "a tangle of twenty thousand vertices",
    lambda: [_FAR, shapely.Polygon(np.random.default_rng(1).random((20_000, 2)) * 50 + (X, Y))],
    finding="too-tangled",
    count=1,
)
_shapes(
    "a ring of a million vertices",
    lambda: [shapely.Polygon(np.column_stack([np.cos(TURN), np.sin(TURN)]) * 50 + (X, Y))],
    refused="ring_vertices|--limit",
)
_shapes("half the world apart", [_FAR, shapely.box(X - 3e5, Y - 5e6, X - 2.9e5, Y - 4.9e6)], refused="beds")
_shapes("coordinates of a googol", [_FAR, shapely.box(1e100, 1e100, 2e100, 2e100)], refused="beds")
_shapes("coordinates at zero", [_FAR, shapely.box(0, 0, 1, 1)], refused="beds")
