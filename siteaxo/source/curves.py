"""
Curves with far more corners than can be drawn, given fewer.

A curve divided so finely that its facets are narrower than what counts as edge-on would lose its
upright faces, one by one. Where corners follow one another within 50 mm, those are left out that lie
no farther than 0.1 mm from the line without them. What features share they still share: where the
outlines of several run together, the same corners stay in all of them.

References
----------
Douglas and Peucker 1973, the choice of corners. A chord of length s lies s² / 8r inside a curve of
radius r, so that chords of curves of 5 mm radius and more are 1 mm long at least.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..errors import Finding
from ..ragged import ragged
from .features import Features

SHORT: Final = 0.05  # corners nearer than this may be those of a curve [m]
OFF: Final = 1e-4  # how far from the line without it a corner may lie that is left out [m]
RUN: Final = 3  # as many short sides in a row are a curve


def with_coarser_curves(features: Features) -> tuple[Features, list[Finding]]:
    """
    Give finely divided curves fewer corners, and say so.

    Parameters
    ----------
    features : Features
        On the local plane; what has levels of its own at its corners keeps all of them.

    Returns
    -------
    features : Features
    findings : list of Finding
        One for each feature that has lost corners.
    """
    rows = np.flatnonzero(shapely.is_missing(features.geometry_z))
    before = features.geometry[rows]
    after = coarser(before)
    many, left = shapely.get_num_coordinates(before), shapely.get_num_coordinates(after)
    fewer = np.flatnonzero(left < many)
    if not len(fewer):
        return features, []
    geometry = features.geometry.copy()
    geometry[rows] = after
    findings = [
        Finding(
            severity="info",
            code="fine-curve",
            layer=features.layers[features.layer[row]].name,
            source_id=str(features.source_id[row]),
            value=f"{was} corners",
            message=(
                f"Its curves are divided more finely than can be drawn. {now} of its {was} corners are kept; "
                f"no place lies more than {OFF * 1000:g} mm off."
            ),
        )
        for row, was, now in zip(rows[fewer], many[fewer].tolist(), left[fewer].tolist(), strict=True)
    ]
    return features.with_columns(geometry=geometry), findings


def coarser(geometry: np.ndarray) -> np.ndarray:
    """
    Give finely divided curves fewer corners.

    Parameters
    ----------
    geometry : ndarray of Polygon, LineString or Point, shape (n,)
        Valid single parts in plan [m].

    Returns
    -------
    ndarray of object, shape (n,)
        The same, but for those that have lost corners.

    Examples
    --------
    >>> posts = np.array([shapely.Point(0, 0).buffer(0.3, quad_segs=many) for many in (8, 512)])
    >>> [len(post.exterior.coords) - 1 for post in coarser(posts)]
    [32, 128]
    """
    rows = _dense(geometry)
    if not len(rows):
        return geometry
    lines = Lines.of(geometry[rows])
    made = lines.made(_kept(lines))
    fewer = shapely.get_num_coordinates(made) < shapely.get_num_coordinates(geometry[rows])
    fewer &= shapely.is_valid(made)
    result = geometry.copy()
    result[rows[fewer]] = made[fewer]
    return result


def _dense(geometry: np.ndarray) -> np.ndarray:
    """Rows of geometries with some short sides in a row."""
    xy, row = shapely.get_coordinates(geometry, return_index=True)
    short = (np.hypot(*np.diff(xy, axis=0).T) < SHORT) & (row[1:] == row[:-1])
    many = np.ones(max(len(short) - RUN + 1, 0), dtype=bool)
    for first in range(RUN):
        many &= short[first : first + len(many)]
    return np.unique(row[np.flatnonzero(many)])


@dataclass(frozen=True, kw_only=True)
class Lines:
    """
    Rings of polygons and lines as corners one behind the other.

    Parameters
    ----------
    geometry : ndarray of Polygon or LineString, shape (n,)
        What they are of.
    xy : ndarray, shape (v, 2)
        Corners, those of rings once [m].
    line : ndarray of int, shape (v,)
        The ring or line of each.
    owner : ndarray of int, shape (r,)
        The geometry of each ring or line.
    closed : ndarray of bool, shape (r,)
        Which of them are rings.
    """

    geometry: np.ndarray
    xy: np.ndarray
    line: np.ndarray
    owner: np.ndarray
    closed: np.ndarray

    @classmethod
    def of(cls, geometry: np.ndarray) -> Lines:
        """Take polygons and lines apart."""
        area = shapely.get_dimensions(geometry) == 2
        rings, owner = shapely.get_rings(geometry[area], return_index=True)
        every = np.concatenate([rings, geometry[~area]])
        owner = np.concatenate([np.flatnonzero(area)[owner], np.flatnonzero(~area)])
        closed = np.arange(len(every)) < len(rings)
        xy, line = shapely.get_coordinates(every, return_index=True)
        twice = np.append(line[1:] != line[:-1], True) & closed[line]
        return cls(geometry=geometry, xy=xy[~twice], line=line[~twice], owner=owner, closed=closed)

    def beside(self) -> tuple[np.ndarray, np.ndarray]:
        """The corner before and the one after each, -1 at the ends of lines, shape (v,)."""
        many = np.bincount(self.line, minlength=len(self.owner))
        first = np.cumsum(many) - many
        before, after = np.arange(len(self.line)) - 1, np.arange(len(self.line)) + 1
        last = first + many - 1
        before[first], after[last] = np.where(self.closed, last, -1), np.where(self.closed, first, -1)
        return before, after

    def made(self, kept: np.ndarray) -> np.ndarray:
        """The geometries with some of their corners, shape (n,); rings keep three at least."""
        few = self.closed & (np.bincount(self.line, kept, len(self.owner)) < 3)
        kept = kept | few[self.line]
        xy, line = self.xy[kept], self.line[kept]
        made, rings = self.geometry.copy(), self.closed[line]
        open_ = self.owner[~self.closed]
        made[open_] = shapely.linestrings(xy[~rings], indices=_numbers(line[~rings]))
        area, owner = np.unique(self.owner[self.closed], return_inverse=True)
        closed = shapely.linearrings(xy[rings], indices=_numbers(line[rings]))
        made[area] = shapely.polygons(closed, indices=owner)
        return made


def _numbers(line: np.ndarray) -> np.ndarray:
    """Numbers of lines, ascending, without gaps."""
    return np.unique(line, return_inverse=True)[1]


def _kept(lines: Lines) -> np.ndarray:
    """Which corners stay, shape (v,): those of one place in all lines or in none."""
    node = np.unique(lines.xy, axis=0, return_inverse=True)[1].ravel()
    before, after = lines.beside()
    inner = _alike(node, before, after)
    for other in (before, after):
        side = lines.xy - lines.xy[other]
        inner &= np.hypot(side[:, 0], side[:, 1]) < SHORT
    whole = np.bincount(lines.line, ~inner, len(lines.owner)) == 0  # rings that are one curve
    least = np.full(len(whole), len(node))
    np.minimum.at(least, lines.line, node)
    inner &= ~(whole[lines.line] & (node == least[lines.line]))
    needed = np.zeros(len(node), dtype=bool)
    needed[_chosen(lines, node, inner)] = True
    return ~inner | needed[node]


def _alike(node: np.ndarray, before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Corners with the same two beside them in every line that has them."""
    ends = (before < 0) | (after < 0)
    one, other = node[before], node[after]
    pair = np.minimum(one, other) * len(node) + np.maximum(one, other)
    pair[ends] = -1
    low, high = np.full(len(node), np.iinfo(np.int64).max), np.full(len(node), -2)
    np.minimum.at(low, node, pair)
    np.maximum.at(high, node, pair)
    return np.asarray(~ends & (low == high)[node])


