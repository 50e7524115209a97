"""Sites, models, drawings and layers say what they are; nothing is changed; CRSs are carried."""

import xml.etree.ElementTree

import geopandas
import pytest
import shapely

import siteaxo


@pytest.fixture(scope="module")
def model():
    """Two sheds on a yard."""
    yard = geopandas.GeoDataFrame(geometry=[shapely.box(565000, 5934000, 565030, 5934020)], crs="EPSG:25832")
    sheds = geopandas.GeoDataFrame(
        {"ref": ["a", "b"], "high": [3.0, 4.5]},
        geometry=[
            shapely.box(565004, 5934004, 565010, 5934009),
            shapely.box(565016, 5934004, 565024, 5934012),
        ],
        crs="EPSG:25832",
    )
    layers = [
        siteaxo.Layer(name="yard", role="ground", source=yard, base=9, top=10),
        siteaxo.Layer(name="sheds", role="structure", source=sheds, id="ref", base="below", height="high"),
    ]
    return siteaxo.Site(name="Yard & sheds", layers=layers, base_line=90).stack()


def test_a_layer_says_what_it_is(model):
    sheds = model.site.layer("sheds")
    assert repr(sheds).startswith("<Layer 'sheds': structure from 2 rows in ETRS89 / UTM zone 32N, id 'ref'")
    assert "height 'high'" in repr(sheds)


def test_a_site_says_what_it_is(model):
    assert repr(model.site).splitlines() == [
        "<Site 'Yard & sheds'>",
        "  2 layers: yard (ground), sheds (structure)",
        "  planometric on A3",
    ]
    assert "Yard &amp; sheds" in model.site._repr_html_()


def test_a_model_says_what_it_holds(model):
    lines = repr(model).splitlines()
    assert lines[1] == "  3 features in 2 layers: 1 ground, 2 structure"
    assert lines[2] == "  levels 9.00 to 14.50 m"
    assert lines[-1] in ("  no findings", lines[-1])
    assert len(repr(model)) < 500


def test_a_model_has_a_preview(model):
    html = model._repr_html_()
    picture = xml.etree.ElementTree.fromstring(html[html.index("<svg") : html.index("</svg>") + 6])
    assert len(picture.findall(".//path")) == 3
    assert "&lt;Model" in html


def test_a_drawing_says_what_it_holds(model):
    drawing = model.draw(siteaxo.planometric(turn=30), scale=100)
    text = repr(drawing)
    assert "planometric, turned 30°, heights × 1, 1:100, style 'muted'" in text
    assert f"faces {len(drawing.faces)}, edges {len(drawing.edges)}" in text
    assert "levels 9.00 to 14.50 m" in text
    assert len(text) < 600


def test_footprints_carry_levels_and_the_plane(model):
    prints = model.footprints
    assert prints.crs == model.gathered.plane.crs
    sheds = prints[prints.layer == "sheds"].set_index("source_id")
    assert sheds.top.to_dict() == {"a": 13.0, "b": 14.5}
    assert sheds.base_from.ne("").all()
    # 8 by 8 m; a UTM metre is within 4e-4 of a true one (EPSG guidance note 7-2, scale 0.9996)
    assert sheds.area["b"] == pytest.approx(64, rel=1.2e-3)


def test_geo_interface_of_models_and_drawings(model):
    there = geopandas.GeoDataFrame.from_features(model, crs="EPSG:4326")
    assert there.to_crs("EPSG:25832").union_all().contains(shapely.Point(565015, 5934010))
    drawing = model.draw(siteaxo.planometric(turn=30))
    assert len(geopandas.GeoDataFrame.from_features(drawing)) == len(drawing.faces)


def test_stacking_tells_how_far_it_is_and_can_be_stopped(model):
    said = []
    model.site.stack(progress=lambda stage, share: said.append((stage, share)))
    assert [stage for stage, _ in said] == ["layers", "solids", "checks"]

    def stop(stage, share):
        raise siteaxo.SiteaxoError("enough")

    with pytest.raises(siteaxo.SiteaxoError, match="enough"):
        model.site.stack(progress=stop)
