"""Forms of plug-ins: their solids are closed, look outward and have the volume of the bodies they are."""

import geopandas
import pytest
import shapely
from installed import EXAMPLE, install, make_plug_in
from solidity import open_edges, solid_of, stacked, volume, warps

import siteaxo
from siteaxo import plugins
from siteaxo.plugins import INTERFACE, PlugInError
from siteaxo.registry import all_plug_ins
from siteaxo.solids.faces import PARTS

PYRAMID = f"""
import numpy as np
import shapely
import siteaxo
SITEAXO_INTERFACE = {INTERFACE}
ROLE = siteaxo.Role(name="harbour.tent", order=9, form="harbour.pyramid", theme="structures")

def pyramid(footprint, base, top):
    hull = shapely.orient_polygons(shapely.convex_hull(footprint))
    xy, row = shapely.get_coordinates(hull, return_index=True)
    low = np.column_stack([xy, base[row]])
    tip = np.column_stack([shapely.get_coordinates(shapely.centroid(hull)), top])[row]
    here = np.flatnonzero(row[1:] == row[:-1])
    sides = shapely.polygons(np.stack([low[here], low[here + 1], tip[here]], axis=1))
    under = shapely.reverse(shapely.polygons(shapely.linearrings(low, indices=row)))
    return np.concatenate([sides, under]), np.concatenate([row[here], np.arange(len(hull))])
"""


@pytest.fixture
def packages(tmp_path, monkeypatch):
    """A folder on the path that plug-ins can be installed in."""
    monkeypatch.syspath_prepend(str(tmp_path))
    plugins.look_again()
    yield tmp_path
    monkeypatch.undo()
    plugins.look_again()


def add(folder, name, code=PYRAMID):
    """Install a plug-in with the role and the form of a tent; each test has a module name of its own."""
    entries = {
        "siteaxo.roles": {"harbour.tent": f"{name}:ROLE"},
        "siteaxo.forms": {"harbour.pyramid": f"{name}:pyramid"},
    }
    make_plug_in(folder, name, code, entries)
    plugins.look_again()


def model_of(role, *footprints, **levels):
    frame = geopandas.GeoDataFrame(geometry=list(footprints), crs="EPSG:25832")
    slab = geopandas.GeoDataFrame(geometry=[shapely.box(-20, -20, 20, 20)], crs="EPSG:25832")
    layers = [
        siteaxo.Layer(name="yard", role="terrace", source=slab, base=0, top=1),
        siteaxo.Layer(name="things", role=role, source=frame, base="below", **levels),
    ]
    return siteaxo.Site(layers=layers, base_line=90).stack()


def test_pyramids_have_a_third_of_base_times_height(packages):
    add(packages, "tents_a")
    things = {"role": "harbour.tent", "base": 1.0, "height": 2.5}
    boxes = (shapely.box(0, 0, 4, 3), shapely.box(8, 0, 10, 2))
    stack = stacked(*({**things, "geometry": box} for box in boxes))
    for row, area in ((0, 12.0), (1, 4.0)):
        solid = solid_of(stack, row)
        assert volume(solid) == pytest.approx(area * 2.5 / 3)
        assert open_edges(solid) == 0
        assert {PARTS[part] for part in solid.part} == {"side", "soffit"}


def test_mounds_of_the_example_are_frustums_on_a_kerb(packages):
    install(EXAMPLE, packages)
    plugins.look_again()
    box = shapely.box(0, 0, 8, 6)
    stack = stacked({"role": "quayside.play_mound", "geometry": box, "base": 0.0, "height": 1.4, "rim": 0.2})
    solid = solid_of(stack, 0)
    # Frustum between areas A and A/4: h/3 (A + sqrt(A A/4) + A/4) = 7/12 A h.
    assert volume(solid) == pytest.approx(48 * 0.2 + 48 * 1.2 * 7 / 12)
    assert open_edges(solid) == 0
    assert warps(solid) < 1e-9
    assert sorted(PARTS[part] for part in solid.part) == ["side"] * 8 + ["soffit", "top"]


def test_leaning_sides_count_as_true_area(packages):
    add(packages, "tents_d")
    model = model_of("harbour.tent", shapely.box(0, 0, 4, 4), height=1.5)
    rows = model.quantities(by="role")
    (row,) = (row for _, row in rows[rows["role"] == "harbour.tent"].iterrows())
    # Four triangles over a square w wide, each as high as the slope from the middle of a side to the tip.
    w = row["plan_area_m2"] ** 0.5
    assert row["true_area_m2"] == pytest.approx(2 * w * ((w / 2) ** 2 + 1.5**2) ** 0.5)
    assert row["side_area_m2"] == 0


def test_what_stands_on_a_form_stands_on_its_top(packages):
    install(EXAMPLE, packages)
    plugins.look_again()
    mound = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    tree = geopandas.GeoDataFrame(geometry=[shapely.Point(4, 3)], crs="EPSG:25832")
    layers = [
        siteaxo.Layer(name="mound", role="quayside.play_mound", source=mound, base=2, top=3.5),
        siteaxo.Layer(name="trees", role="tree", source=tree, base="below", height=6, shape="quayside.alder"),
    ]
    model = siteaxo.Site(layers=layers).stack()
    assert model.footprints.set_index("layer").loc["trees", "base"] == 3.5
    assert not len(model.findings)
    drawn = model.draw(siteaxo.planometric(turn=0, height_factor=0), planting="texture").extra["planting"]
    assert (drawn["kind"] == "symbol").any()


