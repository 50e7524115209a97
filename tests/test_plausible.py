"""What cannot be right in a site: floating, buried, doubled, at street level, steep."""

import pytest
import shapely
from solidity import features

from siteaxo.solids.overlaps import look_for_nested
from siteaxo.solids.plausible import (
    look_around,
    look_at_paths,
    look_for_buried,
    look_for_covered,
    look_for_floating,
    look_for_street_levels,
)
from siteaxo.solids.stack import stack_features

GROUND = {"role": "ground", "id": "G", "geometry": shapely.box(0, 0, 40, 40), "base": -1.0, "top": 0.0}


def box(role, x=10.0, y=10.0, w=6.0, d=6.0, **more):
    return {"role": role, "id": "A", "geometry": shapely.box(x, y, x + w, y + d), **more}


def told(look, *rows):
    stack = stack_features(features(*rows))
    given = {
        look_around: [stack],
        look_for_buried: [stack.features, stack.terrain and stack.terrain.tin],
        look_for_covered: [stack.features],
        look_for_nested: [stack.features],
        look_for_street_levels: [stack.features],
    }
    found = look(*given.get(look, [stack.features, stack.terrain]))
    return [(f.code, f.source_id, f.value) for f in found]


SLOPE = [
    {"role": "spot level", "geometry": shapely.Point(x, y), "top": y / 10}
    for x in (0.0, 40.0)
    for y in (0.0, 40.0)
]


@pytest.mark.parametrize("ground", [[GROUND], SLOPE])
@pytest.mark.parametrize(
    ("under", "over", "gone"),
    [
        ("lawn", "paving", True),
        ("paving", "path", True),
        ("paving", "lawn", False),  # lies on it
        ("lawn", "lawn", False),  # of one role: a double
    ],
)
def test_surfaces_under_another_at_their_level(ground, under, over, gone):
    wide = box(over, 8, 8, 10, 10, id="B")
    found = told(look_for_covered, *ground, box(under), wide)
    assert found == ([("buried", "A", "B")] if gone else [])
    assert told(look_for_covered, *ground, box(under, x=16), wide) == []  # reaches beyond it


def test_a_surface_with_a_level_of_its_own_is_seen():
    wide = box("paving", 8, 8, 10, 10, id="B")
    assert told(look_for_covered, GROUND, box("lawn", top=0.1), wide) == []
    assert told(look_for_covered, GROUND, box("water", top=-0.3), wide) == []
    assert told(look_for_covered, GROUND, box("water"), wide) == [("buried", "A", "B")]


def test_what_hangs_in_the_air():
    stack = stack_features(features(GROUND, box("structure", base=2.5, top=4.0)))
    (finding,) = look_for_floating(stack.features)
    assert (finding.code, finding.source_id, finding.value) == ("floating", "A", "2.500 m")
    assert "ends 2.500 m lower" in finding.message


@pytest.mark.parametrize(
    "rows",
    [
        [box("structure", base=0.0, top=4.0)],
        [box("structure", base=0.005, top=4.0)],  # a hair is no gap
        [box("planter", height=0.5)],
        [box("canopy", base=3.0, top=3.2)],  # stands on posts of its own
        [
            box("deck", base=2.8, top=3.0),
            box("structure", 16, 10, base=0.0, top=3.0),
        ],  # hangs on its neighbour
        [{"role": "tree", "id": "T", "geometry": shapely.Point(20, 20), "height": 5.0}],
    ],
)
def test_what_does_not(rows):
    assert told(look_for_floating, GROUND, *rows) == []


@pytest.mark.parametrize(("base", "floats"), [(1.0, False), (1.4, False), (2.0, True)])
def test_floating_and_standing_on_a_slope(base, floats):
    # the ground under it lies between 1.0 and 1.6
    found = told(look_for_floating, *SLOPE, box("structure", base=base, top=5.0))
    assert found == ([("floating", "A", f"{base:.3f} m")] if floats else [])


@pytest.mark.parametrize(
    ("planter", "swallowed"),
    [
        (box("planter", base=0.0, top=0.5), True),
        (box("planter", base=9.0, top=9.5), False),
        (box("planter", 22, 22, base=0.0, top=0.5), False),  # half outside
    ],
)
def test_what_is_swallowed(planter, swallowed):
    big = {**box("structure", 5, 5, 20, 20, base=0.0, top=9.0), "id": "B"}
    found = told(look_for_buried, GROUND, big, planter)
    assert found == ([("buried", "A", "0.500 m")] if swallowed else [])


