"""Sites, models, drawings and layers say what they are; nothing is changed; CRSs are carried."""

import io
import xml.etree.ElementTree

import geopandas
import matplotlib.image
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


def sides(png: bytes) -> tuple[int, int]:
    """Width and height of a picture [px]."""
    high, wide = matplotlib.image.imread(io.BytesIO(png)).shape[:2]
    return wide, high


def ink(png: bytes) -> float:
    """Share of a picture that is not paper."""
    seen = matplotlib.image.imread(io.BytesIO(png))[..., :3]
    return float((seen.min(axis=2) < 0.9).mean())


def test_a_comparison_has_a_preview(model):
    """Both states on a sheet, and a table of how many features differ."""
    taller = [
        layer if layer.name == "yard" else siteaxo.Layer(
            name="sheds", role="structure", source=layer.source, id="ref", base="below", height=6.0
        )
        for layer in model.site.layers
    ]  # fmt: skip
    states = {"today": model.site, "taller & new": siteaxo.Site(name="Yard", layers=taller, base_line=90)}
    found = siteaxo.compare(states)
    wide, high = sorted(sides(found._repr_png_()), reverse=True)
    assert wide / high == pytest.approx(297 / 210, rel=0.01)  # A4
    assert ink(found._repr_png_()) > 0.03
    html = found._repr_html_()
    assert html.count("<img src=") == 1
    assert "taller &amp; new" in html
    assert "<td>changed</td>" in html


def test_a_study_has_a_preview_with_pictures_and_without(model):
    study = model.study(turns=(30, 60))
    assert sides(study._repr_png_())[0] / sides(study._repr_png_())[1] == pytest.approx(297 / 210, rel=0.01)
    assert ink(study._repr_png_()) > 0.03
    assert study._repr_html_().startswith('<img src="data:image/png;base64,')
    assert "Yard &amp; sheds" in study._repr_html_()
    plain = model.study(turns=(30, 60), pictures=False)
    assert plain._repr_png_() is None
    html = plain._repr_html_()
    assert "<img" not in html
    assert html.count("<tr") == 3  # names of columns, and a row for each view
    assert "Yard &amp; sheds" in html


def test_sheets_of_several_drawings_say_sizes_and_scales(model):
    one = model.draw(siteaxo.planometric(turn=30))
    both = siteaxo.side_by_side([one, one], sheet="A2", scale=200, orientation="portrait", title="Two")
    assert repr(both) == "<SheetFigure 'Two': A2, 420 × 594 mm, 1:200>"


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
