"""Features that reach across terraces: split along their edges, or whole on the highest."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import box
from solidity import codes, features, solid_of, stacked, volume

from siteaxo.solids.across import laid_across, uppermost

LOW = {"role": "terrace", "geometry": box(0, 0, 10, 4), "base": -1, "top": 0.0}
HIGH = {"role": "terrace", "geometry": box(0, 4, 10, 8), "base": -1, "top": 0.5}


def test_a_lawn_is_split_along_the_edge():
    """6 m deep, two of them on the lower terrace."""
    stack = stacked(LOW, HIGH, {"role": "lawn", "geometry": box(2, 2, 8, 8), "height": 0.1})
    lawn = stack.features.of_role("name") == "lawn"
    assert stack.features.source_id[lawn].tolist() == ["2", "2"]
    assert shapely.area(stack.features.geometry[lawn]).tolist() == pytest.approx([12, 24])
    assert stack.features.base[lawn].tolist() == [0.0, 0.5]
    assert [volume(solid_of(stack, row)) for row in (2, 3)] == pytest.approx([1.2, 2.4])
    assert codes(stack) == ["split-across"]
    assert stack.findings[0].severity == "info"


def test_a_lawn_on_one_terrace_stays_as_it_is():
    found, row, findings = laid_across(features(LOW, HIGH, {"role": "lawn", "geometry": box(2, 1, 8, 4)}))
    assert row.tolist() == [0, 1, 2]
    assert found.geometry[2].equals(box(2, 1, 8, 4))
    assert findings == ()


def test_terraces_of_one_level_part_nothing():
    level = {**HIGH, "top": 0.0}
    assert laid_across(features(LOW, level, {"role": "path", "geometry": box(2, 1, 4, 7)}))[2] == ()


def test_a_wall_is_split_only_where_its_layer_says_so():
    wall = {"role": "wall", "geometry": box(2, 2, 2.3, 8), "height": 1.0}
    assert codes(stacked(LOW, HIGH, wall)) == []  # most of it stands on the upper terrace
    stack = stacked(LOW, HIGH, {**wall, "across": "split"})
    assert codes(stack) == ["split-across"]
    assert stack.features.top[2:].tolist() == [1.0, 1.5]


def test_whole_on_the_highest():
    """Two thirds of it lie over the lower terrace, where it would stand otherwise."""
    hut = {"role": "structure", "geometry": box(2, 0, 4, 6), "height": 2.0}
    stack = stacked(LOW, HIGH, hut)
    assert (stack.features.base[2], codes(stack)) == (0.0, ["straddles"])
    stack = stacked(LOW, HIGH, {**hut, "across": "whole"})
    assert (stack.features.base[2], codes(stack)) == (0.5, ["kept-whole"])
    assert [finding.value for finding in stack.findings] == [
        "0.500 m"
    ]  # the unit with it, as in all findings


def test_a_lawn_kept_whole():
    lawn = {"role": "lawn", "geometry": box(2, 2, 8, 8), "height": 0.1, "across": "whole"}
    stack = stacked(LOW, HIGH, lawn)
    assert stack.features.base[2] == 0.5
    assert codes(stack) == ["kept-whole"]


def test_a_path_over_a_raised_bed_and_a_sunken_court():
    """1 m wide: 2 m on the ground, 2 m in the court, 2 m, 2 m on the bed, 2 m on the ground."""
    ground = {"role": "ground", "geometry": box(0, 0, 10, 10), "base": -2, "top": 0}
    court = {"role": "terrace", "geometry": box(0, 2, 10, 4), "base": -2, "top": -0.4}
    bed = {"role": "terrace", "geometry": box(3, 6, 7, 8), "base": -2, "top": 0.3}
    stack = stacked(ground, court, bed, {"role": "path", "geometry": box(4, 0, 5, 10)})
    path = stack.features.of_role("name") == "path"
    pieces = sorted(zip(stack.features.base[path], shapely.area(stack.features.geometry[path]), strict=True))
    assert np.array(pieces) == pytest.approx(np.array([[-0.4, 2], [0, 2], [0, 2], [0, 2], [0.3, 2]]))


def test_what_no_higher_one_covers():
    table = features(LOW, {**HIGH, "geometry": box(0, 3, 10, 8)})
    region = uppermost(table, np.array([0, 1]))
    assert shapely.area(region).tolist() == pytest.approx([30, 50])
