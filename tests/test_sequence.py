"""Sequences: steps of a drawing with one extent, a strip, and pages of one PDF."""

import geopandas as gpd
import numpy as np
import pypdfium2
import pytest
import shapely
from courtyard import CRS, box, court, layer
from places import PLACES

import siteaxo
from siteaxo.craft.steps import STEPS, rises_of
from siteaxo.errors import OutputError, ViewError

VIEW = siteaxo.planometric(turn=60)


@pytest.fixture(scope="module")
def model():
    return court().stack()


@pytest.fixture(scope="module")
def drawings(model):
    return model.sequence(VIEW, people=True)


def block():
    """One block of 4 × 3 m from 1 to 3 m above ground at 1 m, whose lowest level is 0."""
    return siteaxo.Site(
        name="Block",
        layers=[
            layer("ground", "ground", box(0, 10, 0, 8), base=0.0, top=1.0),
            layer("block", "structure", box(3, 7, 2, 5), base="below", height=2.0),
        ],
        plane_crs=CRS,
        base_line=90.0,
    ).stack()


def lengths(diagram, layer_name, kind):
    rows = diagram.edges[(diagram.edges["layer"] == layer_name) & (diagram.edges["kind"] == kind)]
    return np.sort(shapely.length(rows.geometry.array))


def test_all_steps_come_in_the_order_of_the_hand(drawings):
    assert [one.caption for one in drawings] == [
        "Plan, square to its base line",
        "Plan turned by 60°",
        "Outlines at the lowest level, 9.00 m",
        "Heights raised: level 10.00 m",
        "Corners joined, nothing hidden",
        "Hidden lines removed",
        "People and colour",
    ]
    assert len({one.extent for one in drawings}) == 1
    assert len({one.bounds for one in drawings}) == 1


def test_any_subset_in_any_order(model):
    chosen = model.sequence(VIEW, steps=("joined", "plan"), people=False)
    assert [one.caption for one in chosen] == [
        "Corners joined, nothing hidden",
        "Plan, square to its base line",
    ]
    with pytest.raises(ViewError, match="Did you mean 'joined'"):
        model.sequence(VIEW, steps=("joint",))
    with pytest.raises(ViewError, match="no step"):
        model.sequence(VIEW, steps=())
    with pytest.raises(ViewError, match="frames"):
        model.sequence(VIEW, steps="raised", frames=0)


def test_verticals_of_a_block_by_hand():
    """Four corners of a block, 2 m high at full scale, over 1 m of construction (worked by hand)."""
    outlines, raised = block().sequence(VIEW, steps=("outlines", "raised"), frames=1)
    assert lengths(outlines, "block", "construction") == pytest.approx([3, 3, 4, 4])
    assert lengths(raised, "block", "vertical") == pytest.approx([2.0] * 4)
    assert lengths(raised, "block", "construction") == pytest.approx([1, 1, 1, 1, 3, 3, 4, 4])
    xy = shapely.get_coordinates(raised.edges[raised.edges["kind"] == "vertical"].geometry.array).reshape(
        -1, 2, 2
    )
    assert np.abs(xy[:, 1, 0] - xy[:, 0, 0]).max() < 1e-9


def test_wireframe_of_a_block_has_its_twelve_edges():
    """Nothing is hidden: three edges of each of four corners, halved (identity)."""
    (joined,) = block().sequence(VIEW, steps="joined")
    assert lengths(joined, "block", "edge") == pytest.approx([2] * 4 + [3] * 4 + [4] * 4)
    assert not len(joined.hidden_edges)
    assert not len(joined.faces)


def test_wireframe_is_what_is_seen_and_what_is_hidden_together():
    """Length of all edges = visible + hidden of the drawing, as no two edges coincide (identity)."""
    model = siteaxo.Site(
        name="Block",
        layers=[layer("b", "terrace", box(0, 4, 0, 3), base=0.0, top=2.0)],
        plane_crs=CRS,
        base_line=90.0,
    ).stack()
    (joined,) = model.sequence(VIEW, steps="joined")
    drawn = model.draw(VIEW)
    whole = drawn.edges.geometry.length.sum() + drawn.hidden_edges.geometry.length.sum()
    # Page coordinates of a drawing are rounded to 2⁻²⁴ m, some 6e-8 m.
    assert joined.edges.geometry.length.sum() == pytest.approx(whole, abs=36 * 6e-8)
    assert whole == pytest.approx(4 * (4 + 3 + 2), abs=36 * 6e-8)


