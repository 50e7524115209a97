"""
Which lines stand against nothing: the outline of a site and its cut foot.

A line stands against nothing where the page just beside it, on one side or the other, is bare.
That is found in one dimension: the line is moved a little to either side and what the visible
faces cover of it is taken away.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from ..view.dashes import Dashes, complement

REACH: Final = 2e-3  # how far beside a line the page is looked at [m]
SHORTEST: Final = 1e-2  # bare stretches shorter than this do not count [m]


def bare_stretches(ends: np.ndarray, polygons: np.ndarray) -> Dashes:
    """
    Find the stretches of lines that have nothing on one side.

    Parameters
    ----------
    ends : ndarray, shape (n, 2, 2)
        End points on the page [m].
    polygons : ndarray of Polygon or MultiPolygon
        All that is seen.

    Returns
    -------
    Dashes
        Disjoint stretches, as parameters along each line, sorted.
    """
    tree = shapely.STRtree(polygons)
    along = ends[:, 1] - ends[:, 0]
    length = np.hypot(*along.T)
    across = np.column_stack([-along[:, 1], along[:, 0]]) / np.where(length > 0, length, 1.0)[:, None]
    bare = [
        complement(_covered(ends + side * REACH * across[:, None], tree, polygons), length, SHORTEST)[0]
        for side in (1.0, -1.0)
    ]
    return complement(Dashes.joined(bare), length, 0.0)[1]


def _covered(ends: np.ndarray, tree: shapely.STRtree, polygons: np.ndarray) -> Dashes:
    """What polygons cover of lines, as parameters along each line."""
    lines = shapely.linestrings(ends)
    line, face = tree.query(lines, predicate="intersects")
    shapely.prepare(polygons)
    whole = shapely.contains(polygons[face], lines[line])
    part = np.flatnonzero(~whole)
    pieces, owner = shapely.get_parts(
        shapely.intersection(lines[line[part]], polygons[face[part]]), return_index=True
    )
    straight = (shapely.get_type_id(pieces) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(pieces)
    pieces, owner = pieces[straight], line[part[owner[straight]]]
    begin, end = _span(pieces, ends[owner])
    full = line[whole]
    return Dashes(
        edge=np.concatenate([full, owner]),
        begin=np.concatenate([np.zeros(len(full)), begin]),
        end=np.concatenate([np.ones(len(full)), end]),
    )


def _span(pieces: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Parameters of the ends of pieces of lines, the lesser first."""
    if not len(pieces):
        return np.zeros(0), np.zeros(0)
    first = shapely.get_coordinates(shapely.get_point(pieces, 0))
    last = shapely.get_coordinates(shapely.get_point(pieces, -1))
    along = ends[:, 1] - ends[:, 0]
    square = (along**2).sum(axis=1)
    t = [((point - ends[:, 0]) * along).sum(axis=1) / square for point in (first, last)]
    return np.minimum(*t), np.maximum(*t)


def parted(dashes: Dashes, chosen: np.ndarray, stretches: Dashes) -> tuple[Dashes, np.ndarray, np.ndarray]:
    """
    Part some dashes where stretches of them begin and end.

    Parameters
    ----------
    dashes : Dashes
        Parts of edges.
    chosen : ndarray of int, shape (n,)
        Which of them the stretches belong to, ascending.
    stretches : Dashes
        Disjoint stretches along the chosen dashes, sorted; ``edge`` is a place in *chosen*.

    Returns
    -------
    dashes : Dashes
        All of them, some in parts, in their old order.
    origin : ndarray of int
        The dash that each comes from.
    inside : ndarray of bool
        Whether each is one of the stretches.
    """
    lengths = np.ones(len(chosen))
    gaps, within = complement(stretches, lengths, 0.0)
    row = chosen[np.concatenate([gaps.edge, within.edge])]
    t0, t1 = (np.concatenate([getattr(gaps, name), getattr(within, name)]) for name in ("begin", "end"))
    inside = np.concatenate([np.zeros(len(gaps), dtype=bool), np.ones(len(within), dtype=bool)])
    rest = np.setdiff1d(np.arange(len(dashes)), chosen)
    origin = np.concatenate([rest, row])
    span = dashes.end[row] - dashes.begin[row]
    begin = np.concatenate([dashes.begin[rest], dashes.begin[row] + t0 * span])
    end = np.concatenate(
        [dashes.end[rest], np.where(t1 == 1.0, dashes.end[row], dashes.begin[row] + t1 * span)]
    )
    inside = np.concatenate([np.zeros(len(rest), dtype=bool), inside])
    order = np.lexsort((begin, origin))
    result = Dashes(edge=dashes.edge[origin[order]], begin=begin[order], end=end[order])
    return result, origin[order], inside[order]
