"""Contours in a drawing: a kind of line of their own, with a width and a colour."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import LineString, box

import siteaxo

CRS = "EPSG:25832"
X, Y = 420000, 5310000


def drawn(**keys):
    """Ground that rises by 3 m on 30 m northward, with contours every half metre, and a terrace in it."""
    lines = [LineString([(X, Y + 10 * k), (X + 40, Y + 10 * k)]) for k in range(4)]
    contours = gpd.GeoDataFrame({"z": [0.0, 1.0, 2.0, 3.0]}, geometry=lines, crs=CRS)
    terrace = gpd.GeoDataFrame(geometry=[box(X + 10, Y + 12, X + 20, Y + 17)], crs=CRS)
    layers = [
        siteaxo.Layer(name="contours", role="contour", source=contours, top="z"),
        siteaxo.Layer(name="court", role="terrace", source=terrace, top=1.2),
    ]
    site = siteaxo.Site(name="Slope", layers=layers, plane_crs=CRS, contour_interval=0.5)
    return site.stack().draw(siteaxo.planometric(turn=0), **keys)


def test_contours_are_lines_of_their_own_kind():
    """At 0.5, 1.0, ... 2.5 m: five, 40 m long; the terrace takes 10 m out of that at 1.5 m."""
    edges = drawn().edges
    lines = edges[edges["kind"] == "contour"]
    assert set(lines["role"]) == {"ground"}
    assert lines.geometry.length.sum() == pytest.approx(5 * 40 - 10, abs=1e-6)
    # page Y = y + z, the plan's middle and the lowest level taken off: 10 m of plan to 1 m of rise
    y = np.unique(np.round(shapely.bounds(np.asarray(lines.geometry.array))[:, 1], 3))
    assert np.diff(y) == pytest.approx(np.full(4, 5.5))


def test_a_style_gives_them_a_width_and_a_colour():
    plain = drawn().edges
    lines = plain[plain["kind"] == "contour"]
    assert set(lines["colour"]) == {siteaxo.Style().contour_ink}
    style = {"contour_ink": "#804020", "lines": {"kinds": {"contour": -1}}}
    styled = drawn(style=style).edges
    bold = styled[styled["kind"] == "contour"]
    assert set(bold["colour"]) == {"#804020"}
    assert bold["line_mm"].min() > lines["line_mm"].max()


def test_the_legend_shows_them(tmp_path):
    drawn().figure(sheet="A3", scale="fit").savefig(tmp_path / "d.svg")
    assert ">Contour<" in (tmp_path / "d.svg").read_text()