def test_outlines_lie_on_the_turned_plan(model):
    turned, outlines = model.sequence(VIEW, steps=("turned", "outlines"))
    house = outlines.edges[outlines.edges["layer"] == "house"]
    plan = turned.plan[turned.plan["layer"] == "house"].geometry.iloc[0]
    drop = (9.0 - turned.view.drawn_in_place) * VIEW.matrix[1, 2]
    lines = shapely.union_all(house.geometry.array)
    assert lines.hausdorff_distance(shapely.affinity.translate(plan.exterior, 0, drop)) < 1e-6


def test_heights_rise_terrace_by_terrace():
    stack = PLACES["quay"]().stack().stack
    group, rises = rises_of(stack, 5)
    assert [rise.words for rise in rises] == ["level −0.40 m", "level 3.40 m"]
    _, together = rises_of(stack, 1)
    assert [rise.words for rise in together] == ["levels −0.40 to 3.40 m"]
    assert set(group) == {0, 1}


def test_new_heights_are_told_from_earlier_ones():
    first, second = PLACES["quay"]().stack().sequence(steps="raised")
    quay = lambda one, kind: ((one.edges["layer"] == "quay") & (one.edges["kind"] == kind)).sum()  # noqa: E731
    bed = lambda one, kind: ((one.edges["layer"] == "bed") & (one.edges["kind"] == kind)).sum()  # noqa: E731
    assert bed(first, "vertical") == bed(second, "edge") == 4
    assert quay(first, "vertical") == 0 < quay(second, "vertical")
    wide = second.edges.groupby("kind")["line_mm"].max()
    assert wide["vertical"] > wide["edge"] >= wide["construction"]


def test_every_step_is_a_diagram_with_its_tables(drawings, tmp_path):
    for number, one in enumerate((drawings[0], drawings[3], drawings[6])):
        path = tmp_path / f"{number}.gpkg"
        one.to_gpkg(path)
        assert len(gpd.read_file(path, layer="edges")) == len(one.edges) > 0
        assert len(gpd.read_file(path, layer="plan")) == 10


def test_figures_lie_on_one_another(drawings):
    windows = []
    for one in drawings:
        figure = one.figure(sheet="A3", scale="fit", levels=False)
        axes = next(ax for ax in figure.axes if ax.get_gid() == "drawing")
        windows.append((*axes.get_xlim(), *axes.get_ylim(), figure.drawing.scale))
    assert len(set(windows)) == 1


def test_strip_has_one_scale_and_its_captions(drawings):
    figure = siteaxo.side_by_side(drawings, sheet="A2", levels=False)
    assert len({one.scale for one in figure.drawing}) == 1
    texts = {text.get_text() for ax in figure.axes for text in ax.texts}
    assert {f"{k}  {one.caption}" for k, one in enumerate(drawings, start=1)} <= {
        " ".join(text.split(" ", 1)[:1]) + "  " + text.split(" ", 1)[1].strip()
        for text in texts
        if " " in text
    }


def test_pages_of_one_pdf(drawings, tmp_path):
    path = tmp_path / "steps.pdf"
    figures = [one.figure(sheet="A4", scale="fit", levels=False) for one in drawings[2:5]]
    siteaxo.write_pages(figures, path)
    document = pypdfium2.PdfDocument(path)
    assert len(document) == 3
    for page in document:
        width, height = (side / 72 * 25.4 for side in page.get_size())
        assert (width, height) == pytest.approx((297, 210), abs=0.01)
    first = path.read_bytes()
    siteaxo.write_pages(figures, path)
    assert path.read_bytes() == first
    assert first.count(b"/S /Figure") == 3
    with pytest.raises(OutputError, match=r"\.pdf"):
        siteaxo.write_pages(figures, tmp_path / "steps.png")
    with pytest.raises(OutputError, match="no figure"):
        siteaxo.write_pages([], path)
    assert path.read_bytes() == first


def test_known_steps_are_those_of_the_docs():
    assert STEPS == ("plan", "turned", "outlines", "raised", "joined", "removed", "finished")
