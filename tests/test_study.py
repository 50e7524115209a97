"""Views studied: what each shows of every face, by figures worked out on paper."""

import math

import numpy as np
import pytest
import shapely
from solidity import stacked

from siteaxo.errors import LayerError, ViewError
from siteaxo.measure.viewing import study_tables
from siteaxo.view.choices import candidates, other_hand
from siteaxo.view.projection import cavalier, dimetric, isometric, planometric
from siteaxo.view.selection import Selection
from siteaxo.view.study import coincidence, look_from

NOWHERE = np.zeros(3)


def slab(x0, x1, y0, y1, base, top, role="structure", **more):
    return {"role": role, "geometry": shapely.box(x0, y0, x1, y1), "base": base, "top": top, **more}


def tables(stack, *, turns=(0,), factors=(1.0,), **options):
    asked = candidates(turns=turns, height_factors=factors)
    looks = look_from(stack.scene, [one.view for one in asked], origin=NOWHERE)
    return study_tables(stack, asked, looks, name="place", **options)


def test_the_shares_of_a_box():
    # View P, 4 × 3 × 2: top 12, south 8 (worked by hand). Its sides are 28 and its top 12.
    found = tables(stacked(slab(0, 4, 0, 3, 0, 2)))["roles"].iloc[0]
    assert (found["facing_m2"], found["visible_m2"], found["share"]) == pytest.approx((20, 20, 1))
    assert found["surface_m2"] == pytest.approx(40)
    assert found["surface_share"] == pytest.approx(20 / 40)


def test_what_is_hidden_counts_against_it():
    # View P, A 0–4 × 0–1 × 0–5 before B 1–3 × 2–3 × 0–h: h = 4.5 shows 2 of its top and 1 of its wall;
    # h = 3 is hidden whole (worked by hand, and confirmed by a depth buffer).
    screen = slab(0, 4, 0, 1, 0, 5, id="A")
    for height, visible in ((4.5, 3.0), (4.0, 2.0), (3.5, 1.0), (3.0, 0.0)):
        found = tables(stacked(screen, slab(1, 3, 2, 3, 0, height, id="B")))["features"]
        behind = found[found["source_id"] == "B"].iloc[0]
        assert behind["facing_m2"] == pytest.approx(2 + 2 * height)
        assert behind["visible_m2"] == pytest.approx(visible, abs=1e-9)
        assert behind["share"] == pytest.approx(visible / (2 + 2 * height), abs=1e-9)
        assert (found["source_id"] == "A").sum() == 1


def test_a_planter_on_a_deck():
    # View H, deck 8 × 6 × 1 with a planter on it: deck top 43 of 48, south 4, west 3; planter 2 + 2 + 1.
    # H is the planometric view of turn 45° and k = √½ after the sheet is turned.
    deck = slab(0, 8, 0, 6, 0, 1, role="deck", id="deck")
    planter = slab(2, 4, 2, 3, 1, 3, role="planter", id="planter")
    found = tables(stacked(deck, planter), turns=(45,), factors=(math.sqrt(0.5),))["features"]
    by = found.set_index("source_id")
    assert by.loc["deck", "visible_m2"] == pytest.approx(50)
    assert by.loc["deck", "share"] == pytest.approx(50 / 55)
    assert by.loc["planter", "share"] == pytest.approx(1)


def test_what_stands_against_something_is_no_surface():
    stack = stacked(slab(0, 4, 0, 3, 0, 2, id="A"), slab(4, 8, 0, 3, 0, 2, id="B"))
    found = tables(stack)["features"].set_index("source_id")
    assert found.loc["A", "surface_m2"] == pytest.approx(12 + 2 * (4 + 4 + 3))


def test_edges_fall_on_one_another_at_right_angles():
    # A square: half its plan edges are drawn upright at 0°, 90°, 180° and 270°, none at 45°.
    faces = stacked(slab(0, 5, 0, 5, 0, 1)).scene.faces
    for turn in (0, 90, 180, 270):
        assert coincidence(faces, planometric(turn)) == pytest.approx(0.5)
    for turn in (15, 45, 60, 75):
        assert coincidence(faces, planometric(turn)) == pytest.approx(0, abs=1e-9)
    assert coincidence(faces, planometric(7.5)) == pytest.approx(0.25)
    assert coincidence(faces, isometric()) == pytest.approx(0, abs=1e-9)
    assert coincidence(faces, isometric(0)) == pytest.approx(0.5)


def test_square_turns_are_set_aside():
    found = tables(stacked(slab(0, 4, 0, 3, 0, 2)), turns=(0, 30, 90, 180))
    table = found["table"]
    assert table.set_index("view")["set_aside"].to_dict() == {
        "planometric 30°": False,
        "planometric 0°": True,
        "planometric 90°": True,
        "planometric 180°": True,
    }
    assert found["best"].view == planometric(30)
    assert "3 views were set aside" in found["best"].reason


