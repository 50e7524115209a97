"""Of lines that run together for a while at least one is drawn everywhere."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from handmade import terraces

import siteaxo
from siteaxo.craft.covering import bare
from siteaxo.craft.dress import dress
from siteaxo.craft.folds import folds
from siteaxo.craft.gaps import PAST, SLACK, no_gaps, within
from siteaxo.craft.specks import SPECK_MM
from siteaxo.craft.style import Style
from siteaxo.craft.thinning import far_enough


def crowd(seed: int, count: int = 300, room: float = 12.0) -> np.ndarray:
    """Lines of all lengths, most of them at one of three bearings."""
    rng = np.random.default_rng(seed)
    turn = np.radians(rng.choice([0, 37, 90], count) + rng.normal(0, 2, count))
    half = rng.exponential(1.2, (count, 1)) * np.column_stack([np.cos(turn), np.sin(turn)])
    middle = rng.uniform(0, room, (count, 2))
    return np.stack([middle - half, middle + half], axis=1)


def farthest(lines: np.ndarray, of: np.ndarray, from_: np.ndarray, reach: np.ndarray) -> float:
    """Most by which a point of some lines lies beyond reach of all others, in shares of it, by distances."""
    share = np.linspace(0, 1, 101)[:, None]
    most, drawn = -np.inf, shapely.linestrings(lines[from_])
    for k in of:
        points = shapely.points(lines[k, 0] + share * (lines[k, 1] - lines[k, 0]))
        beyond = shapely.distance(points[:, None], drawn) - np.maximum(reach[k], reach[from_])
        most = max(most, float(beyond.min(axis=1).max()) / reach[k])
    return most


@pytest.mark.parametrize("seed", range(4))
def test_what_lies_beside_a_line_is_what_a_flat_buffer_of_it_cuts_out(seed):
    """GEOS's buffer with flat ends about the line made longer, as an independent reference."""
    lines, others = crowd(seed), crowd(seed + 50)
    reach = np.random.default_rng(seed).uniform(0.2, 3.0, len(lines))
    begin, end = within(lines, others, reach)
    step = others[:, 1] - others[:, 0]
    past = (PAST * reach / np.hypot(*step.T))[:, None] * step
    longer = shapely.linestrings(np.stack([others[:, 0] - past, others[:, 1] + past], axis=1))
    beside = shapely.buffer(longer, reach, cap_style="flat")
    cut = shapely.intersection(shapely.linestrings(lines), beside)
    some = begin < end
    assert some.any()
    assert (~some).any()
    assert shapely.length(cut) == pytest.approx(np.where(some, end - begin, 0.0), abs=1e-9)
    middle = lines[:, 0] + ((begin + end) / 2 / np.hypot(*(lines[:, 1] - lines[:, 0]).T))[:, None] * (
        lines[:, 1] - lines[:, 0]
    )
    assert shapely.contains_xy(beside[some], middle[some]).all()


def test_nothing_lies_beside_a_point():
    lines = np.array([[[0, 0], [9, 0]], [[4, 1], [4, 1]]], dtype=float)
    begin, end = within(lines[[0, 0]], lines[[1, 0]], np.array([2.0, 2.0]))
    assert begin[0] > end[0]
    assert (begin[1], end[1]) == (0, 9)


def test_what_no_stretch_covers():
    line = np.array([0, 0, 0, 1, 3])
    begin, end = np.array([4.0, 0.0, 1.0, 3.0, 2.0]), np.array([6.0, 2.0, 3.0, 1.0, 4.0])
    assert bare(np.array([10.0, 5.0, 7.0, 4.0]), line, begin, end).tolist() == [5.0, 5.0, 7.0, 2.0]


@pytest.mark.parametrize("scale", [200, 500, 1000])
@pytest.mark.parametrize("as_one", [False, True])
def test_whatever_gives_way_lies_as_near_to_lines_that_are_drawn_as_lines_may_not_come(scale, as_one):
    for seed in range(3):
        lines, rng = crowd(seed), np.random.default_rng(seed)
        width = rng.choice([0.13, 0.25, 0.5], len(lines))
        owner = rng.integers(0, 4, len(lines)) if as_one else None
        stays = far_enough(lines, width, rng.integers(0, 3, len(lines)), scale=scale, owner=owner)
        reach = np.maximum(2 * width, 0.7) * scale / 1000
        gone = np.flatnonzero(~stays)
        assert 10 < len(gone) < len(lines) - 10
        assert farthest(lines, gone, np.flatnonzero(stays), reach) <= SLACK


def test_of_two_that_are_missed_the_stronger_comes_back_and_stands_for_the_other():
    lines = np.array([[[0, 0.0], [9, 0.0]], [[0, 0.1], [9, 0.1]], [[0, 0.2], [5, 0.2]], [[30, 0], [31, 0]]])
    stays = np.array([False, False, True, False])
    kept = no_gaps(lines, lines, stays, np.array([2, 1, 0, 3]), np.full(4, 0.5), np.array([0, 1]))
    assert kept.tolist() == [False, True, True, False]


