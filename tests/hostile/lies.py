"""Files that are whole but state what is not so: counts, boxes, kinds, sizes and systems."""

import struct

from .making import BOXES, COUNT, X, Y, beds, case, frame, geojson, patch, record, replaced

# FlatGeobuf

_ENVELOPE, _KIND, _COUNT = 1, 2, 8  # fields of the header


def flat(folder, *, index=True):
    path = folder / "beds.fgb"
    frame().to_file(path, driver="FlatGeobuf", engine="pyogrio", SPATIAL_INDEX="YES" if index else "NO")
    return path


def slot(content, table, field):
    """Where a field of a table stands."""
    fields = table - struct.unpack_from("<i", content, table)[0]
    return table + struct.unpack_from("<H", content, fields + 4 + 2 * field)[0]


def pointed(content, at):
    """What a place points to."""
    return at + struct.unpack_from("<I", content, at)[0]


def stated(path, field, layout, *values):
    """Change what the header says."""
    content = path.read_bytes()
    at = slot(content, pointed(content, 12), field)
    patch(path, pointed(content, at) + 4 if field == _ENVELOPE else at, layout, *values)
    return {"source": path.name}


def features(content):
    """Where each feature begins, and its size."""
    at = 12 + struct.unpack_from("<I", content, 8)[0]
    while at < len(content):
        (size,) = struct.unpack_from("<I", content, at)
        yield at, size
        at += 4 + size


for _number, _refused in [(1, "4 of the 5"), (3, "2 of the 5"), (6, "1 of the 6"), (500, "495 of the 500")]:

    @case(f"FlatGeobuf: says it has {_number} features of five", refused=_refused)
    def _(f, number=_number):
        return stated(flat(f, index=False), _COUNT, "<Q", number)


@case("FlatGeobuf: does not say how many features it has", count=COUNT)
def _(f):
    return stated(flat(f, index=False), _COUNT, "<Q", 0)


for _number in (1, 3, 6, 500, 1 << 63):

    @case(f"FlatGeobuf with an index: says it has {_number} features of five", refused="beds.fgb")
    def _(f, number=_number):
        return stated(flat(f), _COUNT, "<Q", number)


for _kind, _refused in [(1, "points"), (2, "lines"), (7, "beds.fgb"), (99, "beds.fgb")]:

    @case(f"FlatGeobuf: says its polygons are of kind {_kind}", refused=_refused)
    def _(f, kind=_kind):
        return stated(flat(f), _KIND, "<B", kind)


for _what, _box in [("elsewhere", (0.0, 0.0, 1.0, 1.0)), ("nowhere", (float("nan"),) * 4)]:

    @case(f"FlatGeobuf: says its box is {_what}", count=COUNT)
    def _(f, box=_box):
        return stated(flat(f), _ENVELOPE, "<4d", *box)


@case("FlatGeobuf: one feature more than it says", refused="1 of the 6")
def _(f):
    path = flat(f, index=False)
    content = path.read_bytes()
    *_, (at, _) = features(content)
    path.write_bytes(content + content[at:])
    return {"source": path.name}


@case("FlatGeobuf: one feature less than it says", refused="1 of the 5")
def _(f):
    path = flat(f, index=False)
    content = path.read_bytes()
    *_, (at, _) = features(content)
    path.write_bytes(content[:at])
    return {"source": path.name}


for _size in (0, 8, 1 << 31):

    @case(f"FlatGeobuf: a feature that says it has {_size} bytes", finding="broken-record", count=1)
    def _(f, size=_size):
        path = flat(f, index=False)
        patch(path, list(features(path.read_bytes()))[1][0], "<I", size)
        return {"source": path.name}


# GeoJSON and GML of services

for _key, _value in [("numberMatched", 900), ("totalFeatures", 900), ("exceededTransferLimit", True)]:

    @case(f"GeoJSON: a page of more, by {_key}", finding="reader-note", count=COUNT)
    def _(f, key=_key, value=_value):
        return geojson(f, lambda top: {**top, key: value})


@case("GeoJSON: a page of more, by a link", finding="reader-note", count=COUNT)
def _(f):
    return geojson(f, lambda top: {**top, "links": [{"rel": "next", "href": "http://127.0.0.1:9/2"}]})


