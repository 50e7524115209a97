"""Every kind of bad input ends in a full reading or in an error that names its place."""

import os

import pytest
from hostile import lies, shapefiles, sites, tables, unlucky  # noqa: F401 - they fill the catalogue
from hostile.making import CASES, judge


def test_the_catalogue_is_long_enough():
    assert len(CASES) >= 150


@pytest.mark.skipif(os.name != "posix", reason="pipes and links as POSIX has them")
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", CASES)
def test_bad_input(name, tmp_path):
    assert judge(CASES[name], tmp_path) == ""
