import numpy as np
import pytest
from handmade import terraces, without_rows

from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.placement import place
from siteaxo.sheet.words import CAUTION, alternative_text, number_word


def text_of(diagram) -> str:
    return alternative_text(diagram, place((0, 0, 10, 9)))


def test_the_alternative_text_counts_what_is_seen():
    text = text_of(terraces())
    assert "Two terraces between 14.00 m and 15.00 m, one lawn at 13.00 m; 3 features in all." in text
    assert "Levels lie between 12.00 m and 15.00 m." in text
    assert text.startswith("Dyers' Yard, drawn 1:200 at A3.")
    assert text.endswith(CAUTION)


def test_terraces_at_one_level_are_at_it():
    diagram = terraces()
    diagram.faces.loc[diagram.faces["part"] == "top", ["level_min", "level_max"]] = 13.5
    assert "Two terraces at 13.50 m" in text_of(diagram)


def test_trees_have_no_level_and_roles_keep_their_order():
    diagram = terraces()
    diagram.faces["role"] = np.resize(["tree", "ground", "water"], len(diagram.faces))
    assert "One piece of ground at 14.00 m, one area of water at 15.00 m, one tree; 3" in text_of(diagram)


def test_an_unknown_role_is_counted_too():
    diagram = terraces()
    diagram.faces["role"] = "pergola"
    assert "Three pergolas; 3 features in all." in text_of(diagram)


def test_nothing_seen_is_said():
    assert "No feature is to be seen." in text_of(without_rows(terraces()))


@pytest.mark.parametrize(("count", "word"), [(0, "no"), (1, "one"), (12, "twelve"), (13, "13")])
def test_small_numbers_are_words(count, word):
    assert number_word(count) == word


def test_the_figure_carries_it():
    assert make_figure(terraces()).description == text_of(terraces())
