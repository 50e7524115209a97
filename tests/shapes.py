"""
Solids for the tests: a builder that collects them, and ways to change a whole scene.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike

from siteaxo.solids.crown import trees
from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, Faces, from_quads, join, take
from siteaxo.solids.prism import prisms
from siteaxo.solids.scene import Scene
from siteaxo.view.kinds import KINDS
from siteaxo.view.projection import View
from siteaxo.view.resolve import Drawing, resolve
from siteaxo.view.tolerance import GRID


def rectangle(x: float, y: float, width: float, depth: float, turn: float = 0.0) -> np.ndarray:
    """Corners of a rectangle with its first corner at (x, y), turned about it [degrees]; shape (4, 2)."""
    cosine, sine = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    local = np.array([[0, 0], [width, 0], [width, depth], [0, depth]], dtype=float)
    return local @ np.array([[cosine, sine], [-sine, cosine]]) + [x, y]


class Builder:
    """Solids one by one; later solids rank higher unless told otherwise."""

    def __init__(self) -> None:
        self.tables: list[Faces] = []
        self.ranks: list[int] = []
        self.groups: list[int] = []

    def _solid(self, rank: int | None, group: int | None) -> np.ndarray:
        number = len(self.ranks)
        self.ranks.append(number if rank is None else rank)
        self.groups.append(number if group is None else group)
        return np.array([number])

    def prism(
        self,
        rings: ArrayLike | shapely.Polygon,
        base: float,
        top: float,
        *,
        rank: int | None = None,
        group: int | None = None,
    ) -> int:
        """Raise a footprint; one without height is a sheet."""
        polygon = rings if isinstance(rings, shapely.Polygon) else shapely.Polygon(np.asarray(rings))
        solid = self._solid(rank, group)
        self.tables.append(prisms(np.array([polygon]), np.array([base]), np.array([top]), solid=solid))
        return int(solid[0])

    def faces(
        self,
        polygons: list[np.ndarray],
        *,
        part: str = "slope",
        two_sided: bool = False,
        rank: int | None = None,
        group: int | None = None,
    ) -> int:
        """One solid of given faces, anticlockwise from outside, each shape (k, 3)."""
        solid = self._solid(rank, group)
        for polygon in polygons:
            self.tables.append(
                from_quads(polygon[None], solid=solid, part=PART_CODE[part], two_sided=two_sided)
            )
        return int(solid[0])

    def wedge(self, corners: np.ndarray, base: ArrayLike, top: ArrayLike, **options: int) -> int:
        """A closed solid with upright sides between two planar lids over anticlockwise corners."""
        count = len(corners)
        low = np.column_stack([corners, np.broadcast_to(np.asarray(base, dtype=float), count)])
        high = np.column_stack([corners, np.broadcast_to(np.asarray(top, dtype=float), count)])
        faces = [high, low[::-1]]
        for here, there in zip(range(count), [*range(1, count), 0], strict=True):
            side = [low[here], low[there], high[there], high[here]]
            side = [p for k, p in enumerate(side) if not np.array_equal(p, side[k - 1])]
            if len(side) > 2:
                faces.append(np.array(side))
        return self.faces(faces, **options)

    def gable(self, corners: np.ndarray, eaves: float, ridge: float) -> int:
        """A closed gable roof whose ridge runs along the first side of a rectangle."""
        a, b, c, d = (np.append(corner, eaves) for corner in corners)
        west, east = (np.append((p[:2] + q[:2]) / 2, ridge) for p, q in ((a, d), (b, c)))
        faces = [[a, b, east, west], [c, d, west, east], [d, a, west], [b, c, east], [d, c, b, a]]
        return self.faces([np.array(face) for face in faces], part="roof")

    def ground(self, rng: np.random.Generator, size: float, cells: int, relief: float) -> int:
        """A closed block of ground with a triangulated top."""
        step = size / cells
        node = np.stack(np.meshgrid(np.arange(cells + 1.0), np.arange(cells + 1.0), indexing="ij"), -1) * step
        node[1:-1, 1:-1] += rng.uniform(-0.3, 0.3, (cells - 1, cells - 1, 2)) * step
        node = np.dstack([node, rng.uniform(0, relief, node.shape[:2])])
        a, b, c, d = node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:]
        top = np.concatenate([np.stack(t, 2).reshape(-1, 3, 3) for t in ((a, b, c), (a, c, d))])
        rim = np.concatenate([node[:, 0], node[-1, 1:], node[-2::-1, -1], node[0, -2:0:-1]])
        foot = rim * [1, 1, 0] - [0, 0, 1]
        skirt = np.stack([foot, np.roll(foot, -1, 0), np.roll(rim, -1, 0), rim], axis=1)
        return self.faces([*top, *skirt, foot[::-1]])

    def tree(self, x: float, y: float, base: float, top: float, diameter: float) -> None:
        """A tree: two solids, crown and trunk."""
        crown, trunk = self._solid(None, None), self._solid(None, None)
        levels = (np.array([base]), np.array([top]))
        shape = {"diameter": np.array([diameter]), "clear_stem": np.array([0.3 * (top - base)])}
        self.tables.append(trees(np.array([[x, y]]), *levels, **shape, crown_solid=crown, trunk_solid=trunk))

    def scene(self) -> Scene:
        """Everything collected."""
        faces = join(self.tables)
        rank, group = np.array(self.ranks), np.array(self.groups)
        return Scene(faces=faces, edges=edges_of(faces), rank=rank, group=group)


def draw(scene: Scene, view: View, **options: object) -> Drawing:
    """Resolve a scene on one thread, with the origin of the site at the origin of the page."""
    return resolve(scene, view, **{"origin": np.zeros(3), "threads": 1, "tile": None, **options})


def transformed(scene: Scene, matrix: np.ndarray, shift: ArrayLike = (0, 0, 0)) -> Scene:
    """The scene under an affine map; mirrored faces keep looking outward."""
    old = scene.faces
    xyz = old.xyz @ np.asarray(matrix, dtype=float).T + np.asarray(shift, dtype=float)
    if np.linalg.det(matrix) < 0:
        ends = np.repeat(old.ring_start[:-1] + old.ring_start[1:] - 1, np.diff(old.ring_start))
        xyz = xyz[ends - np.arange(len(xyz))]
    columns = {
        name: getattr(old, name) for name in ("ring_start", "face_start", "solid", "part", "two_sided")
    }
    faces = Faces(xyz=xyz, **columns)
    return Scene(faces=faces, edges=edges_of(faces), rank=scene.rank, group=scene.group)


def reordered(scene: Scene, rng: np.random.Generator) -> tuple[Scene, np.ndarray]:
    """The scene with its solids and faces in another order, and where each new face stood before."""
    solids, chosen = rng.permutation(len(scene.rank)), rng.permutation(len(scene.faces))
    kept = take(scene.faces, chosen)
    number = np.argsort(solids)
    columns = {name: getattr(kept, name) for name in ("xyz", "ring_start", "face_start", "part", "two_sided")}
    faces = Faces(solid=number[kept.solid], **columns)
    rank, group = scene.rank[solids], scene.group[solids]
    return Scene(faces=faces, edges=edges_of(faces), rank=rank, group=group), chosen


def shown(drawing: Drawing, points: np.ndarray) -> np.ndarray:
    """The face drawn at page points, as a row of the Faces table; -1 for none, -2 for several at once."""
    tree = shapely.STRtree(drawing.visible.polygon)
    point, row = tree.query(shapely.points(points), predicate="intersects")
    label = np.full(len(points), -1)
    label[point] = drawing.face[row]
    label[np.bincount(point, minlength=len(points)) > 1] = -2
    return label


def seen_area(drawing: Drawing, count: int) -> np.ndarray:
    """Visible page area of every face of the scene, shape (count,) [m²]."""
    area = np.zeros(count)
    area[drawing.face] = shapely.area(drawing.visible.polygon)
    return area


def kind_length(drawing: Drawing, solid: int | None = None) -> dict[str, float]:
    """Drawn length of each kind of line, of one solid or of all [m]."""
    dashes, edges = drawing.dashes, drawing.edges
    length = (dashes.end - dashes.begin) * edges.length[dashes.edge]
    if solid is not None:
        length = np.where(edges.solid[dashes.edge] == solid, length, 0.0)
    return {name: float(length[drawing.kind == code].sum()) for code, name in enumerate(KINDS)}


def cuts_move(drawing: Drawing) -> float:
    """
    How much longer or shorter rounding may make the lines along which faces cut one another [m].

    Rounding moves a corner by up to GRID / √2, and a side no farther across itself. So the
    plane of a face, with slope p in depth, differs at the corners, and within them, from the
    one before rounding by up to |p| GRID / √2 and its warp. The line along which two planes
    cross moves across itself by the sum of both faces over |p - q|: far if they nearly lie in
    one plane. It ends where it meets a side, at an angle θ on the page, and there moves
    along itself by what line and side move across, over sin θ: far if they nearly run along
    one another, as with a face that is nearly edge-on.
    """
    edges, page, step = drawing.edges, drawing.page, GRID / np.sqrt(2)
    cut = np.flatnonzero(edges.source < 0)
    if not len(cut):
        return 0.0
    chosen = np.isin(edges.member_edge, cut)
    faces = edges.member_face[chosen][np.argsort(edges.member_edge[chosen], kind="stable")].reshape(-1, 2)
    unsure = np.hypot(*page.slope.T) * step + page.warp
    apart = np.hypot(*(page.slope[faces[:, 0]] - page.slope[faces[:, 1]]).T)
    across = unsure[faces].sum(axis=1) / apart + step
    after = page.xy[page.faces.next_vertex]
    moved = 0.0
    for ends, pair, by in zip(edges.xy[cut], faces, across, strict=True):
        rows = np.flatnonzero(np.isin(page.faces.vertex_face, pair))
        way, side = ends[1] - ends[0], after[rows] - page.xy[rows]
        sine = np.abs(side[:, 0] * way[1] - side[:, 1] * way[0]) / np.hypot(*side.T) / np.hypot(*way)
        sides = shapely.linestrings(np.stack([page.xy[rows], after[rows]], axis=1))
        met = shapely.distance(shapely.points(ends)[:, None], sides) <= step
        moved += float((by / np.where(met, sine, 1.0).min(axis=1)).sum())
    return moved
