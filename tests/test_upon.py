"""Surfaces on structures do not carry them: a house stands on the street, not on its own roof terrace."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from courtyard import CRS, box, here, layer

import siteaxo

STREET = layer("street", "ground", box(0, 30, 0, 20), top=0.0)
HOUSE = layer("house", "structure", box(5, 17, 5, 15), base="below", height=10.0)
MOST, LESS = box(6, 16, 6, 14), box(7, 15, 7, 11)  # 80 and 32 of the 120 m² of the house


def levels(*layers):
    model = siteaxo.Site(name="Roofs", layers=list(layers), plane_crs=CRS, base_line=90.0).stack()
    table = model.footprints.set_index("layer")
    return model, {name: tuple(table.loc[name, ["base", "top"]]) for name in table.index}


@pytest.mark.parametrize("place", [MOST, LESS], ids=["most", "less"])
@pytest.mark.parametrize("role", ["deck", "paving", "lawn"])
def test_a_house_does_not_stand_on_its_own_roof_terrace(role, place):
    model, found = levels(STREET, HOUSE, layer("terrace", role, place, base=10.0, top=10.15))
    assert found["house"] == (0.0, 10.0)
    assert found["terrace"] == (10.0, 10.15)
    assert not {"straddles", "floating", "buried"} & set(model.findings["code"])


@pytest.mark.parametrize("role", ["deck", "lawn"])
def test_what_is_laid_over_a_roof_from_below_lifts_nothing_and_is_told(role):
    model, found = levels(STREET, HOUSE, layer("green", role, MOST, base="below", height=0.2))
    assert found["house"] == (0.0, 10.0)
    (told,) = model.findings[model.findings["code"] == "buried"].itertuples()
    assert told.layer == "green"
    assert "`roof`" in told.message


def test_on_surveyed_ground_a_house_stands_on_the_ground():
    """Ground that rises by 1 in 10 northward from 10 m: the house begins at its lowest, y = 5."""
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 30, 7), np.linspace(0, 20, 5)))
    points = [here(shapely.Point(*spot)) for spot in zip(x, y, strict=True)]
    spots = gpd.GeoDataFrame({"lvl": 10 + y / 10}, geometry=points, crs=CRS)
    _, found = levels(
        layer("hill", "ground", box(0, 30, 0, 20), top="survey"),
        siteaxo.Layer(name="spots", role="spot level", source=spots, top="lvl"),
        HOUSE,
        layer("terrace", "deck", MOST, base=20.5, top=20.65),
    )
    assert found["house"] == pytest.approx((10.5, 20.5))


def test_a_deck_that_reaches_beyond_a_hut_carries_it():
    deck = layer("deck", "deck", box(3, 19, 3, 17), base=2.0, top=2.2)
    assert levels(STREET, HOUSE, deck)[1]["house"] == (2.2, 12.2)


def test_a_deck_as_large_as_a_house_carries_it():
    deck = layer("deck", "deck", box(5, 17, 5, 15), base=2.0, top=2.2)
    assert levels(STREET, HOUSE, deck)[1]["house"] == (2.2, 12.2)


def test_a_terrace_within_a_house_carries_it():
    plinth = layer("plinth", "terrace", MOST, top=0.6)
    assert levels(STREET, HOUSE, plinth)[1]["house"] == (0.6, 10.6)


def test_a_deck_that_alone_holds_a_house_carries_it():
    assert levels(HOUSE, layer("deck", "deck", MOST, base=2.0, top=2.2))[1]["house"] == (2.2, 12.2)
