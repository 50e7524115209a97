"""Figures of people: their outlines, their heights, and how they stand in a scene."""

import numpy as np
import pytest
import shapely
from scenes import Builder

from siteaxo.craft.clothes import PIECES, Clothes
from siteaxo.craft.cutouts import figure_faces, outline_faces, page_right_on_plan, with_figures
from siteaxo.craft.figures import ADULTS, AT_EASE, NAMES, NEAR_SEATS, ON_PATHS, figures
from siteaxo.craft.people import People, statures
from siteaxo.craft.rows import split_drawing
from siteaxo.errors import SheetError
from siteaxo.solids.edges import edges_of
from siteaxo.view.projection import cavalier, isometric, planometric
from siteaxo.view.resolve import resolve

ORIGIN = np.zeros(3)
STANDING = [name for name in NAMES if not name.startswith("seated")]


def someone(*places, figure="standing", height=1.76, mirrored=False):
    count = len(places)
    return People(
        xyz=np.array(places, dtype=float),
        figure=np.full(count, NAMES.index(figure)),
        height=np.full(count, height),
        mirrored=np.full(count, mirrored),
        feature=np.zeros(count, dtype=np.int64),
        name=np.array([f"someone {k}" for k in range(count)], dtype=object),
    )


@pytest.mark.parametrize("figure", figures(), ids=NAMES)
def test_pieces_are_sound_and_do_not_overlap(figure):
    shapes = np.array([piece for _, piece in figure.pieces])
    assert shapely.is_valid(shapes).all()
    assert {word for word, _ in figure.pieces} <= set(PIECES)
    assert shapely.area(shapes).sum() == pytest.approx(shapely.union_all(shapes).area, abs=1e-5)
    most = 60 if figure.name in ("walking", "strolling", "standing", "waiting", "seated", "child") else 110
    assert shapely.get_num_coordinates(shapes).max() <= most
    assert figure.outline.area == pytest.approx(shapely.area(shapes).sum(), rel=0.02)


@pytest.mark.parametrize("figure", figures(), ids=NAMES)
def test_size(figure):
    left, bottom, right, top = figure.outline.bounds
    assert bottom == pytest.approx(0, abs=0.006)
    if figure.name in STANDING and figure.name != "wheelchair":
        assert top == pytest.approx(1, abs=0.006)  # drawn by the metre of their height
    else:
        assert 0.75 < top < 0.9  # a sitting person is about four fifths as tall
    assert figure.reach == pytest.approx(max(-left, right), abs=2e-3)


def test_heads_and_legs_are_in_proportion():
    # Seven to eight heads to the height of an adult, half of it legs (common practice).
    for name in ("walking", "standing", "strolling"):
        pieces = figures()[NAMES.index(name)].pieces
        head = shapely.union_all([p for word, p in pieces if word == "hair"])
        neck = shapely.union_all([p for word, p in pieces if word == "upper"]).bounds[3]
        assert 1 / 8.5 < head.bounds[3] - neck < 1 / 6
        legs = [p for word, p in pieces if word == "lower"]
        assert shapely.union_all(legs).bounds[3] < 0.6


def test_every_choice_is_a_figure():
    for choice in (ON_PATHS, AT_EASE, NEAR_SEATS):
        assert set(choice) <= set(STANDING)
        assert min(choice.values()) > 0


def test_statures_follow_the_census():
    # NCHS Series 3 No. 39: US adults 2011-14, men 1.76 m and women 1.62 m.
    names = np.array([f"person {k}" for k in range(4000)], dtype=object)

    def drawn(figure):
        return statures(np.full(len(names), NAMES.index(figure)), names, seed=1)

    assert drawn("standing").mean() == pytest.approx(1.76, abs=0.01)
    assert drawn("waiting").mean() == pytest.approx(1.62, abs=0.01)
    assert drawn("walking").mean() == pytest.approx((1.76 + 1.62) / 2, abs=0.01)
    for figure in NAMES:
        assert drawn(figure).min() >= 1.2
        assert drawn(figure).max() <= 1.9
    assert drawn("child").max() < 1.45
    assert drawn("standing").tolist() == drawn("standing").tolist()


def test_height_on_the_page():
    # In a planometric view heights rise straight up at their scale; the figure keeps its shape.
    view = planometric(turn=40)
    people = someone((3.0, 2.0, 1.0), height=1.8)
    faces = figure_faces(people, page_right_on_plan(view)).faces
    page = view.to_page(faces.xyz)[:, :2]
    foot = view.to_page([[3.0, 2.0, 1.0]])[0, :2]
    assert page[:, 1].max() - foot[1] == pytest.approx(1.8, abs=0.012)
    outline = figures()[people.figure[0]].outline
    assert np.ptp(page[:, 0]) == pytest.approx(1.8 * (outline.bounds[2] - outline.bounds[0]), abs=2e-3)


@pytest.mark.parametrize("view", [planometric(70), isometric(), cavalier(20)])
def test_figures_are_flat_upright_and_level_on_the_page(view):
    right = page_right_on_plan(view)
    across = view.to_page([[*right, 0.0]])[0]
    assert across[0] > 0
    assert across[1] == pytest.approx(0, abs=1e-12)
    faces = figure_faces(someone((5.0, 5.0, 0.0)), right).faces
    normal = np.array([right[1], -right[0], 0.0])
    assert np.abs((faces.xyz - [5.0, 5.0, 0.0]) @ normal).max() < 1e-12
    assert faces.two_sided.all()


