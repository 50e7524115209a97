"""Files of strangers reach nothing but themselves: no request, no byte of another file."""

import os

import pytest
from hostile.reaching import SECRET, attempts, listener, secrets, tried

ATTEMPTS = attempts()
pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="links as POSIX has them"),
    pytest.mark.filterwarnings("ignore"),
]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with secrets in it, for all; and a listener."""
    folder = tmp_path_factory.mktemp("reaching")
    with listener() as (url, asked):
        yield folder, secrets(folder), url, asked


@pytest.mark.parametrize("name", ATTEMPTS)
def test_nothing_is_reached(name, place):
    folder, outside, url, asked = place
    own = folder / f"site {list(ATTEMPTS).index(name)}"
    own.mkdir()
    said = tried(ATTEMPTS[name], own, url, outside)
    assert asked == []
    assert SECRET not in said


@pytest.mark.parametrize("name", [n for n in ATTEMPTS if " grid " in n and "crs, " in n])
def test_no_grid_is_asked_for_where_proj_may_use_the_network(name, tmp_path):
    import pyproj.network

    before = pyproj.network.is_network_enabled()
    outside = secrets(tmp_path)
    try:
        pyproj.network.set_network_enabled(True)
        with listener() as (url, asked):
            tried(ATTEMPTS[name], tmp_path, url, outside)
    finally:
        pyproj.network.set_network_enabled(before)
    assert asked == []


def test_the_listener_hears():
    import urllib.request

    with listener() as (url, asked), pytest.raises(OSError, match="404"):
        urllib.request.urlopen(f"{url}/x")
    assert asked == ["/x"]
