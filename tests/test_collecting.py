"""Garbage is looked for again after every piece of work, however it ends."""

import gc

import pytest

from siteaxo.collecting import uncollected


def test_it_is_put_off_within_and_only_there():
    with uncollected():
        with uncollected():
            assert not gc.isenabled()
        assert not gc.isenabled()  # what lies around decides
    assert gc.isenabled()


def test_who_has_switched_it_off_finds_it_off():
    gc.disable()
    try:
        with uncollected():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_a_failure_puts_it_back():
    with pytest.raises(ValueError, match="stop"), uncollected():
        raise ValueError("stop")
    assert gc.isenabled()


@uncollected()
def collects():
    return gc.isenabled()


def test_a_function_may_be_marked():
    assert [collects(), collects()] == [False, False]
    assert gc.isenabled()