@case("GeoJSON: fewer features than were sent", refused="says that it holds 9")
def _(f):
    return geojson(f, lambda top: {**top, "numberReturned": 9})


@case("GeoJSON: numbers of features that are texts, and links that are none", count=COUNT)
def _(f):
    odd = {"numberReturned": "many", "numberMatched": None, "links": "next", "properties": [1]}
    return geojson(f, lambda top: {**top, **odd})


@case("GeoJSON: a box that is elsewhere", count=COUNT)
def _(f):
    return geojson(f, lambda top: {**top, "bbox": [0, 0, 1, 1]})


def gml(folder, *changes, described=""):
    """Write GML after changes to it, with a description beside it where one is given."""
    path = beds(folder, ".gml")
    for old, new in changes:
        replaced(path, old, new)
    if described:
        path.with_suffix(".xsd").unlink()
        path.with_suffix(".gfs").write_text(described, encoding="utf-8")
    return {"source": path.name}


_ROOT = "<ogr:FeatureCollection"


@case("GML: fewer features than were sent", refused="says that it holds 9")
def _(f):
    return gml(f, (_ROOT, f'{_ROOT} numberReturned="9"'))


@case("GML: a page of more", finding="reader-note", count=COUNT)
def _(f):
    return gml(f, (_ROOT, f'{_ROOT} numberMatched="900" numberReturned="5"'))


@case("GML: an unknown number of features", count=COUNT)
def _(f):
    return gml(f, (_ROOT, f'{_ROOT} numberMatched="unknown" numberReturned="5"'))


@case("GML: a box that is elsewhere", count=COUNT)
def _(f):
    return gml(f, ("<gml:lowerCorner>500000 5700000<", "<gml:lowerCorner>1 1<"))


@case("GML: a place with three numbers a corner that has two", refused="beds.gml")
def _(f):
    return gml(f, ("<gml:posList>", '<gml:posList srsDimension="3">'))


@case("GML: a feature in another system", refused="OSGB36 / British National Grid")
def _(f):
    name = 'srsName="urn:ogc:def:crs:EPSG::25832" gml:id="beds.geom.2"'
    return gml(f, (name, name.replace("25832", "27700")))


@case("GML: one system under two names", count=COUNT)
def _(f):
    name = 'srsName="urn:ogc:def:crs:EPSG::25832" gml:id="beds.geom.2"'
    return gml(f, (name, name.replace("urn:ogc:def:crs:EPSG::25832", "EPSG:25832")))


def description(*, system="", count=COUNT, level="Real"):
    """What a reader may have kept of a GML file beside it."""
    fields = "".join(
        f"<PropertyDefn><Name>{name}</Name><ElementPath>{name}</ElementPath><Type>{kind}</Type></PropertyDefn>"
        for name, kind in (("nr", "Integer"), ("lvl", level))
    )
    return (
        "<GMLFeatureClassList><GMLFeatureClass><Name>beds</Name><ElementPath>beds</ElementPath>"
        "<GeometryName>geometryProperty</GeometryName>"
        "<GeometryElementPath>geometryProperty</GeometryElementPath><GeometryType>3</GeometryType>"
        f"{f'<SRSName>{system}</SRSName>' if system else ''}<DatasetSpecificInfo><FeatureCount>{count}"
        f"</FeatureCount></DatasetSpecificInfo>{fields}</GMLFeatureClass></GMLFeatureClassList>"
    )


@case("GML: a description that is right", count=COUNT)
def _(f):
    return gml(f, described=description(system="EPSG:25832"))


@case("GML: a description in another system", refused="British National Grid|take away beds.gfs")
def _(f):
    return gml(f, described=description(system="EPSG:27700"))


@case("GML: a description of fewer features", refused="3 of the 5")
def _(f):
    return gml(f, described=description(count=2))


@case("GML: a description that cuts levels", refused="'1.5'|a part is read")
def _(f):
    return gml(f, described=description(level="Integer"))


@case("GML: a schema that cuts levels", refused="'1.5'|a part is read")
def _(f):
    made = gml(f)
    schema = f / "beds.xsd"
    kind = "xs:decimal" if "xs:decimal" in schema.read_text(encoding="utf-8") else "xs:double"
    replaced(schema, kind, "xs:integer")
    return made


