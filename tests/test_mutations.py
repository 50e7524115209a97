"""Mutated files: seeds that once went wrong, and a few more; tests/benchmarks/fuzz.py does thousands."""

import mutations
import pytest

ONCE_WRONG = [
    1801,  # a GeoPackage whose own error message is not UTF-8
    1929,  # the same
    2412,  # GML with a property twice, which is read as a list
    13655,  # a grid that ends within its header
    17311,  # the same
    15530,  # an infinite id, for which the reader makes texts such as "11.0" of all others
    16914,  # the same
    70442,  # an id of 400 digits, for which the reader gives the last whole number of 64 bits
]


@pytest.fixture(scope="module")
def originals(tmp_path_factory):
    folder = tmp_path_factory.mktemp("originals")
    mutations.make_originals(folder)
    return folder


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("seed", [*ONCE_WRONG, *range(64)])
def test_a_mutated_file_is_read_or_refused(originals, tmp_path, seed):
    what = mutations.mutate(originals, tmp_path, seed)
    outcome, said = mutations.judged(tmp_path)
    assert outcome in ("read", "found", "refused"), f"{what}: {said}"


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("kind", mutations.KINDS)
def test_the_good_ones_are_read(originals, tmp_path, kind, monkeypatch):
    monkeypatch.setattr(mutations, "changed", lambda content, rng: (bytes(content), "nothing"))
    monkeypatch.setattr(mutations, "reworded", mutations.changed)
    mutations.mutate(originals, tmp_path, mutations.KINDS.index(kind))
    assert mutations.judged(tmp_path) in [("read", ""), ("found", "beyond-levels")]


@pytest.mark.filterwarnings("ignore")
def test_losses_are_seen(originals, tmp_path, monkeypatch):
    """The judge itself: a feature that is not read without a word is told."""
    monkeypatch.setattr(mutations, "changed", lambda content, rng: (bytes(content), "nothing"))
    monkeypatch.setattr(mutations, "reworded", mutations.changed)
    monkeypatch.setattr(mutations, "held", lambda folder: {"11", "99"})
    mutations.mutate(originals, tmp_path, 1)
    assert mutations.judged(tmp_path)[0] == "lost"
