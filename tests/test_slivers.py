"""Slivers take the normals of their neighbours, wide facets keep their own."""

import numpy as np
import pytest

from siteaxo.solids.slivers import SLIM, SLIT, lent_normals, met_faces

UP, EAST, TILTED = [0.0, 0, 1], [1.0, 0, 0], [0.6, 0, 0.8]


def lent(normals, widths, pairs):
    """Facets whose sides are all 2 m long, with their widths."""
    one, other = np.array(pairs).T
    length = np.full(len(pairs), 2.0)
    return lent_normals(np.array(normals), np.array(widths), length, one, other)


def test_a_sliver_takes_the_normal_of_the_wider_neighbour():
    found = lent([UP, EAST, TILTED], [1.0, SLIM / 3, 3.0], [(0, 1), (1, 2)])
    assert found.tolist() == [UP, TILTED, TILTED]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_slivers_side_by_side(count):
    normals = [UP, *[EAST] * count, UP]
    widths = [1.0, *[SLIM / 5] * count, 1.0]
    found = lent(normals, widths, [(k, k + 1) for k in range(count + 1)])
    assert (found == UP).all()


@pytest.mark.parametrize("widths", [[0.3], [0.6, 0.3], [0.3, 0.6], [0.3, 0.3, 0.3]])
def test_slivers_in_one_plane_with_a_wide_facet_keep_their_own(widths):
    """Level ground, slivers of a bank at its foot, and the bank, which is narrower than the ground."""
    normals = [UP, *[TILTED] * len(widths), TILTED]
    found = lent(
        normals, [9.0, *[SLIM * one for one in widths], 1.0], [(k, k + 1) for k in range(len(widths) + 1)]
    )
    assert found.tolist() == normals


def test_wide_facets_keep_their_own():
    normals = [UP, EAST, TILTED]
    assert lent(normals, [SLIM, 1.0, 2.0], [(0, 1), (1, 2)]).tolist() == normals


def test_facets_without_neighbours_keep_their_own():
    nothing = np.zeros(0, dtype=int)
    assert lent_normals(np.array([UP]), np.array([1.0]), np.zeros(0), nothing, nothing).tolist() == [UP]


def met(widths, pairs):
    """Facets whose sides are all 2 m long, with their widths."""
    one, other = np.array(pairs).T
    found = met_faces(np.array(widths), np.full(len(pairs), 2.0), one, other)
    return list(zip(*(side.tolist() for side in found), strict=True))


@pytest.mark.parametrize("count", [1, 2, 3])
def test_facets_meet_across_what_is_too_narrow_to_be_seen(count):
    last = count + 1
    found = met([1.0, *[SLIT / 2] * count, 1.0], [(k, k + 1) for k in range(last)])
    assert found[0] == found[-1] == (0, last)


def test_what_can_be_seen_is_not_passed_over():
    pairs = [(0, 1), (1, 2)]
    assert met([1.0, 2 * SLIT, 1.0], pairs) == pairs


def test_a_sliver_at_the_border_stays():
    assert met([1.0, SLIT / 2], [(0, 1)]) == [(0, 1)]


def test_a_facet_never_meets_itself():
    pairs = [(0, 1), (1, 0)]
    assert met([1.0, SLIT / 2], pairs) == pairs
