"""What was resolved is kept for the next drawing, within bounds; models can be handed to other processes."""

import pickle

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.verbs import drawn
from siteaxo.verbs.recent import Recent


@pytest.fixture
def model():
    yard = geopandas.GeoDataFrame(
        {"phase": [1, 2]}, geometry=[shapely.box(0, 0, 9, 6), shapely.box(1, 1, 4, 4)], crs="EPSG:25832"
    )
    court = geopandas.GeoDataFrame(geometry=[shapely.box(10, 0, 30, 20)], crs="EPSG:25832")
    layers = [
        siteaxo.Layer(name="yard", role="structure", source=yard, base=0.0, height=1.5),
        siteaxo.Layer(name="court", role="lawn", source=court, top=0.0),
    ]
    return siteaxo.Site(name="Yard", layers=layers, plane_crs="EPSG:25832", base_line=90.0).stack()


@pytest.fixture
def resolved(monkeypatch):
    """Which scenes are resolved, by their people."""
    seen = []

    def counted(stack, people, *rest):
        seen.append(len(people))
        return models_stage(stack, people, *rest)

    models_stage = drawn.stage
    monkeypatch.setattr(drawn, "stage", counted)
    return seen


def same(one, other):
    return all(
        getattr(one, name).drop(columns="geometry").equals(getattr(other, name).drop(columns="geometry"))
        and shapely.equals_exact(getattr(one, name).geometry, getattr(other, name).geometry).all()
        for name in ("faces", "edges", "plan")
    )


def test_the_oldest_is_given_up_first():
    recent, made = Recent(most=2), []
    for name in "abacab":
        recent.made(name, lambda name=name: made.append(name))
    assert made == list("abcb")  # a was asked for after b, so c puts b out


def test_what_is_too_large_is_not_kept():
    recent, made = Recent(room=10), []
    for size in (6, 11, 6, 4, 6, 5):
        recent.made(size, lambda size=size: made.append(size), size=size)
    assert made == [6, 11, 4, 5]
    recent.made(5, lambda: made.append("again"), size=5)
    assert made[-1] == 5
    recent.made(4, lambda: made.append("again"), size=4)  # had to go for 5, which 6 left no room for
    assert made[-1] == "again"


def test_objects_are_told_apart_by_being_the_same():
    recent, one, other = Recent(), [1], [1]
    assert recent.made("sum", lambda: 1, within=(one,)) == 1
    assert recent.made("sum", lambda: 2, within=(other,)) == 2
    assert recent.made("sum", lambda: 3, within=(one,)) == 1
    assert recent.made("sum", lambda: 4, within=(one, other)) == 4


def test_what_fails_is_tried_again():
    recent = Recent()
    with pytest.raises(ZeroDivisionError):
        recent.made("share", lambda: 1 / 0)
    assert recent.made("share", lambda: 2) == 2


def test_another_style_or_scale_resolves_nothing_again(model, resolved):
    first = model.draw(people=False)
    model.draw(people=False, style="line only", scale=50, planting="texture", shadows="conventional")
    assert resolved == [0]
    assert same(first, model.draw(people=False))


def test_another_view_or_other_people_are_resolved(model, resolved):
    model.draw(people=False)
    model.draw(siteaxo.planometric(turn=20), people=False)
    crowd = siteaxo.Crowd(density=0.1)
    people = [len(model.draw(people=crowd).extra["people"]) for _ in range(2)]
    other = model.draw(people=siteaxo.Crowd(density=0.1, seed=5)).extra["people"]
    assert people[0] == people[1] > 0
    assert len(resolved) == 4
    assert resolved[:2] == [0, 0]
    assert min(resolved[2:]) > 0
    assert not np.array_equal(
        shapely.bounds(other.geometry), shapely.bounds(model.draw(people=crowd).extra["people"].geometry)
    )


def test_parts_of_a_story_share_what_they_can(model, resolved):
    model.exploded_view(by="role", people=False)
    assert len(resolved) == 2  # the site pulled apart, and the plan beneath
    model.exploded_view(by="theme", people=False)
    assert len(resolved) == 3


def test_a_stage_with_everything_is_the_model_itself(model):
    stages = model.stages("phase")
    assert stages["2"].stack is model.stack
    assert stages["1"].stack is not model.stack


def test_a_model_can_be_copied_to_another_process(model):
    drawn = model.draw(people=False)
    copy = pickle.loads(pickle.dumps(model))
    assert same(drawn, copy.draw(people=False))
    assert copy.gathered.plane.crs == model.gathered.plane.crs
    assert copy.site.view.options == model.site.view.options
    np.testing.assert_allclose(
        copy.gathered.plane.to_lonlat(*copy.origin[:2]), model.gathered.plane.to_lonlat(*model.origin[:2])
    )