WRONG = {
    "open": ("np.concatenate([sides, under])", "sides", "open: 4 edges"),
    "inside out": ("low[here], low[here + 1], tip[here]", "low[here + 1], low[here], tip[here]", "open"),
    "all inside out": (
        "return np.concatenate([sides, under])",
        "return shapely.reverse(np.concatenate([sides, under]))",
        "inside out",
    ),
    "flat": ("np.concatenate([sides, under]),", "shapely.force_2d([*sides, *under]),", "polygon with Z"),
    "nobody's": ("np.arange(len(hull))])", "np.arange(len(hull)) + 7])", "for no other"),
    "broken": ("hull = ", "hull = 1 / 0 # ", "ZeroDivisionError"),
}


@pytest.mark.parametrize("case", WRONG)
def test_solids_that_are_not_sound_are_refused_by_name(packages, case):
    good, bad, words = WRONG[case]
    code = PYRAMID.replace(good, bad)
    if case == "open":
        code = code.replace("np.concatenate([row[here], np.arange(len(hull))])", "row[here]")
    assert code != PYRAMID
    add(packages, f"tents_{case.translate(str.maketrans(' ', '_', chr(39)))}", code)
    with pytest.raises(PlugInError, match=rf"harbour\.pyramid' of tents\S* 1\.0.*{words}"):
        model_of("harbour.tent", shapely.box(0, 0, 4, 3), height=2.5)


@pytest.mark.parametrize(
    "parameters", ["footprint, base", "footprint, base, top, *, girth", "shape, base, top"]
)
def test_a_form_takes_footprints_and_levels(packages, parameters):
    name = f"tents_{len(parameters)}"
    add(packages, name, PYRAMID.replace("footprint, base, top)", f"{parameters})"))
    (finding,) = all_plug_ins()["forms"].findings
    assert "a form takes (footprint, base, top)" in finding.message
    with pytest.raises(PlugInError, match="a form takes"):
        model_of("harbour.tent", shapely.box(0, 0, 4, 3), height=2.5)


def test_a_form_that_is_not_installed_says_so(packages):
    code = PYRAMID.replace("harbour.pyramid", "harbour.dome")
    add(packages, "tents_b", code)
    with pytest.raises(PlugInError, match=r"adds the form 'harbour\.dome'") as caught:
        model_of("harbour.tent", shapely.box(0, 0, 4, 3), height=2.5)
    assert str(caught.value).startswith("Layer 'things', role 'harbour.tent': ")
    assert (caught.value.layer, caught.value.field) == ("things", "harbour.dome")


def test_a_form_that_fails_names_its_package_and_whom_it_was_asked_for(packages):
    add(packages, "tents_f", PYRAMID.replace("hull = ", "hull = 1 / 0 # "))
    words = "of tents_f 1.0 failed.*role 'harbour.tent' by layer 'things', feature 0.*fault of tents_f"
    with pytest.raises(PlugInError, match=words) as caught:
        model_of("harbour.tent", shapely.box(0, 0, 4, 3), height=2.5)
    assert (caught.value.layer, caught.value.source_ids) == ("things", ("0",))
    assert isinstance(caught.value.__cause__, ZeroDivisionError)


def test_a_role_that_is_not_installed_names_its_layer(packages):
    with pytest.raises(
        PlugInError, match=r"^Layer 'things': No installed plug-in adds the role 'harbour\.tent'"
    ):
        model_of("harbour.tent", shapely.box(0, 0, 4, 3), height=2.5)


def test_faces_are_drawn_where_the_solid_is(packages):
    add(packages, "tents_c")
    model = model_of("harbour.tent", shapely.box(0, 0, 4, 4), height=1.0)
    faces = model.draw(siteaxo.planometric(turn=0)).faces
    seen = faces[faces.layer == "things"].area
    # At a height factor of 1 the tip is 1 m up the page from the middle of a square w wide: triangles
    # of w (w/2 ± 1) / 2 below and above it, and twice w²/4 on the flanks.
    w = model.footprints.set_index("layer").loc["things", "geometry"].area ** 0.5
    assert sorted(seen) == pytest.approx([w * (w / 2 - 1) / 2, w * w / 4, w * w / 4, w * (w / 2 + 1) / 2])


def test_plug_in_roles_are_counted_said_and_studied_like_others(packages):
    add(packages, "tents_e")
    model = model_of("harbour.tent", shapely.box(0, 0, 4, 4), shapely.box(8, 0, 12, 4), height=1.5)
    drawing = model.draw(siteaxo.planometric(turn=30))
    assert "One terrace at 1.00 m, two tents; 3 features in all." in drawing.figure(scale="fit").description
    assert "harbour.tent" in set(model.study(turns=(30,)).roles["role"])
    assert "tents" in [words.detail for words in model.exploded_view(by="theme").beside]
    by_role = model.exploded_view(by="role")
    assert [words.text for words in by_role.beside] == ["Terrace", "Tent", "Plan"]
    grouped = model.exploded_view(by={"Below": "terrace", "Above": "harbour.tent"})
    assert [words.text for words in grouped.beside] == ["Below", "Above", "Plan"]


def test_a_style_may_say_how_heavy_a_plug_ins_role_is_drawn():
    from siteaxo.craft.stylefile import style_from

    style = style_from({"lines": {"roles": {"harbour.tent": -2}}})
    assert style.weights.roles["harbour.tent"] == -2
    with pytest.raises(siteaxo.SiteaxoError, match="tent"):
        style_from({"lines": {"roles": {"tent": -2}}})