def test_what_lies_below_the_ground():
    assert told(look_for_buried, *SLOPE, box("structure", base=-3.0, top=0.5)) == [("buried", "A", "0.500 m")]
    assert told(look_for_buried, *SLOPE, box("structure", base=-3.0, top=1.2)) == []
    assert told(look_for_buried, *SLOPE, box("terrace", base=-3.0, top=0.5)) == []  # a court may


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ("asphalt", "gravel", None),  # seen, and measured for itself
        ("asphalt", "asphalt", "Leave one out, or correct its levels"),
    ],
)
def test_a_surface_within_another(first, second, words):
    """The one within comes later; where it comes first it is not seen, of whatever it is."""
    outer = {**box("paving", base=1.0, top=1.0), "id": "B", "material": first}
    inner = {**box("paving", 12, 12, 3, 3, base=1.0, top=1.0), "id": "A", "material": second}
    after = list(look_for_nested(stack_features(features(GROUND, outer, inner)).features))
    assert [note.source_id for note in after] == ([] if words is None else ["A"])
    assert all(words in note.message for note in after)
    (before,) = look_for_nested(stack_features(features(GROUND, inner, outer)).features)
    assert before.source_id == "A"
    assert "comes later and is drawn over it" in before.message


def test_one_within_another_of_the_same_kind():
    outer = {**box("structure", base=0.0, top=3.0), "id": "B"}
    inner = box("structure", 10.1, 10.1, 5.8, 5.8, base=0.0, top=3.0)
    assert told(look_for_nested, GROUND, outer, inner) == [("nested-double", "A", "B")]
    assert told(look_for_nested, GROUND, outer, {**inner, "top": 3.5}) == []
    assert told(look_for_nested, GROUND, outer, {**inner, "role": "planter"}) == []
    apart = box("structure", 13, 10, base=0.0, top=3.0)
    assert told(look_for_nested, GROUND, outer, apart) == []


def test_a_street_level_on_a_rooftop():
    house = {**box("structure", 5, 5, 20, 20, base=0.0, top=9.0), "id": "H"}
    stack = stack_features(features(GROUND, house, box("planter", base=0.0, top=9.6)))
    (finding,) = look_for_street_levels(stack.features)
    assert (finding.code, finding.source_id, finding.value) == ("street-level-base", "A", "0.000 m")
    assert "on whose top at 9.000 m" in finding.message
    assert told(look_for_street_levels, GROUND, house, box("planter", height=0.6)) == []  # from below
    assert told(look_for_street_levels, GROUND, house, box("planter", base=9.0, top=9.6)) == []
    low = {**house, "top": 0.4}
    assert told(look_for_street_levels, GROUND, low, box("planter", base=0.0, top=0.9)) == []


@pytest.mark.parametrize(("rise", "found"), [(0.04, False), (0.05, False), (0.1, True)])
def test_paths_steeper_than_one_in_twenty(rise, found):
    # 2010 ADA Standards §403.3: walks are no steeper than 1:20.
    spots = [{**row, "top": row["geometry"].y * rise} for row in SLOPE]
    path = {"role": "path", "id": "P", "geometry": shapely.LineString([(5, 5), (5, 35)]), "width": 2.0}
    result = told(look_at_paths, *spots, path)
    assert result == ([("path-steep", "P", "1:10.0")] if found else [])


def test_all_of_it_over_a_sound_site():
    rows = [GROUND, box("terrace", base=-1.0, top=0.45), box("planter", 11, 11, 2, 2, height=0.5)]
    assert look_around(stack_features(features(*rows))) == ()


def test_all_of_it_over_an_unsound_one():
    rows = [
        GROUND,
        box("structure", base=2.5, top=4.0),
        {**box("terrace", 20, 20, base=-1.0, top=2.0), "id": "T"},
        {**box("terrace", 25, 20, base=-1.0, top=1.0), "id": "U"},
    ]
    codes = {finding.code for finding in look_around(stack_features(features(*rows)))}
    assert codes == {"floating", "terraces-overlap", "drop-unguarded"}


def test_ground_where_a_terrace_is_dug_in_is_gone():
    # the terrace lies 2 m below the ground around it, with a bench on it and a court 1 m lower in it
    dug = box("terrace", 20, 10, 10, 10, base=-2.0, top=0.5)
    court = box("terrace", 23, 12, 4, 4, base=-2.0, top=-0.5) | {"id": "C"}
    bench = box("seat", 28, 14, 1, 2, height=0.4) | {"id": "E"}
    codes = {(code, source) for code, source, _ in told(look_around, *SLOPE, dug, court, bench)}
    assert ("buried", "E") not in codes
    assert ("drop-unguarded", "A") in codes


def test_what_touches_higher_ground_beside_it_does_not_lie_below_it():
    dug = box("terrace", 20, 10, 10, 10, base=-2.0, top=0.5)
    wall = box("wall", 29.5, 10, 0.5, 10, base=0.5, top=0.9) | {"id": "W"}
    assert ("buried", "W") not in {found[:2] for found in told(look_around, *SLOPE, dug, wall)}


def test_a_rail_at_the_foot_of_a_ramp_is_not_swallowed():
    ramp = {"role": "ramp", "id": "R", "geometry": shapely.box(5, 5, 35, 7), "base": 0.0, "top": 2.0}
    head = box("terrace", 35, 5, 4, 2, base=0.0, top=2.0) | {"id": "H"}
    rail = {"role": "rail", "id": "A", "geometry": shapely.LineString([(6, 5.1), (12, 5.1)]), "height": 1.0}
    assert told(look_for_buried, GROUND, ramp, head, rail) == []
