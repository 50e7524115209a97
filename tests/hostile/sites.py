"""Bad site files."""

from __future__ import annotations

import os

from .making import beds, case, site

GOOD = site({})


def _site(name, text, **expected):
    @case(f"site file: {name}", **expected)
    def _(f):
        beds(f)
        beds(f, ".gpkg")
        return text(f) if callable(text) else text


def _layer(what, refused, **changes):
    @case(f"layer: {what}", refused=refused)
    def _(f):
        beds(f)
        return changes


_site("empty", "", refused="has no layers")
_site("random bytes", lambda f: os.urandom(500), refused="site.toml")
_site("no TOML", "name = \n", refused="not valid TOML")
_site("Latin-1", lambda f: 'name = "Höfe"\n'.encode("latin-1"), refused="not written in UTF-8")
_site("UTF-16", lambda f: GOOD.encode("utf-16"), refused="site.toml")
_site("a key twice", "name = 'a'\nname = 'b'\n" + GOOD, refused="not valid TOML")
_site("five thousand brackets", "a = " + "[" * 5000, refused="site.toml")
_site(
    "a number of five thousand digits",
    "[levels]\ndrawn_in_place = " + "9" * 5000 + "\n" + GOOD,
    refused="not valid TOML",
)
_site(
    "a number of four hundred digits",
    "[levels]\ndrawn_in_place = " + "9" * 400 + "\n" + GOOD,
    refused="drawn_in_place|finite",
)
_site(
    "a hexadecimal number of four thousand digits",
    "[levels]\ndrawn_in_place = 0x" + "f" * 4000 + "\n" + GOOD,
    refused="drawn_in_place|finite",
)
_site("an unknown table", "[colours]\na = 1\n" + GOOD, refused="unknown key 'colours'")
_site("an unknown key of a layer", GOOD + "hieght = 3\n", refused="Did you mean 'height'")
_site("YAML", "layers:\n  - !!python/object/apply:os.system ['id']\n", refused="not valid TOML")
_site("twelve megabytes", lambda f: "# " + "x" * 12_000_000 + "\n" + GOOD, refused="too much")
_site("a layer that is a number", "layer = 3\n", refused="[[layer]]")
_site("a layer twice", GOOD + GOOD, refused="Two layers are called 'beds'")
_site("a plane that is a text", 'plane = "auto"\n' + GOOD, refused="[plane]")
_site("a date for a level", "[levels]\ndrawn_in_place = 1979-05-27\n" + GOOD, refused="drawn_in_place")
_site("a table for a number", "[levels.drawn_in_place]\na = 1\n" + GOOD, refused="drawn_in_place")
_site("a list for a unit", "[levels]\nunit = ['m']\n" + GOOD, refused="unit")
_site("an unknown unit", "[levels]\nunit = 'yd'\n" + GOOD, refused="unit")
_site("a base line that is infinite", "[plane]\nbase_line = inf\n" + GOOD, refused="base_line|finite")
_site("a plane in degrees", "[plane]\ncrs = 'EPSG:4326'\n" + GOOD, refused="not projected")
_site("a plane nobody knows", "[plane]\ncrs = 'EPSG:0'\n" + GOOD, refused="EPSG:0")
_site("a plane in a file", "[plane]\ncrs = '/etc/passwd'\n" + GOOD, refused="/etc/passwd")
_site("a plane at an address", "[plane]\ncrs = 'http://127.0.0.1:9/crs'\n" + GOOD, refused="127.0.0.1")
_site("a plane far away", "[plane]\ncrs = 'EPSG:2193'\n" + GOOD, refused="New Zealand")
_site("a view nobody knows", "[view]\nkind = 'perspective'\n" + GOOD, refused="perspective")
_site("a turn that is not a number", "[view]\nturn = nan\n" + GOOD, refused="turn|finite")
_site("a turn that is a text", "[view]\nturn = 'north'\n" + GOOD, refused="turn")
_site("a height factor of 1e300", "[view]\nheight_factor = 1e300\n" + GOOD, refused="height_factor")
_site("a sheet nobody knows", "[sheet]\nsize = 3\n" + GOOD, refused="sheet size")
_site("a scale of zero", "[sheet]\nscale = 0\n" + GOOD, refused="scale")
_site("a scale that is negative", "[sheet]\nscale = -200\n" + GOOD, refused="scale")
_site("a scale of 1e-300", "[sheet]\nscale = 1e-300\n" + GOOD, count=5)
_site("a style in a file outside", "style = '../x.toml'\n" + GOOD, refused="outside")
_site("a style in a file that is missing", "style = 'x.toml'\n" + GOOD, refused="x.toml")
_site("a style that is a number", "style = 3\n" + GOOD, refused="style")
_site(
    "an infinite number in a style", "[style.lines]\nprofile_mm = inf\n" + GOOD, refused="profile_mm|finite"
)
_site("shadows that are a number", "shadows = 3\n" + GOOD, refused="shadows|light")
_site("people that are a text", "people = 'many'\n" + GOOD, refused="people")
_site("planting nobody knows", "planting = 'lush'\n" + GOOD, refused="planting|lush")
_site("a name that is a list", "name = ['a']\n" + GOOD, refused="name")
_site("a name with an end of line and an escape", 'name = "a\\n\\u001b[31mb"\n' + GOOD, count=5)