def test_edges_of_a_path_and_a_lawn_that_part_and_meet_again():
    """Two outlines cut at different places, each beside a wider line for more than half of a piece."""
    path = [[[0, 0], [4, 0]], [[4, 0], [10, 0]]]
    lawn = [[[0, 0.05], [6, 0.05]], [[6, 0.05], [10, 0.05]]]
    wide = [[[-9, 0.2], [2.2, 0.2]], [[7.9, 0.2], [19, 0.2]]]
    lines = np.array([*path, *lawn, *wide])
    stays = far_enough(lines, [0.18] * 4 + [0.5] * 2, [0, 0, 1, 1, 2, 2], scale=500)
    reach = np.array([0.35] * 4 + [0.5] * 2)
    assert stays[4:].all()
    assert not stays.all()
    assert farthest(lines, np.flatnonzero(~stays), np.flatnonzero(stays), reach) <= SLACK


def test_what_cannot_be_read_stands_for_nothing():
    """A short line of greater rank stands alone: without it the longer one beside it is drawn."""
    lines = np.array([[[0, 0.0], [0.7, 0.0]], [[0, 0.1], [0.6, 0.1]]])
    assert far_enough(lines, [0.18, 0.18], [0, 1], scale=500).tolist() == [True, True]
    near = np.array([[[0, 0.0], [0.66, 0.0]], [[0, 0.1], [0.6, 0.1]]])
    assert far_enough(near, [0.18, 0.18], [0, 1], scale=500).tolist() == [False, True]
    kept = far_enough(near, [0.18, 0.18], [0, 1], scale=500, readable=lambda rows: rows != 1)
    assert kept.tolist() == [True, False]


@pytest.mark.parametrize("scale", [1000, 2000, 5000])
def test_a_drawing_has_no_gaps(scale):
    """Only folds, and what stands alone for less than 1 mm, may be farther from all that is drawn."""
    diagram = dress(terraces(), Style(), scale=scale)
    edges = diagram.edges
    lines = shapely.get_coordinates(edges.geometry.array).reshape(-1, 2, 2)
    reach = np.maximum(2 * edges["line_mm"].to_numpy(), 0.7) * scale / 1000
    drawn = edges["drawn"].to_numpy() == 1
    speck = np.hypot(*(lines[:, 1] - lines[:, 0]).T) < SPECK_MM * scale / 1000
    gone = np.flatnonzero(~drawn & ~folds(edges, diagram.faces) & ~speck)
    assert drawn.any()
    assert len(gone) or scale == 1000
    if len(gone):
        assert farthest(lines, gone, np.flatnonzero(drawn), reach) <= SLACK


@pytest.fixture(scope="module")
def garden():
    """The sample site as a drawing."""
    model = siteaxo.read_site(Path(__file__).parent.parent / "sample_data" / "wrenlow" / "site.toml").stack()
    return model.draw(people=False, shadows=None, planting="outline", scale=200)


@pytest.mark.parametrize("scale", [200, 500])
def test_the_sample_has_no_gaps(garden, scale):
    """
    What is not drawn is a fold or a speck, or lies within flat buffers of lines that are drawn.

    But for less than 0.7 mm at corners, where a short line that would stand for another cannot be read.
    """
    diagram = garden.at_scale(scale)
    edges = diagram.edges
    shape = np.asarray(edges.geometry.array)
    drawn = edges["drawn"].to_numpy() == 1
    reach = np.maximum(2 * edges["line_mm"].to_numpy(), 0.7) * scale / 1000
    stroke = np.flatnonzero(drawn & (shapely.get_num_coordinates(shape) == 2))
    gone = np.flatnonzero(~drawn & ~folds(edges, diagram.faces))
    least = 1.1 * SPECK_MM * scale / 1000
    tree = shapely.STRtree(shape[stroke])
    missing, told = [], 0
    for k in gone:
        near = stroke[tree.query(shape[k], predicate="dwithin", distance=1.1 * reach.max())]
        xy = shapely.get_coordinates(shape[near]).reshape(-1, 2, 2)
        step = xy[:, 1] - xy[:, 0]
        far = np.maximum(reach[near], reach[k])
        past = (PAST * far / np.hypot(*step.T))[:, None] * step
        longer = shapely.linestrings(np.stack([xy[:, 0] - past, xy[:, 1] + past], axis=1))
        beside = shapely.union_all(shapely.buffer(longer, far, cap_style="flat"))
        left = shapely.difference(shape[k], beside).length
        told += left == 0
        if left > 0.7 * scale / 1000 and shape[k].length >= least:
            missing.append(k)
    assert told > 500
    assert not missing
