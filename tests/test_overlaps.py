"""Solids that overlap one another in part are told, each pair once, with the area."""

import numpy as np
import pytest
import shapely
from solidity import features

from siteaxo.solids.overlaps import look_for_partial
from siteaxo.solids.plausible import look_around
from siteaxo.solids.stack import stack_features

GROUND = {"role": "ground", "id": "G", "geometry": shapely.box(0, 0, 60, 40), "base": -1.0, "top": 0.0}
HALL = {"role": "structure", "id": "H", "geometry": shapely.box(10, 10, 20, 20), "base": 0.0, "top": 6.0}


def house(x, y, w=10.0, d=10.0, *, base=0.0, top=4.0, role="structure"):
    return {"role": role, "id": "A", "geometry": shapely.box(x, y, x + w, y + d), "base": base, "top": top}


def told(*rows):
    return look_for_partial(stack_features(features(GROUND, *rows)).features)


def test_two_houses_that_overlap_in_part():
    (finding,) = told(HALL, house(18, 15))  # 2 m by 5 m are common, up to the lower top
    assert (finding.severity, finding.code, finding.layer) == ("warning", "solids-overlap", "structure")
    assert (finding.source_id, finding.value) == ("A", "10 m²")
    assert "feature H by 10 m² in plan and 4.000 m in height" in finding.message
    x, y = finding.place
    assert 18 < x < 20
    assert 15 < y < 20


@pytest.mark.parametrize("role", ["planter", "seat"])
def test_furniture_that_stands_in_a_house(role):
    (finding,) = told(HALL, house(19, 12, 2, 2, top=0.5, role=role))
    assert finding.value == "2 m²"


@pytest.mark.parametrize(
    "other",
    [
        house(20, 12, top=3.0),  # a lower part of one building, wall to wall
        house(19.97, 12, top=3.0),  # surveyed from the other side of the wall
        house(18, 15, base=6.0, top=9.0),  # an upper storey that oversails
        house(18, 15, base=-3.0, top=0.005),  # hardly rises into it
        house(12, 12, 4, 4, top=30.0),  # a tower out of its podium
        house(10, 10, 4, 10, top=30.0),  # and flush with three of its sides
        house(18, 15, role="deck", base=2.8, top=3.0),  # a balcony let into the wall
        house(19.8, 12, 0.3, 8, role="wall", top=2.0),  # a garden wall that ends in the house
    ],
)
def test_what_meets_as_it_should(other):
    assert told(HALL, other) == []


def test_what_is_told_elsewhere_is_not_told_twice():
    buried = house(12, 12, 4, 4)
    nested = house(10.2, 10.2, 9.9, 9.9, top=6.0)  # 96 % of it lies within, at the same levels
    for row, code in ((buried, "buried"), (nested, "nested-double")):
        codes = [finding.code for finding in look_around(stack_features(features(GROUND, HALL, row)))]
        assert code in codes
        assert "solids-overlap" not in codes


def test_outlines_turned_against_each_other_share_the_octagon_between_them():
    # Two equal squares about one centre, one turned by 45 degrees, share a regular octagon: eight
    # triangles of height a over half their side, a tan(22.5 degrees).
    a = 5.0
    turned = shapely.affinity.rotate(HALL["geometry"], 45)
    (finding,) = told(HALL, house(0, 0) | {"geometry": turned})
    assert float(finding.value.split()[0]) == pytest.approx(8 * np.tan(np.pi / 8) * a**2, rel=1e-3)


def test_rows_of_houses_wall_to_wall_are_silent_whichever_way_they_run():
    x, y = (grid.ravel() for grid in np.meshgrid(np.arange(12) * 8.0, np.arange(4) * 10.0))
    houses = [
        shapely.affinity.rotate(shapely.box(a, b, a + 8, b + 10), 31, origin=(0, 0))
        for a, b in zip(x, y, strict=True)
    ]
    rows = [HALL | {"id": str(k), "geometry": one, "top": 3.0 + k % 5} for k, one in enumerate(houses)]
    assert look_for_partial(features(*rows)) == []
    wider = [row | {"geometry": row["geometry"].buffer(0.2, join_style="mitre")} for row in rows]
    assert (
        len(look_for_partial(features(*wider))) == 11 * 4 + 12 * 3 + 2 * 11 * 3
    )  # beside, behind, at corners
