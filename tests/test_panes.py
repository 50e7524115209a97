"""Translucent panels of rails as drawn: over what stands behind, cut by what stands before."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import LineString, box

import siteaxo
from siteaxo.craft.panes import SHOWS_THROUGH

CRS = "EPSG:25832"
X, Y = 420000, 5310000


def frame(*shapes, **columns):
    moved = [shapely.transform(one, lambda xy: xy + np.array([X, Y])) for one in shapes]
    return gpd.GeoDataFrame(columns, geometry=moved, crs=CRS)


def drawn(shape, *, wall=False, **options):
    """A rail 4 m long before a seat, seen from the south without a turn; perhaps a wall before half of it."""
    layers = [
        siteaxo.Layer(name="yard", role="terrace", source=frame(box(0, 0, 10, 10)), base=-0.5, top=0.0),
        siteaxo.Layer(name="seat", role="seat", source=frame(box(3, 5.5, 7, 6)), height=0.45),
        siteaxo.Layer(
            name="rail", role="rail", source=frame(LineString([(3, 5), (7, 5)])), height=1.1, shape=shape
        ),
    ]
    if wall:
        block = frame(box(3.0, 2.5, 5.0, 3.0))
        layers.append(siteaxo.Layer(name="wall", role="wall", source=block, base="below", height=4.0))
    site = siteaxo.Site(name="Yard", layers=layers, plane_crs=CRS)
    return site.stack().draw(siteaxo.planometric(turn=0), **options)


def seen(diagram, layer, part):
    faces = diagram.faces
    return faces[(faces["layer"] == layer) & (faces["part"] == part)].area.sum()


def test_a_panel_hides_nothing():
    panel, bars = drawn("panel"), drawn("bars")
    # posts and top bar are the same; the middle bar is left out, which shows its front and its
    # top, 3 cm each, between four posts of 5 cm, two of which stand half beyond its ends
    more = seen(panel, "seat", "side") - seen(bars, "seat", "side")
    assert more == pytest.approx(0.06 * (4 - 3 * 0.05), abs=1e-3)
    assert seen(panel, "yard", "top") == pytest.approx(seen(bars, "yard", "top"), abs=1e-6)
    assert "panels" not in bars.extra
    table = panel.extra["panels"]
    assert set(table["layer"]) == {"rail"}
    assert set(table["opacity"]) == {SHOWS_THROUGH}
    # 4 m by 0.95 m, less the posts, and less what the bar, half of it before the sheet, hides
    assert table.area.sum() == pytest.approx((4 - 3 * 0.05) * (0.95 - 0.05 / 2), abs=1e-4)


def test_what_stands_before_it_cuts_it():
    """The wall's top lies at page Y 3 + 4 = 7, above the panel's 5 + 1.05: the left half is hidden."""
    whole, half = drawn("panel").extra["panels"], drawn("panel", wall=True).extra["panels"]
    assert half.area.sum() == pytest.approx(whole.area.sum() / 2, rel=0.02)
    assert half.total_bounds[0] == pytest.approx(whole.total_bounds[0] + 2.0, abs=0.03)


def test_panels_are_lifted_with_their_rails():
    stack = siteaxo.Site(
        name="Yard",
        layers=[
            siteaxo.Layer(name="yard", role="terrace", source=frame(box(0, 0, 9, 9)), base=0, top=1.0),
            siteaxo.Layer(
                name="rail",
                role="rail",
                source=frame(LineString([(3, 5), (7, 5)])),
                height=1.1,
                shape="panel",
            ),
        ],
        plane_crs=CRS,
    ).stack()
    panels = stack.stack.panels
    raised = panels.raised(np.array([0.0, 2.5]))
    assert raised.faces.xyz[:, 2] == pytest.approx(panels.faces.xyz[:, 2] + 2.5)


def test_panels_go_into_the_file(tmp_path):
    diagram = drawn("panel", people=True)
    diagram.to_gpkg(tmp_path / "d.gpkg")
    kept = gpd.read_file(tmp_path / "d.gpkg", layer="panels")
    assert kept.area.sum() == pytest.approx(diagram.extra["panels"].area.sum())