# shapefiles


def shapes_of_kind(folder, kind):
    """Say of the file and of all its records that they are of another kind."""
    beds(folder)
    patch(folder / "beds.shp", 32, "<i", kind)
    for number in range(COUNT):
        patch(folder / "beds.shp", record(folder, number), "<i", kind)
    return {}


for _kind in (1, 8, 11, 18, 21, 28):

    @case(f"shapefile: says its polygons are points of kind {_kind}", refused="none of its features")
    def _(f, kind=_kind):
        return shapes_of_kind(f, kind)


for _kind in (1, 3, 8, 13, 31):

    @case(f"shapefile: says in its header alone that its polygons are of kind {_kind}", refused="shape type")
    def _(f, kind=_kind):
        beds(f)
        patch(f / "beds.shp", 32, "<i", kind)


@case("shapefile: says its box is elsewhere", count=COUNT)
def _(f):
    beds(f)
    patch(f / "beds.shp", 36, "<4d", 0.0, 0.0, 1.0, 1.0)


@case("shapefile: a record that says its box is elsewhere", count=COUNT)
def _(f):
    beds(f)
    patch(f / "beds.shp", record(f, 1) + 4, "<4d", 0.0, 0.0, 1.0, 1.0)


@case("shapefile: an index that says it is shorter", refused="2 of the 5")
def _(f):
    beds(f)
    patch(f / "beds.shx", 24, ">i", (100 + 8 * 3) // 2)


@case("shapefile: an index that says a record is shorter", finding="broken-record", count=COUNT - 1)
def _(f):
    beds(f)
    patch(f / "beds.shx", 100 + 8 + 4, ">i", 10)


for _words in (10, 10_000):

    @case(f"shapefile: a record that says it has {_words} words", count=COUNT)
    def _(f, words=_words):
        beds(f)
        patch(f / "beds.shp", record(f, 1) - 4, ">i", words)


@case("shapefile: points of every kind as they should be", count=COUNT)
def _(f):
    frame(geometry=[box.centroid for box in BOXES]).to_file(f / "beds.shp", engine="pyogrio")
    return {"role": "tree", "top": None, "base": 0, "height": 5}


def multipatches(folder, kind, corners):
    """Five shapes of one part of a kind: 0 a strip of triangles, 1 a fan, 2 an outer ring."""
    beds(folder)
    x, y, z = (list(column) for column in zip(*corners, strict=True))
    body = struct.pack("<i4d4i", 31, min(x), min(y), max(x), max(y), 1, len(corners), 0, kind)
    body += b"".join(struct.pack("<2d", *corner[:2]) for corner in corners)
    body += struct.pack(f"<{2 + len(z)}d", min(z), max(z), *z)
    words = len(body) // 2
    shapes = [struct.pack(">2i", number + 1, words) + body for number in range(COUNT)]
    places = [struct.pack(">2i", 50 + number * (4 + words), words) for number in range(COUNT)]
    start = (folder / "beds.shp").read_bytes()[:100]
    for suffix, records in ((".shp", b"".join(shapes)), (".shx", b"".join(places))):
        path = folder / f"beds{suffix}"
        path.write_bytes(start + records)
        patch(path, 24, ">i", (100 + len(records)) // 2)
        patch(path, 32, "<i", 31)
    return {}


_ROOF = [(X, Y, 3.0), (X, Y + 5, 3.0), (X + 5, Y + 5, 3.0), (X + 5, Y, 3.0), (X, Y, 3.0)]
_WALL = [(X, Y, 0.0), (X, Y, 3.0), (X + 5, Y, 0.0), (X + 5, Y, 3.0)]


@case("shapefile: multipatches of one ring", count=COUNT)
def _(f):
    return multipatches(f, 2, _ROOF)


for _part, _name, _corners in [
    (0, "a strip of triangles", _WALL),
    (1, "a fan", [(X + 2, Y + 2, 5.0), *_ROOF]),
    (9, "a part of no kind", _ROOF),
]:

    @case(f"shapefile: multipatches of {_name}", refused="none of its features|set aside")
    def _(f, part=_part, corners=_corners):
        return multipatches(f, part, corners)
