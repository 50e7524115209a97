"""Room for words where nothing is drawn yet."""

import numpy as np
import shapely

from siteaxo.sheet.placing import Room

NOTHING = np.empty(0, dtype=object)


def room():
    lines = shapely.linestrings([[(0, 0), (10, 0)]])
    return Room(lines=lines, areas=NOTHING, quiet=np.zeros(0, dtype=bool), window=(-20, -20, 20, 20))


def test_a_drawing_of_lines_only():
    """There is no area to write on, and bare paper beside it."""
    target, size, reach = np.array([5.0, 0.0]), np.array([3.0, 1.0]), np.array([2.0, 4.0])
    assert room().beside(target, size, reach, bare=False) is None
    box, leader = room().beside(target, size, reach, bare=True)
    assert shapely.distance(shapely.box(*box), shapely.LineString([(0, 0), (10, 0)])) > 0
    assert np.allclose(leader[0], target)
