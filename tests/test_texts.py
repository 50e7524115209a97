"""Field names, encodings and the CRS that a layer says it has."""

import numpy as np
import pyproj
import pytest

from siteaxo.errors import CrsError, FieldError
from siteaxo.source.layers import Layer
from siteaxo.source.texts import crs_of, horizontal, match_fields, mend_texts


def layer(**options):
    return Layer(**{"name": "beds", "role": "lawn", "source": "beds.shp", **options})


def test_exact_names_go_before_alike_ones():
    names, findings = match_fields(layer(top="lvl"), ["LVL", "lvl"])
    assert names == {"lvl": "lvl"}
    assert findings == []


def test_two_names_alike_are_not_guessed_at():
    with pytest.raises(FieldError, match="It has: LVL, lvl"):
        match_fields(layer(top="Lvl"), ["LVL", "lvl"])


def test_a_missing_field_says_what_for():
    with pytest.raises(FieldError, match=r"no field 'lvl' \(for base and top\)\. It has no fields\.$"):
        match_fields(layer(base="lvl", top="lvl"), [])


def test_texts_are_mended_one_by_one():
    values = np.array(["gr\u00c3\u00a8s", "gr\u00e8s", "granite", None, 4], dtype=object)
    columns, (finding,) = mend_texts({"mat": values}, "ISO-8859-1", "beds")
    assert columns["mat"].tolist() == ["grès", "grès", "granite", None, 4]
    assert values[0] == "gr\u00c3\u00a8s"  # the input is not changed
    assert "Of 2 texts" in finding.message
    assert "1 are read as UTF-8 and 1 as Latin-1" in finding.message


def test_texts_in_a_declared_encoding_are_left_alone():
    values = np.array(["gr\u00c3\u00a8s"], dtype=object)
    columns, findings = mend_texts({"mat": values}, "UTF-8", "beds")
    assert columns["mat"] is values
    (finding,) = findings
    assert (finding.severity, finding.code, finding.field) == ("warning", "encoding", "mat")
    assert "look like UTF-8" in finding.message
    assert mend_texts({"mat": np.array(["grès", "Ãlvaro"], dtype=object)}, "UTF-8", "beds")[1] == []


def test_the_declared_crs_where_the_source_has_none():
    crs, findings = crs_of(layer(crs="EPSG:25832"), None)
    assert crs.to_epsg() == 25832
    assert findings == []


def test_a_declared_crs_that_agrees_is_no_finding():
    assert crs_of(layer(crs="EPSG:4326"), pyproj.CRS("OGC:CRS84"))[1] == []


def test_a_declared_crs_that_differs_is_used_and_reported():
    crs, (finding,) = crs_of(layer(crs="EPSG:25833"), "EPSG:25832")
    assert crs.to_epsg() == 25833
    assert (finding.code, finding.severity) == ("crs-declared", "warning")
    assert "UTM zone 32N" in finding.message


def test_a_crs_nobody_understands():
    with pytest.raises(CrsError, match="cannot be understood"):
        crs_of(layer(), "PROJCS[")
    assert crs_of(layer(crs="EPSG:25832"), "PROJCS[")[0].to_epsg() == 25832


ENGINEERING = (
    'ENGCRS["site grid",EDATUM["a nail"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],UNIT["m",1]]'
)


@pytest.mark.parametrize("crs", [ENGINEERING, "EPSG:4978", "EPSG:5773"])
def test_crss_that_give_no_place_in_plan(crs):
    with pytest.raises(CrsError, match=r"'beds'.*does not give places on the Earth in plan"):
        crs_of(layer(), crs)


@pytest.mark.parametrize(("crs", "flat"), [("EPSG:7415", 28992), ("EPSG:4979", 4326), ("EPSG:27700", 27700)])
def test_the_part_in_plan(crs, flat):
    assert horizontal(pyproj.CRS(crs)).equals(pyproj.CRS(flat), ignore_axis_order=True)
