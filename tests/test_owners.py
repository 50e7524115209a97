"""Features numbered alike in all tables of a drawing."""

import numpy as np
import pandas as pd
import pytest

from siteaxo.craft.lines import LineWeights, ranks_in
from siteaxo.craft.owners import owners_of
from siteaxo.errors import SheetError


def table(*keys):
    return pd.DataFrame({"layer": [one for one, _ in keys], "source_id": [other for _, other in keys]})


def test_one_id_in_two_layers_is_two_features():
    faces = table(("walls", "1"), ("lawns", "1"), ("walls", "2"))
    lines = table(("lawns", "1"), ("walls", "2"), ("walls", "1"), ("steps", "9"))
    (owners,) = owners_of(faces, lines)
    assert len(set(owners.face.tolist())) == 3
    assert owners.line[:3].tolist() == owners.face[[1, 2, 0]].tolist()
    assert owners.line[3] not in owners.face


def test_rows_without_an_id_are_one_feature_of_their_layer():
    faces = table(("walls", None), ("walls", np.nan), ("lawns", None), ("walls", "1"))
    (owners,) = owners_of(faces, faces[::-1])
    assert owners.face[0] == owners.face[1]
    assert len(set(owners.face.tolist())) == 3
    assert owners.line.tolist() == owners.face[::-1].tolist()


def test_tables_without_rows_have_no_owners():
    seen, hidden = owners_of(table(), table(("walls", "1")), table())
    assert (len(seen.line), len(seen.face), len(hidden.line)) == (1, 0, 0)


@pytest.mark.parametrize("word", [None, np.nan, "cut"])
def test_a_kind_that_is_none_is_told(word):
    with pytest.raises(SheetError, match="Unknown kind of line"):
        LineWeights().widths(np.array(["edge", word], dtype=object))


def test_ranks_keep_their_shape():
    assert ranks_in([["b", "a"], ["a", "a"]], ("a", "b"), "letter").tolist() == [[1, 0], [0, 0]]
