"""Places of drawings read back to the site, against what went in."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from courtyard import EAST, NORTH, box, court
from handmade import terraces, view_record

import siteaxo
from siteaxo.errors import InputError, ViewError
from siteaxo.measure.reading import feature_at, length_along, site_points
from siteaxo.sheet.callouts import page_of

VIEWS = {
    "planometric": siteaxo.planometric(30),
    "shortened": siteaxo.planometric(240, 2 / 3),
    "isometric": siteaxo.isometric(),
    "cabinet": siteaxo.cabinet(20),
}


@pytest.fixture(scope="module")
def model():
    return court().stack()


@pytest.fixture(scope="module", params=VIEWS, ids=str)
def diagram(request, model):
    return model.draw(VIEWS[request.param], people=False)


def page(diagram, *points):
    return page_of(np.array(points, dtype=float), diagram.view)


ON_HOUSE = (EAST + 15.0, NORTH + 4.0, 13.0)  # on its top
ON_DECK = (EAST + 17.0, NORTH + 17.5, 11.0)


def test_tops(diagram):
    for place, layer in ((ON_HOUSE, "house"), (ON_DECK, "deck")):
        found = diagram.feature_at(page(diagram, place)[0])
        assert (found.layer, found.part) == (layer, "top")
        assert (found.x, found.y, found.level) == pytest.approx(place, abs=1e-6)


def test_upright_faces(model):
    # Seen from the south-west or so, a wall of the house: the line of sight meets it half way up.
    diagram = model.draw(siteaxo.planometric(30), people=False)
    place = (EAST + 17.0, NORTH + 2.0, 11.5)  # on its south side
    found = diagram.feature_at(page(diagram, place)[0])
    assert (found.layer, found.part) == ("house", "side")
    assert (found.x, found.y, found.level) == pytest.approx(place, abs=1e-6)


def test_bare_paper_shows_nothing(diagram):
    left, bottom, _, _ = diagram.bounds
    assert diagram.feature_at((left - 1, bottom - 1)) is None
    assert np.isnan(diagram.to_site([(left - 1, bottom - 1)])).all()


def test_with_a_level(diagram):
    places = np.array([ON_HOUSE, ON_DECK, (EAST + 100, NORTH - 50, -3.0)])
    back = diagram.to_site(page(diagram, *places), level=places[:, 2])
    assert np.abs(back - places).max() < 1e-8


def test_without_a_level_it_is_what_is_seen(diagram):
    back = diagram.to_site(page(diagram, ON_HOUSE, ON_DECK))
    assert np.abs(back - np.array([ON_HOUSE, ON_DECK])).max() < 1e-6


def test_in_another_crs(model):
    diagram = model.draw(siteaxo.planometric(30), people=False)
    lonlat = diagram.to_site(page(diagram, ON_DECK), crs="EPSG:4326")[0]
    way = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:4326", always_xy=True)
    assert lonlat[:2] == pytest.approx(way.transform(*ON_DECK[:2]), abs=1e-9)
    assert lonlat[2] == pytest.approx(11.0)


def test_in_the_crs_of_its_source():
    # A platform that comes in longitude and latitude; its middle, back in longitude and latitude.
    way = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:4326", always_xy=True)
    flat = shapely.transform(box(8, 10, 14, 16), lambda x, y: way.transform(x, y), interleaved=False)
    frame = gpd.GeoDataFrame(geometry=[flat], crs="EPSG:4326")
    stage = siteaxo.Layer(name="stage", role="deck", source=frame, base=12.7, top=13.0)
    diagram = court(extra=[stage]).stack().draw(siteaxo.planometric(30), people=False)
    place = (EAST + 9.0, NORTH + 15.0, 13.0)
    found = diagram.feature_at(page(diagram, place)[0])
    assert (found.layer, found.crs) == ("stage", "WGS 84")
    assert (found.x, found.y, found.level) == pytest.approx(place, abs=1e-6)
    assert (found.source_x, found.source_y) == pytest.approx(way.transform(*place[:2]), abs=1e-9)
    same = diagram.to_site(page(diagram, place), crs="stage")[0]
    assert (same[0], same[1]) == pytest.approx((found.source_x, found.source_y), abs=1e-12)
    own = diagram.feature_at(page(diagram, ON_DECK)[0])
    assert (own.source_x, own.source_y) == pytest.approx(ON_DECK[:2], abs=1e-6)


def test_there_and_back_again():
    plane = siteaxo.LocalPlane.centred_on(5.0, 52.0)
    xy = np.array([[10.0, -20.0], [300.0, 45.5]])
    for crs, close in (("EPSG:4326", 1e-6), ("EPSG:32631", 1e-6), ("EPSG:28992", 1e-3)):  # of another datum
        out = plane.from_plane(xy, crs)
        back = shapely.get_coordinates(plane.to_plane(shapely.points(out), crs))
        assert np.abs(back - xy).max() < close
    assert np.array_equal(plane.from_plane(xy, plane.crs), xy)


def test_exploded_views_are_read_as_on_the_site(model):
    diagram = model.exploded_view(siteaxo.planometric(30), people=False)
    face = diagram.faces[(diagram.faces["layer"] == "deck") & (diagram.faces["part"] == "top")].iloc[0]
    assert face["lift_m"] != 0
    point = face.geometry.representative_point().coords[0]
    found = diagram.feature_at(point)
    assert (found.layer, found.tier) == ("deck", face["tier"])
    assert found.level == pytest.approx(11.0)
    assert EAST + 14 < found.x < EAST + 20
    assert NORTH + 12 < found.y < NORTH + 18
    assert diagram.to_site([point], level=11.0)[0] == pytest.approx((found.x, found.y, 11.0), abs=1e-6)


def test_tables_without_planes():
    # As they are read back from a GeoPackage: level faces keep their place, of others nothing is known.
    whole = terraces()
    bare = replace(whole, faces=whole.faces.drop(columns=["normal_x", "normal_y", "normal_z", "offset"]))
    for drawn in (whole, bare):
        assert site_points(drawn, [(4.0, 2.0)])[0] == pytest.approx((144.0, -59.0, 13.0))
    assert site_points(whole, [(4.0, 0.5)])[0] == pytest.approx((144.0, -60.0, 12.5))
    assert np.isnan(site_points(bare, [(4.0, 0.5)])[0]).all()
    assert feature_at(bare, (4.0, 2.0)).source_id == "7"


def test_a_written_drawing_is_read_back(model, tmp_path):
    path = tmp_path / "d.gpkg"
    for view in (siteaxo.planometric(30), siteaxo.isometric()):
        drawn = model.draw(view, people=False)
        drawn.to_gpkg(path)
        back = siteaxo.read_drawing(path)
        point = page(drawn, ON_DECK)[0]
        found = back.feature_at(point)
        assert (found.layer, found.source_id) == ("deck", "0")
        assert (found.x, found.y, found.level) == pytest.approx(ON_DECK, abs=1e-6)
        assert back.to_site([point], level=11.0)[0] == pytest.approx(ON_DECK, abs=1e-6)
        start, end = page(drawn, ON_DECK, np.add(ON_DECK, (2.0, 0, 0)))
        up = page(drawn, np.add(ON_DECK, (0, 0, 2.0)))[0]
        assert back.measure(start, up, along="height") == pytest.approx(2.0)
        if view.kind == "planometric":
            assert back.measure(start, end, along="x") == pytest.approx(2.0)
        else:
            with pytest.raises(ViewError, match="base line of this isometric view is not known"):
                back.measure(start, end, along="x")
    model.draw(siteaxo.planometric(30), people=False).to_gpkg(path, frame="map")
    with pytest.raises(siteaxo.SiteaxoError, match="map frame"):
        siteaxo.read_drawing(path)
    with pytest.raises(siteaxo.SiteaxoError, match="Cannot read"):
        siteaxo.read_drawing(tmp_path / "none.gpkg")


def test_lengths_along_the_axes(diagram):
    # The base line runs east here: x is east, y north.
    corner = np.array((EAST, NORTH, 10.0))
    for axis, step in (("x", (7.5, 0, 0)), ("y", (0, 7.5, 0)), ("height", (0, 0, 7.5))):
        start, end = page(diagram, corner, corner + step)
        assert diagram.measure(start, end, along=axis) == pytest.approx(7.5)
        assert diagram.measure(end, start, along=axis) == pytest.approx(7.5)


def test_lengths_that_cannot_be_measured():
    view = view_record(30.0)
    with pytest.raises(ViewError, match=r"along the x axis.*beside"):
        length_along(view, (0, 0), (1, 1), along="x")
    with pytest.raises(ViewError, match=r"Unknown axis 'z'.*height"):
        length_along(view, (0, 0), (1, 1), along="z")
    from_above = view_record(matrix=np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, 1]]))
    with pytest.raises(ViewError, match="end-on"):
        length_along(from_above, (0, 0), (0, 1), along="height")
    with pytest.raises(ViewError, match=r"\(n, 2\)"):
        site_points(terraces(), [1.0, 2.0])


@pytest.mark.parametrize("point", ["here", (1, "x"), None])
def test_a_place_is_two_numbers(diagram, point):
    with pytest.raises(ViewError, match="Page points must be"):
        diagram.feature_at(point)


def test_cautions_are_told_from_other_tables(model, diagram):
    for other in (model.quantities(by="role"), None):
        with pytest.raises(InputError, match=r"model\.cautions\(\)"):
            diagram.with_cautions(other)
