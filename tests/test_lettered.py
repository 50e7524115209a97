"""Words over tones and shadows: their colour, and halos that follow their letters."""

import geopandas
import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure

from siteaxo.craft.colours import contrast, laid_over
from siteaxo.craft.style import Style
from siteaxo.sheet.label_rows import LEVEL_WAY, LabelRows
from siteaxo.sheet.lettered import draw_labels
from siteaxo.sheet.paths import Ink
from siteaxo.sheet.placing import Room

NIGHT = ("#101418", 0.5)
"""A shadow that covers half of what it falls on."""
BOX = np.array([1.0, 1.0, 5.0, 2.0])


def look(fill, *, style=None, shadow=None, second=None):
    """How words look on a face 10 m wide, or across two, with a shadow over some part of it."""
    areas = [shapely.box(0, 0, 10, 10)] if second is None else list(shapely.box([0, 3], 0, [3, 10], 10))
    room = Room(
        lines=np.empty(0, dtype=object),
        areas=np.array(areas),
        quiet=np.ones(len(areas), dtype=bool),
        window=(0.0, 0.0, 10.0, 10.0),
        shadows=np.array([] if shadow is None else [shadow], dtype=object),
        shades=[NIGHT],
    )
    fills = np.array([fill] if second is None else [fill, second], dtype=object)
    rows = LabelRows(scale=200, style=style or Style(), fills=fills, small_mm=1.8, usual_mm=2.5)
    return rows.look_on(room, BOX)


def test_ink_on_light_tones_needs_no_halo():
    assert look("#e8e4dc") == {"colour": Style().ink, "fill": ""}


def test_a_shadow_under_readable_words_gets_no_halo():
    """Half covered with a dark tone, light grey is #7c7c7d or so: darker ink still reads on it."""
    shadow = shapely.box(0, 0, 3, 10)
    assert contrast(Style().ink, laid_over(*NIGHT[:1], "#e8e4dc", NIGHT[1])) >= 3
    assert look("#ffffff", shadow=shadow)["fill"] == ""


@pytest.mark.parametrize("fill", ["#3a2420", "#202428", "#4a3030"])
def test_words_on_dark_roofs_are_in_the_colour_of_the_paper(fill):
    assert look(fill) == {"colour": Style().paper, "fill": ""}


@pytest.mark.parametrize("name", ["muted", "dark ground"])
@pytest.mark.parametrize("fill", ["#6c6c6c", "#777777", "#858585", "#92785c", "#5f7f66"])
@pytest.mark.parametrize("shadow", [None, shapely.box(0, 0, 3, 10), shapely.box(0, 0, 10, 10)])
def test_words_can_be_read_in_the_light_and_in_shadows(name, fill, shadow):
    """WCAG 2.2 §1.4.3: 4.5."""
    found = look(fill, style=Style.named(name), shadow=shadow)
    lit = [] if shadow is not None and shadow.bounds[2] > 5 else [fill]
    seen = [*lit, *([] if shadow is None else [laid_over(NIGHT[0], fill, NIGHT[1])])]
    for tone in [found["fill"]] if found["fill"] else seen:
        assert contrast(found["colour"], tone) >= 4.5


def test_words_across_two_tones_can_be_read_on_both():
    found = look("#e8e4dc", second="#4a3030")
    assert found["fill"]
    assert contrast(found["colour"], found["fill"]) >= 4.5


@pytest.mark.parametrize("turn", [0.0, 35.0])
def test_a_halo_follows_the_letters(turn):
    """It has the outlines of five letters and lies where they do, in every direction."""
    way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    rows = LabelRows(scale=200, style=Style(), fills=np.empty(0, dtype=object), small_mm=1.8, usual_mm=2.5)
    rows.words("Lilac", np.array([3.0, 4.0]), way, 5.0, {"kind": "label", "fill": "#808080"})
    table = geopandas.GeoDataFrame(rows.columns, geometry=rows.geometry)
    axes = Figure().add_axes((0, 0, 1, 1))
    draw_labels(axes, table, Ink(), scale=200.0)
    (group,) = (one for one in axes.get_children() if hasattr(one, "members"))
    (halo,) = (one for one in group.members if hasattr(one, "get_path"))
    lies = halo.get_path().vertices @ np.array([way, [-way[1], way[0]]]).T
    start = np.array([3.0, 4.0]) @ np.array([way, [-way[1], way[0]]]).T
    length = shapely.length(rows.geometry[0])
    assert len(lies) > 60
    assert lies.min(axis=0) - start == pytest.approx([0.0, 0.0], abs=0.15)
    assert lies.max(axis=0) - start == pytest.approx([length, 1.0], abs=0.15)
    assert halo.get_linewidth() * 25.4 / 72 < 2.5  # about each letter, in the middle of a pair at most


def test_a_text_stands_level_without_a_halo():
    rows = LabelRows(scale=200, style=Style(), fills=np.empty(0, dtype=object), small_mm=1.8, usual_mm=2.5)
    rows.words("Lilac", np.zeros(2), LEVEL_WAY, 2.5, {"kind": "label"})
    axes = Figure().add_axes((0, 0, 1, 1))
    draw_labels(axes, geopandas.GeoDataFrame(rows.columns, geometry=rows.geometry), Ink(), scale=200.0)
    (group,) = (one for one in axes.get_children() if hasattr(one, "members"))
    assert [type(one).__name__ for one in group.members] == ["Text"]