def test_a_view_is_chosen_for_its_target():
    # The low box stands behind the screen seen from the south, and before it seen from the north.
    stack = stacked(slab(0, 9, 4, 5, 0, 5, id="screen"), slab(4, 5, 6, 7, 0, 1, role="seat", id="seat"))
    found = tables(stack, turns=(20, 200), targets={"the seat": {"role": "seat"}})
    best = found["best"]
    assert best.view.turn == 200
    assert best.score == found["table"]["score"].max()
    assert "of the seat" in best.reason
    other = tables(stack, turns=(20, 200), weights={"coincidence": 0, "size": 1, "structure": 0})
    assert set(other["table"]["score"]) != set(found["table"]["score"])


def test_weights_are_those_of_the_user():
    stack = stacked(slab(0, 9, 4, 5, 0, 5, id="a"), slab(4, 5, 6, 7, 0, 1, role="seat", id="b"))
    row = tables(stack, turns=(30,), weights={"seat": 3.0, "structure": 1.0, "size": 0, "coincidence": 0})
    first = row["table"].iloc[0]
    assert first["score"] == pytest.approx((3 * first["role: seat"] + first["role: structure"]) / 4)
    with pytest.raises(ViewError, match=r"no weight 'seats'.*'seat'"):
        tables(stack, weights={"seats": 1})
    with pytest.raises(ViewError, match="weight of 'seat'"):
        tables(stack, weights={"seat": -1})


def test_the_other_hand():
    # A plan oblique turned the other way; a front oblique that recedes to the other side.
    assert other_hand(planometric(30, 0.5)) == planometric(-30, 0.5)
    assert other_hand(isometric(20)) == isometric(-20)
    assert np.allclose(other_hand(cavalier(0)).matrix, cavalier(0, receding_angle=135).matrix)
    assert other_hand(dimetric()).handedness == dimetric().handedness
    names = [one.name for one in candidates(kinds=("cavalier", "dimetric"), turns=(0,), mirrored=True)]
    assert names == ["cavalier 0°", "cavalier 0°, other hand", "dimetric", "dimetric, other hand"]


def test_no_view_twice():
    assert len(candidates(turns=(30, -30), mirrored=True)) == 2
    assert len(candidates(turns=(30, 390))) == 1
    assert len(candidates(kinds=("planometric", "isometric"), turns=(30, 60), height_factors=(1, 0.5))) == 6
    with pytest.raises(ViewError, match="no view"):
        candidates(turns=())
    with pytest.raises(ViewError, match="planometric"):
        candidates(kinds=("planimetric",))
    with pytest.raises(ViewError, match=r"turns is 30; give a list such as \[30\]"):
        candidates(turns=30)
    with pytest.raises(ViewError, match=r"kinds is 'isometric'; give a list"):
        candidates(kinds="isometric")


def test_workers_change_nothing():
    stack = stacked(slab(0, 4, 0, 1, 0, 5), slab(1, 3, 2, 3, 0, 4.5), slab(5, 6, 0, 3, 0, 2))
    views = [planometric(turn) for turn in (10, 30, 75, 200)]
    one, two = (look_from(stack.scene, views, origin=NOWHERE, threads=n) for n in (1, 3))
    for a, b in zip(one, two, strict=True):
        assert np.array_equal(a.visible, b.visible)
        assert np.array_equal(a.facing, b.facing)
        assert shapely.equals_exact(a.polygon, b.polygon).all()


def test_progress_can_stop_it():
    stack = stacked(slab(0, 4, 0, 1, 0, 5))

    def stop(stage, share):
        if share > 0:
            raise KeyboardInterrupt

    for threads in (1, 2):
        with pytest.raises(KeyboardInterrupt):
            look_from(
                stack.scene,
                [planometric(t) for t in (1, 2, 3)],
                origin=NOWHERE,
                threads=threads,
                progress=stop,
            )


def test_targets_are_selections():
    stack = stacked(slab(0, 4, 0, 1, 0, 5, id="A"), slab(5, 6, 0, 1, 0, 5, id="B", layer="huts"))
    table = stack.features
    assert Selection.of("structure", table).rows(table).tolist() == [0, 1]
    assert Selection.of("huts", table).rows(table).tolist() == [1]
    assert Selection.of({"role": "structure", "ids": ["A"]}, table).rows(table).tolist() == [0]
    with pytest.raises(LayerError, match=r"no layer or role 'structur'.*'structure'"):
        Selection.of("structur", table)
    with pytest.raises(LayerError, match="no feature with the id C"):
        Selection.of({"ids": "C"}, table).rows(table)
    with pytest.raises(LayerError, match="No feature meets all"):
        Selection.of({"layer": "huts", "ids": "A"}, table).rows(table)
    with pytest.raises(LayerError, match=r"no 'roles'"):
        Selection.of({"roles": "x"}, table)
    with pytest.raises(LayerError, match="needs a layer"):
        Selection()
