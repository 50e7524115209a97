"""What leaders point to, and where their words stand: short, clear of people, and crossing little."""

import itertools

import courtyard
import numpy as np
import places
import pytest
import shapely

import siteaxo
from siteaxo.sheet.callouts import Target
from siteaxo.sheet.labels import _built
from siteaxo.sheet.placing import Room
from siteaxo.sheet.reaching import ASIDE_MM, DOT_CLEAR_MM, dots, reached

MM = 0.2  # of paper at 1:200 [m]
SIZE = np.array([4.0, 0.8])
REACH = np.arange(5, 60, 3) * MM
LAWN = shapely.box(0, 0, 20, 10)


def room(*people, lines=(), lawn=LAWN, quiet=False):
    """A lawn with people on it."""
    outlines = [lawn.exterior, *(shapely.boundary(one) for one in people), *lines]
    return Room(
        lines=np.array([*outlines, *people], dtype=object),
        areas=np.array([lawn, *people], dtype=object),
        quiet=np.array([quiet, *(False for _ in people)]),
        window=(-40.0, -40.0, 60.0, 50.0),
        standing=np.array(people, dtype=object),
    )


def about(region, at=(10.0, 5.0)):
    return Target(
        text="Lawn", point=np.array(at), region=region, layer="l", source_id="1", role="lawn", fill=""
    )


def test_dots_stand_clear_of_people_and_of_the_outline():
    person = shapely.box(9.5, 4.0, 10.5, 6.0)
    places_ = dots(room(person), about(LAWN), MM, 1)
    assert len(places_) > 5
    points = shapely.points(places_)
    clear = DOT_CLEAR_MM[0] * MM - 1e-6
    assert (shapely.distance(points, person) >= clear).all()
    assert (shapely.distance(points, LAWN.exterior) >= clear).all()
    assert shapely.contains(LAWN, points).all()


def test_what_is_narrow_is_pointed_to_in_its_middle():
    strip = shapely.box(0, 0, 20, 0.1)
    assert dots(room(lawn=strip), about(strip, (10.0, 0.05)), MM, 1).tolist() == [[10.0, 0.05]]


def test_a_leader_is_no_longer_than_it_need_be():
    """From the middle of the lawn to its outside are 5 m; from a dot nearer to the outside it is less."""
    there = room()
    _, long = reached(there, np.array([[10.0, 5.0]]), SIZE, REACH, MM)
    _, short = reached(there, dots(there, about(LAWN), MM, 1), SIZE, REACH, MM)
    assert np.hypot(*(short[1] - short[0])) < np.hypot(*(long[1] - long[0])) - 1.0


@pytest.mark.parametrize(("surface", "found"), [([0, 0, 0, 0], True), ([0, 1, 0, 1], False), ([], False)])
def test_words_lie_across_faces_of_one_surface(surface, found):
    """Ground of four triangles, each too small for them; beyond it there is no room."""
    corners, middle = shapely.get_coordinates(LAWN.exterior)[:-1], np.array([10.0, 5.0])
    faces = [shapely.Polygon([corners[k], corners[(k + 1) % 4], middle]) for k in range(4)]
    there = Room(
        lines=np.array([LAWN.exterior], dtype=object),
        areas=np.array(faces, dtype=object),
        quiet=np.ones(4, dtype=bool),
        window=(0.5, 0.5, 19.5, 9.5),
        surface=np.array(surface, dtype=np.int64),
    )
    size = np.array([8.0, 0.9])
    assert (reached(there, middle[None], size, np.array([2.0]), MM) is not None) == found


def test_a_leader_goes_round_people():
    """One who stands up and to the right, where leaders are tried first, and on a larger lawn."""
    lawn = shapely.Point(0, 0).buffer(6)
    target, person = np.zeros((1, 2)), shapely.Point(2, 2).buffer(0.8)
    _, first = reached(room(lawn=lawn), target, SIZE, REACH, MM)
    assert shapely.LineString(first).intersects(person)
    _, round_ = reached(room(person, lawn=lawn), target, SIZE, REACH, MM)
    assert not shapely.LineString(round_).intersects(person)