_layer("an absolute path", "outside the folder", source="/etc/passwd.shp")
_layer("a path upwards", "outside the folder", source="../beds.shp")
_layer("an address", "no file on disk", source="https://127.0.0.1:9/beds.gpkg")
_layer("a virtual path", "no file on disk", source="/vsicurl/http://127.0.0.1:9/beds.gpkg")
_layer("a virtual path in a folder", "no file", source="x/vsizip/beds.zip")
_layer("a connection", "no file", source="PG:host=127.0.0.1 dbname=x")
_layer("a connection with an ending", "no file", source="MYSQL:x.gpkg")
_layer("a name with a null", "source|file", source="beds\0.shp")
_layer("a name of five thousand letters", "beds", source="b" * 5000 + ".shp")
_layer("an empty source", "source", source="")
_layer("a source that is a number", "source", source=7)
_layer("a source that is a list", "source", source=["beds.shp"])
_layer("a missing file", "there is no file", source="bed.shp")
_layer("an unknown role", "role", role="building")
_layer("a role that is a list", "role", role=["deck"])
_layer("a name that is empty", "name", name=" ")
_layer("a name that is a number", "name", name=4)
_layer("an unknown CRS", "EPSG:0", crs="EPSG:0")
_layer("a CRS that is a list", "crs", crs=[1, 2])
_layer("a CRS in a file", "/etc/passwd", crs="/etc/passwd")
_layer("a CRS at an address", "127.0.0.1", crs="http://127.0.0.1:9/x")
_layer("a CRS of fifty thousand letters", "crs", crs="+proj=" + "x" * 50_000)
_layer("a vertical CRS", "beds", crs="EPSG:5773")
_layer("a geocentric CRS", "beds", crs="EPSG:4978")
_site("an infinite height", GOOD + "height = inf\n", refused="height|finite")
_layer("a negative height", "height", top=None, height=-1)
_layer("a top below its base", "lies below", top=-5)
_layer("a level that is a list", "top", top=[1])
_layer("nothing that says how high", "says nothing about how high", top=None, base=None)
_layer("an unknown unit", "unit", unit="yd")
_layer("a Z word nobody knows", "top_z", top=None, top_z="median")
_layer("storeys without their height", "storey_height", top=None, storeys=3)
_layer("an unknown field for the id", "no field 'ref'", id="ref")
_layer("a level of 1e14", "beds", top=1e14)
_layer("a table in a shapefile", "table", table="walls")
