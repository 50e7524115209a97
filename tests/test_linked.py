"""What hangs together, against SciPy's connected components."""

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from siteaxo.solids.linked import linked


@pytest.mark.parametrize(("count", "pairs"), [(1, 0), (50, 0), (50, 20), (400, 350), (3000, 2999)])
def test_pieces_are_those_that_scipy_finds(count, pairs):
    one, other = np.random.default_rng(count + pairs).integers(0, count, (2, pairs))
    first = linked(count, one, other)
    piece = connected_components(coo_array((np.ones(pairs), (one, other)), shape=(count, count)))[1]
    least = np.full(piece.max() + 1, count)
    np.minimum.at(least, piece, np.arange(count))
    assert first.tolist() == least[piece].tolist()


def test_a_long_chain_in_any_order():
    order = np.random.default_rng(1).permutation(5000)
    assert not linked(5000, order[:-1], order[1:]).any()
