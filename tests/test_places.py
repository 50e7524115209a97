"""Findings with their places, on the local plane and on the page."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from shapely import Point, box

import siteaxo
from siteaxo.cli import main
from siteaxo.diagram.places import findings_on_plane
from siteaxo.errors import Finding

CRS = "EPSG:25832"
X, Y = 420000, 5310000


def model():
    """A terrace 1.2 m above a yard, with an unguarded edge of 10 m; one tree twice."""
    terraces = gpd.GeoDataFrame(
        {"lvl": [0.0, 1.2]}, geometry=[box(X, Y, X + 10, Y + 5), box(X, Y + 5, X + 10, Y + 9)], crs=CRS
    )
    trees = gpd.GeoDataFrame({"h": [4.0, 4.0]}, geometry=[Point(X + 3, Y + 2)] * 2, crs=CRS)
    layers = [
        siteaxo.Layer(name="terraces", role="terrace", source=terraces, base=-0.5, top="lvl"),
        siteaxo.Layer(name="trees", role="tree", source=trees, height="h"),
    ]
    return siteaxo.Site(name="Yard", layers=layers, plane_crs=CRS).stack()


def test_findings_lie_where_they_are():
    found = model().findings
    assert isinstance(found, gpd.GeoDataFrame)
    assert found.crs == CRS
    by_code = found.set_index("code")
    drop = by_code.loc["drop-unguarded"]
    assert (drop["layer"], drop["source_id"], drop["value"]) == ("terraces", "1", "1.200 m")
    assert drop.geometry.y == pytest.approx(Y + 5)  # on the edge
    assert by_code.loc["double"].geometry.equals(Point(X + 3, Y + 2))


def test_findings_about_a_layer_have_no_place_and_parts_are_taken_together():
    features = model().stack.features
    whole = Finding(severity="info", code="a", layer="terraces", message="")
    gone = Finding(severity="info", code="b", layer="terraces", source_id="7", message="")
    both = Finding(severity="info", code="c", layer="terraces", source_id="0", message="")
    parted = features.take(np.array([0, 1, 1]))
    parted = parted.with_columns(source_id=np.array(["0", "0", "1"], dtype=object))
    places = findings_on_plane([whole, gone, both], parted, CRS).geometry
    assert places.isna().tolist() == [True, True, False]
    assert places[2].area == pytest.approx(90)
    assert len(findings_on_plane([], features, CRS)) == 0


def test_marks_on_the_page():
    """Seen without a turn, a point of the upper terrace lies its level up the page."""
    diagram = model().draw(siteaxo.planometric(turn=0), findings=True)
    marks = diagram.extra["finding_marks"].set_index("code")
    back = siteaxo.planometric(turn=0).matrix[:2, :2]
    assert np.allclose(back, np.eye(2))
    drop = marks.loc["drop-unguarded"]
    base = Y - diagram.view.origin_y
    assert drop.geometry.y == pytest.approx(base + 5 + 1.2 + 0.5)  # drawn in place: −0.5
    assert drop["severity"] == "warning"
    numbers = marks["number"].to_dict()
    codes = diagram.findings["code"].tolist()
    assert all(codes[number - 1] == code for code, number in numbers.items())
    assert "finding_marks" not in model().draw().extra


def test_marks_go_into_the_file_and_onto_the_sheet(tmp_path):
    diagram = model().draw(findings=True)
    diagram.to_gpkg(tmp_path / "d.gpkg")
    kept = gpd.read_file(tmp_path / "d.gpkg", layer="finding_marks")
    assert len(kept) == len(diagram.extra["finding_marks"])
    assert "geometry" not in gpd.read_file(tmp_path / "d.gpkg", layer="findings").columns
    figure = diagram.figure(sheet="A3", scale="fit")
    figure.savefig(tmp_path / "d.svg")
    text = (tmp_path / "d.svg").read_text()
    assert 'id="finding_marks"' in text
    assert "Drop unguarded: terraces 1, 1.200 m" in text
    assert "Findings" in text


def test_the_command_line_marks_them_too(tmp_path):
    site = Path(__file__).parent / "data" / "hard_sites" / "sloping_terraces" / "site.toml"
    assert main(["draw", str(site), "--out", str(tmp_path), "--findings", "--quiet"]) == 1
    assert 'id="finding_marks"' in (tmp_path / "diagram.svg").read_text()


def with_a_hut_without_level(crs=CRS):
    """A hut of 2 by 2 m whose top is a mark for no value, on a yard at 1.2 m."""
    yard = gpd.GeoDataFrame({"lvl": [1.2]}, geometry=[box(X, Y, X + 10, Y + 9)], crs=CRS)
    shapes = [box(X + 2, Y + 3, X + 4, Y + 5), box(X + 6, Y + 3, X + 8, Y + 5)]
    huts = gpd.GeoDataFrame({"ref": ["H1", "H2"], "top": [-9999.0, 4.0]}, geometry=shapes, crs=CRS)
    layers = [
        siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top="lvl"),
        siteaxo.Layer(
            name="huts", role="structure", source=huts.to_crs(crs), id="ref", base="below", top="top"
        ),
    ]
    return siteaxo.Site(name="Yard", layers=layers, plane_crs=CRS).stack()


@pytest.mark.parametrize("crs", [CRS, "EPSG:4258"])
def test_what_was_set_aside_is_told_and_marked_where_it_lies(crs):
    """In the middle of the hut, on the yard: seen from above at (3, 4) of the yard."""
    model = with_a_hut_without_level(crs)
    found = model.findings[model.findings["source_id"] == "H1"]
    assert set(found["code"]) == {"sentinel-level", "no-level"}
    for place in found.geometry:
        assert (place.x, place.y) == pytest.approx((X + 3, Y + 4), abs=1e-3)
    diagram = model.draw(siteaxo.planometric(turn=0, height_factor=1), findings=True)
    marks = diagram.extra["finding_marks"]
    own = marks[marks["source_id"] == "H1"].geometry
    yard = diagram.faces[(diagram.faces["layer"] == "yard") & (diagram.faces["part"] == "top")].total_bounds
    assert len(own) == 2
    for mark in own:
        assert (mark.x - yard[0], mark.y - yard[1]) == pytest.approx((3, 4), abs=1e-3)