def _chosen(lines: Lines, node: np.ndarray, inner: np.ndarray) -> np.ndarray:
    """Nodes of curves that stay; each curve runs from a corner that stays to the next."""
    many = np.bincount(lines.line, minlength=len(lines.owner))
    first = np.cumsum(many) - many
    shift = np.full(len(many), len(node))
    np.minimum.at(shift, lines.line[~inner], np.flatnonzero(~inner) - first[lines.line[~inner]])
    total = many + lines.closed  # rings go round to where they begin
    line, place = ragged(total)
    corner = first[line] + (np.where(lines.closed, shift, 0)[line] + place) % many[line]
    stays = np.flatnonzero(~inner[corner])
    begin, end = stays[:-1], stays[1:]
    curve = (line[begin] == line[end]) & (end > begin + 1)
    begin, end = begin[curve], end[curve]
    one, other = node[corner[begin]], node[corner[end]]
    again = node[corner[begin + 1]] > node[corner[end - 1]]
    back = (one > other) | ((one == other) & again)  # the same way in every line that has it
    run, steps = ragged(end - begin + 1)
    at = corner[np.where(back[run], end[run] - steps, begin[run] + steps)]
    curves = shapely.simplify(shapely.linestrings(lines.xy[at], indices=run), OFF, preserve_topology=False)
    return _nodes_at(lines.xy, node, shapely.get_coordinates(curves))


def _nodes_at(xy: np.ndarray, node: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Nodes that stand at places; all of them are places of corners."""
    known = np.zeros((int(node.max(initial=-1)) + 1, 2))
    known[node] = xy
    both = np.unique(np.concatenate([known, places]), axis=0, return_inverse=True)[1].ravel()
    return np.asarray(both[len(known) :])
