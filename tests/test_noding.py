"""Segments noded on the grid: against the library's own noding, and where lines all but touch."""

import numpy as np
import pytest
import shapely

from siteaxo.solids import noding
from siteaxo.solids.exact import GRID, as_complex, on_grid, turn
from siteaxo.solids.mesh import Mesh
from siteaxo.solids.noding import noded

NONE = np.zeros((0, 2))


def scattered(count, seed):
    ends = np.random.default_rng(seed).uniform(-20, 20, (count, 2, 2))
    return on_grid(ends)


def as_set(segments):
    ends = np.sort(as_complex(segments), axis=1)
    return {(a, b) for a, b in ends.tolist() if a != b}


def crossing_pairs(segments):
    """Pairs that cross between their ends, each tried with each."""
    one, other = np.triu_indices(len(segments), 1)
    (a, b), (p, q) = segments[one].transpose(1, 0, 2), segments[other].transpose(1, 0, 2)
    return ((turn(a, b, p) * turn(a, b, q) < 0) & (turn(p, q, a) * turn(p, q, b) < 0)).sum()


def ends_within(segments):
    """Ends that lie on a segment between its own, each tried with each."""
    ends = np.unique(segments.reshape(-1, 2), axis=0)
    one, other = (number.ravel() for number in np.indices((len(ends), len(segments))))
    (a, b), c = segments[other].transpose(1, 0, 2), ends[one]
    return ((turn(a, b, c) == 0) & (((c - a) * (c - b)).sum(axis=1) < 0)).sum()


@pytest.mark.parametrize("seed", range(4))
def test_lines_in_general_position_are_noded_as_the_library_does(seed):
    lines = scattered(60, seed)
    union = shapely.union_all(shapely.linestrings(lines), grid_size=GRID)
    pieces = shapely.get_coordinates(shapely.get_parts(union)).reshape(-1, 2, 2)  # none has a bend
    assert as_set(noded(lines, NONE)) == as_set(pieces)


def test_nothing_crosses_in_a_fan_of_lines_that_meet_all_but_in_one_point():
    way = np.linspace(0, np.pi, 40, endpoint=False)
    aside = np.random.default_rng(1).uniform(-3 * GRID, 3 * GRID, (40, 2))
    arm = np.column_stack([np.cos(way), np.sin(way)]) * 7
    pieces = noded(on_grid(np.stack([aside - arm, aside + arm], axis=1)), NONE)
    assert crossing_pairs(pieces) == 0
    whole = shapely.union_all(shapely.linestrings(pieces))
    assert len(shapely.get_parts(whole)) == len(pieces)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("size", [30, 100])
def test_no_end_lies_within_a_piece_where_all_is_as_fine_as_the_grid(seed, size):
    """Lines through the edges of triangles, all within so many steps of the grid."""
    rng = np.random.default_rng(seed)
    corners = np.unique(rng.integers(0, size, (40, 2)), axis=0) * GRID
    ends, _, _ = Mesh.delaunay(corners).edges()
    cutters = rng.integers(0, size, (12, 2, 2)) * GRID
    pieces = noded(np.concatenate([corners[ends], cutters]), NONE, known=len(ends))
    assert (ends_within(pieces), crossing_pairs(pieces)) == (0, 0)
    pieces = noded(cutters, NONE)
    assert (ends_within(pieces), crossing_pairs(pieces)) == (0, 0)


def test_the_first_need_not_be_compared_with_one_another():
    grid = np.arange(6.0)
    rows = np.array([[[a, b], [a + 1, b]] for a in grid[:-1] for b in grid])
    columns = np.array([[[a, b], [a, b + 1]] for a in grid for b in grid[:-1]])
    known = np.concatenate([rows, columns])
    further = on_grid(np.array([[[0.2, 0.3], [4.7, 4.1]], [[4.9, 0.2], [0.3, 4.6]]]))
    every = np.concatenate([known, further])
    assert as_set(noded(every, NONE, known=len(known))) == as_set(noded(every, NONE))


def test_points_and_ends_that_lie_on_a_line_cut_it():
    lines = np.array([[[0.0, 0], [8, 0]], [[3.0, 0], [3, 5]], [[0, 0], [8, 0]]])
    found = as_set(noded(lines, np.array([[5.0, 2 * GRID], [6, 1]])))
    assert found == as_set(
        np.array(
            [
                [[0.0, 0], [3, 0]],
                [[3.0, 0], [5, 2 * GRID]],
                [[5.0, 2 * GRID], [8, 0]],
                [[3.0, 0], [3, 5]],
            ]
        )
    )


def test_what_is_never_done_is_left_to_the_library(monkeypatch):
    lines = scattered(30, 9)
    usual = as_set(noded(lines, NONE))
    monkeypatch.setattr(noding, "_ROUNDS", 0)
    assert as_set(noded(lines, NONE)) == usual
