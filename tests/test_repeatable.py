"""Numbers from keys: where they come from, that they stay, and how they are spread."""

import hashlib

import numpy as np
import pytest

from siteaxo.craft.repeatable import bell, numbers, numbers_each, numbers_for


def test_numbers_are_the_digest():
    # FIPS 202: SHAKE256 as the standard library has it; 53 leading bits of each eight bytes.
    digest = hashlib.shake_256(b"trees\x1f12\x1f0").digest(24)
    expected = [(int.from_bytes(digest[8 * k : 8 * k + 8], "little") >> 11) / 2**53 for k in range(3)]
    assert numbers(3, "trees", 12, 0).tolist() == expected


def test_first_numbers_do_not_depend_on_how_many():
    assert numbers(5, "a").tolist() == numbers(500, "a")[:5].tolist()


def test_keys_tell_apart():
    assert not np.intersect1d(numbers(50, "a", "bc"), numbers(50, "ab", "c")).size


def test_even_spread():
    many = numbers(20_000, "spread")
    assert many.min() >= 0
    assert many.max() < 1
    assert many.mean() == pytest.approx(0.5, abs=4 * np.sqrt(1 / 12 / 20_000))
    assert np.bincount((many * 10).astype(int), minlength=10).min() > 2000 - 5 * np.sqrt(2000)


def test_each_name_has_its_own_numbers():
    rows = numbers_each(3, ["b", "a", "b"], "key")
    assert rows[0].tolist() == rows[2].tolist() == numbers(3, "key", "b").tolist()
    assert rows[1].tolist() == numbers(3, "key", "a").tolist()
    assert numbers_each(2, [], "key").shape == (0, 2)


def test_ragged_numbers():
    mixed = numbers_for([2, 0, 1], ["a", "b", "c"], "key")
    assert mixed.tolist() == [*numbers(2, "key", "a"), *numbers(1, "key", "c")]
    assert numbers_for([], [], "key").shape == (0,)


def test_bell_has_mean_and_spread_of_a_standard_one():
    # Four even numbers: variance 4/12, so that (sum − 2)·√3 has variance 1.
    values = bell(numbers(80_000, "bell").reshape(-1, 4))
    assert values.mean() == pytest.approx(0, abs=0.03)
    assert values.std() == pytest.approx(1, abs=0.02)
    assert np.abs(values).max() <= 2 * np.sqrt(3)
