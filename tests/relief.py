"""Grids of levels as ground, and what NumPy makes of them, for tests."""

import numpy as np

from siteaxo.solids.survey import Survey, surface_of


def places_of(grid, cell):
    """Where the points of a grid lie, its last row at the foot, shape (n, 2)."""
    row, column = np.indices(grid.shape)
    return np.column_stack([column.ravel() * cell, (grid.shape[0] - 1 - row.ravel()) * cell])


def surface_through(grid, cell):
    """The triangles through all points of a grid."""
    return surface_of(Survey(spots=np.column_stack([places_of(grid, cell), grid.ravel()]))).tin


def volumes_by_diagonals(grid, cell):
    """Least and greatest volume below triangles, whichever diagonal each cell is cut along."""
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    ways = (2 * (a + c) + b + d) / 6, (2 * (b + d) + a + c) / 6
    return tuple(how(*ways).sum() * cell**2 for how in (np.minimum, np.maximum))


def normals_of(tin):
    """The normal of each triangle, as long as twice its area, shape (t, 3)."""
    corner = tin.xyz[tin.triangle]
    return np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