def test_mirrored_figures_look_the_other_way():
    right = np.array([1.0, 0.0])
    one, other = (
        figure_faces(someone((0, 0, 0), figure="walking", mirrored=m), right) for m in (False, True)
    )
    assert one.faces.xyz[:, 0] == pytest.approx(-other.faces.xyz[:, 0])


def test_one_solid_a_figure_with_all_its_pieces():
    people = someone((0, 0, 0), (5, 0, 0), (9, 0, 0), figure="cyclist")
    made = figure_faces(people, np.array([1.0, 0.0]))
    pieces = len(figures()[NAMES.index("cyclist")].pieces)
    assert np.bincount(made.faces.solid).tolist() == [pieces] * 3
    assert len(made.piece) == 3 * pieces
    outline = outline_faces(people, np.array([1.0, 0.0]))
    assert set(outline.solid) == {0, 1, 2}


def whole_area(people):
    return sum(figures()[k].outline.area * h**2 for k, h in zip(people.figure, people.height, strict=True))


def test_hiding_is_exact():
    # View from the south, heights at full scale. A wall 2 m high stands 1 m in front of the
    # figure: it covers the page up to 2 m above its foot, which is 1 m above the figure's feet.
    b = Builder()
    b.prism([(-10, -10), (10, -10), (10, 10), (-10, 10)], -1, 0)
    b.prism([(-5, -1.2), (5, -1.2), (5, -1.0), (-5, -1.0)], 0, 2)
    bare = b.scene()
    people = someone((0.0, 0.0, 0.0), (0.0, -4.0, 0.0), (7.0, 0.0, 0.0), height=1.7)
    view = planometric(turn=0)
    figure = figure_faces(people, page_right_on_plan(view))
    scene = with_figures(bare, figure)
    drawing = resolve(scene, view, origin=ORIGIN)
    site, part = split_drawing(drawing, scene, np.arange(len(scene.rank)) >= len(bare.rank))
    owner = scene.faces.solid[part.face] - len(bare.rank)
    seen = np.bincount(owner, shapely.area(part.visible.polygon), minlength=3)
    outline = figures()[people.figure[0]].outline
    above = shapely.intersection(shapely.transform(outline, lambda xy: 1.7 * xy), shapely.box(-2, 1.0, 2, 3))
    assert seen[0] == pytest.approx(above.area, abs=2e-3)
    assert seen[1:] == pytest.approx(whole_area(people) / 3, abs=2e-3)
    total = shapely.area(site.visible.polygon).sum() + seen.sum()
    bare_area = shapely.area(resolve(bare, view, origin=ORIGIN).visible.polygon).sum()
    # the southern figure's head, and no other, is seen against the wall and the ground
    assert total == pytest.approx(bare_area, abs=1e-6)


def test_only_outlines_are_lines():
    b = Builder()
    b.prism([(-10, -10), (10, -10), (10, 10), (-10, 10)], -1, 0)
    bare, view = b.scene(), planometric(turn=30)
    people = someone((0.0, 0.0, 0.0), figure="walking")
    scene = with_figures(bare, figure_faces(people, page_right_on_plan(view)))
    drawing = resolve(scene, view, origin=ORIGIN)
    site, part = split_drawing(drawing, scene, np.arange(len(scene.rank)) >= len(bare.rank))
    line = part.dashes.xy(part.edges)
    length = np.hypot(*(line[:, 1] - line[:, 0]).T).sum()
    outline = figures()[people.figure[0]].outline
    assert length == pytest.approx(outline.length * people.height[0], rel=0.03)
    assert (site.edges.source < len(bare.edges)).all()
    assert len(site.dashes) + len(part.dashes) == len(drawing.dashes)


def test_site_comes_first_in_a_scene_with_figures():
    b = Builder()
    b.prism([(0, 0), (4, 0), (4, 3), (0, 3)], 0, 2)
    bare = b.scene()
    scene = with_figures(bare, figure_faces(someone((1, 1, 2)), np.array([1.0, 0.0])))
    assert np.array_equal(scene.faces.xyz[: len(bare.faces.xyz)], bare.faces.xyz)
    assert np.array_equal(scene.edges.start[: len(bare.edges)], bare.edges.start)
    whole = edges_of(scene.faces)
    assert len(scene.edges) == len(whole)
    assert np.bincount(scene.edges.face, minlength=len(scene.faces)).tolist() == (
        np.bincount(whole.face, minlength=len(scene.faces)).tolist()
    )


def test_clothes():
    piece = np.array(["skin", "upper", "upper", "thing"], dtype=object)
    name = np.array(["a", "a", "a", "b"], dtype=object)
    look = Clothes()
    fills = look.fills(piece, name)
    assert fills[1] == fills[2]
    assert all(fill in look.tones[word] for fill, word in zip(fills, piece, strict=True))
    assert set(Clothes.plain("#ffffff", "#000000").fills(piece, name)) == {"#ffffff"}
    many = np.array([f"n{k}" for k in range(300)], dtype=object)
    assert set(look.fills(np.full(300, "upper", dtype=object), many)) == set(look.tones["upper"])


def test_clothes_must_cover_every_piece():
    with pytest.raises(SheetError, match="upper"):
        Clothes(tones={piece: ("#ffffff",) for piece in PIECES if piece != "upper"})
    with pytest.raises(SheetError, match="#rrggbb"):
        Clothes(line="black")


def test_adults_are_not_taller_than_the_tallest():
    assert all(mean + 2 * spread < 1.95 for mean, spread in ADULTS)