@pytest.mark.parametrize(("at", "moved"), [((5.0, 5.0), False), ((10.0, 5.2), True), ((10.0, 8.0), True)])
def test_a_place_that_is_said_gives_way_only_to_what_is_in_its_way(at, moved):
    """Someone 0.3 m wide, and a line that runs over the lawn."""
    person = shapely.box(9.85, 4.5, 10.15, 6.0)
    there = room(person, lines=[shapely.LineString([(8, 8), (12, 8)])])
    (place,) = dots(there, about(None, at), MM, 1)
    assert (place.tolist() != list(at)) == moved
    assert np.hypot(*(place - at)) <= ASIDE_MM * MM
    assert there._line_tree.query_nearest(shapely.points(place), return_distance=True)[1][0] >= 0.59 * MM


def test_a_place_that_cannot_get_clear_stays():
    crowd = shapely.box(5, 2, 15, 8)
    assert dots(room(crowd), about(None, (10.0, 5.0)), MM, 1).tolist() == [[10.0, 5.0]]


@pytest.mark.parametrize("name", places.PLACES)
def test_call_outs_of_whole_drawings(name):
    """No dot lies on a person, and no leader crosses another."""
    drawing = places.PLACES[name]().stack().draw(siteaxo.planometric(30), scale=500, people=True)
    layers = dict.fromkeys(drawing.faces["layer"].astype(str))
    labels = [siteaxo.Label(text=f"{one} here", layer=one) for one in layers]
    table = drawing.figure(sheet="A2", scale=500, labels=labels).drawing.extra["labels"]
    people = np.asarray(drawing.extra["people"].geometry.array)
    people = shapely.union_all(people[shapely.get_dimensions(people) == 2])
    ends, leaders = (table.geometry[table["kind"] == kind].array for kind in ("leader end", "leader"))
    assert 10 <= len(ends) <= len(labels)
    assert (shapely.distance(ends, people) > 0).all()
    assert not any(one.intersects(other) for one, other in itertools.combinations(leaders, 2))


def test_leaders_to_levels_cross_what_is_low():
    """A terrace within a kerb, which is a structure, so full of stones that no words fit on it."""
    ring = shapely.box(12, 12, 38, 22) - shapely.box(12.5, 12.5, 37.5, 21.5)
    stones = [
        courtyard.box(x, x + 0.6, y, y + 0.6)
        for x in np.arange(13.5, 37, 3.2)
        for y in (13.2, 15.7, 18.2, 20.6)
    ]
    layers = [
        courtyard.layer("terrace", "terrace", courtyard.box(12, 38, 12, 22), base=0.0, top=1.6),
        courtyard.layer("ring", "structure", courtyard.here(ring), base="below", height=0.4),
        courtyard.layer("stones", "seat", *stones, base="below", height=0.3),
    ]
    site = siteaxo.Site(name="Terrace", layers=layers, plane_crs=courtyard.CRS, base_line=90.0)
    drawing = site.stack().draw(siteaxo.planometric(turn=30, height_factor=0.3), people=False, scale=500)
    table = drawing.figure(sheet="A3", scale=500).drawing.extra["labels"]
    assert "1.60" in set(table["text"])


@pytest.mark.parametrize(("high", "built"), [(1.9, False), (2.0, True)])
def test_a_low_structure_is_no_building(high, built):
    block = courtyard.layer("block", "structure", courtyard.box(1, 4, 1, 4), base=0.0, height=high)
    roof = courtyard.layer("roof", "roof", courtyard.box(6, 9, 1, 4), base=0.0, top=0.2)
    site = siteaxo.Site(name="Two", layers=[block, roof], plane_crs=courtyard.CRS, base_line=90.0)
    drawing = site.stack().draw(siteaxo.planometric(turn=30))
    assert _built(drawing).tolist() == [built or one == "roof" for one in drawing.faces["layer"]]
