"""
Scenes of every kind the trade brings, built for the tests of the drawing.

``Builder`` collects solids; the functions in ``KINDS`` each take a random generator and
return a scene some ten to thirty metres wide.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from siteaxo.solids.crown import trees
from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import PART_CODE, Faces, from_quads, join, take
from siteaxo.solids.prism import prisms
from siteaxo.solids.scene import Scene
from siteaxo.view.projection import View, cabinet, cavalier, dimetric, isometric, planometric, trimetric
from siteaxo.view.resolve import Drawing, resolve


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


def boxes(rng: np.random.Generator, count: int = 14, spread: float = 18.0) -> Scene:
    """Boxes at any angle that may run into one another."""
    site = Builder()
    for x, y in rng.uniform(0, spread, (count, 2)):
        size, base = rng.uniform(1.5, 5, 2), rng.choice([0.0, 0.0, rng.uniform(0, 3)])
        site.prism(rectangle(x, y, *size, turn=rng.uniform(0, 360)), base, base + rng.uniform(0.3, 6))
    return site.scene()


def angled(rng: np.random.Generator) -> Scene:
    """L-shapes and courtyards on a slab."""
    site = Builder()
    site.prism(rectangle(-2, -2, 26, 26), -0.5, 0)
    for x, y in ((0, 0), (11, 1), (1, 12), (12, 12)):
        turn, height = rng.uniform(0, 360), rng.uniform(1, 6)
        ell = rectangle(0, 0, 7, 7)[[0, 1, 2, 2, 2, 3]] * [[1, 1], [1, 1], [1, 0.4], [0.45, 0.4], [0.45, 1], [1, 1]]
        outline = shapely.Polygon(rectangle(0, 0, 8, 8), [rectangle(2, 2.5, 3.5, 3)[::-1]])
        shape = shapely.Polygon(ell) if rng.random() < 0.5 else outline
        shape = shapely.affinity.rotate(shape, turn, origin=(4, 4))
        site.prism(shapely.affinity.translate(shape, x, y), 0, height)
    return site.scene()


def terraces(rng: np.random.Generator) -> Scene:
    """Terraces stacked up a slope, with party walls, unequal lengths and walls that meet in T-junctions."""
    site = Builder()
    y = 0.0
    for step in range(6):
        depth = rng.uniform(1.5, 3)
        cuts = np.sort(np.concatenate([[0, 16], rng.uniform(1, 15, 2)]))
        level = 0.45 * step + rng.uniform(0, 0.3)
        for left, right in zip(cuts[:-1], cuts[1:], strict=True):
            site.prism(rectangle(left, y, right - left, depth), -1, level + rng.choice([0, 0, 0.6]))
        y += depth
    return site.scene()


def decks(rng: np.random.Generator) -> Scene:
    """Raised decks with planters and seats on them, under them ground."""
    site = Builder()
    site.prism(rectangle(-1, -1, 20, 16), -0.3, 0)
    for x, y in ((0, 0), (8, 1), (2, 8)):
        site.prism(rectangle(x, y, 7, 6), 0.6, 0.8)
        for dx, dy in ((0, 0), (3, 2.5), (5.5, 0.5)):
            size = rng.uniform(0.5, 1.5, 2)
            site.prism(rectangle(x + dx, y + dy, *size), 0.8, 0.8 + rng.uniform(0.2, 1.4))
    return site.scene()


def sunken(rng: np.random.Generator) -> Scene:
    """Courts sunk into the ground, one with a block in it that stands out."""
    site = Builder()
    holes = [rectangle(3, 3, 5, 4), rectangle(11, 4, 4, 4, turn=rng.uniform(5, 40)), rectangle(4, 12, 9, 3)]
    site.prism(shapely.Polygon(rectangle(0, 0, 20, 18), [h[::-1] for h in holes]), -4, 0)
    for hole in holes:
        site.prism(hole, -4, -rng.uniform(0.5, 3))
    site.prism(rectangle(5, 4, 1.5, 1.5), -4, rng.uniform(-1, 2))
    return site.scene()


def floating(rng: np.random.Generator) -> Scene:
    """Canopies and bridges above blocks and ground, one above another."""
    site = Builder()
    site.prism(rectangle(0, 0, 20, 20), -0.5, 0)
    for level in (3.0, 3.0, 4.5, 6.0):
        x, y = rng.uniform(0, 12, 2)
        site.prism(rectangle(x, y, *rng.uniform(2, 9, 2), turn=rng.uniform(0, 60)), level, level + 0.3)
    for x, y in rng.uniform(1, 17, (9, 2)):
        site.prism(rectangle(x, y, *rng.uniform(0.2, 2, 2)), 0, rng.choice([2.5, 3.0, 1.0]))
    return site.scene()


def tilted(rng: np.random.Generator) -> Scene:
    """Ramps, gable roofs on their walls and leaning roofs."""
    site = Builder()
    site.prism(rectangle(-1, -1, 22, 22), -0.4, 0)
    for x, y in ((0, 0), (9, 0), (0, 10), (10, 10)):
        plan = rectangle(x + 2, y + 1, *rng.uniform(3, 7, 2), turn=rng.uniform(0, 20))
        choice = rng.integers(3)
        if choice == 0:
            site.wedge(plan, 0, [0, 0, 1.5, 1.5])
        elif choice == 1:
            site.prism(plan, 0, 3)
            site.gable(plan, 3, 3 + rng.uniform(0.5, 2.5))
        else:
            site.wedge(plan, 0, np.array([2.0, 3.0, 4.0, 3.0]) * rng.uniform(0.5, 1.5))
    site.wedge(rectangle(6, 6, 7, 6), [3, 4.5, 4.5, 3], [3.2, 4.7, 4.7, 3.2])
    return site.scene()


def terrain(rng: np.random.Generator) -> Scene:
    """Triangulated ground with blocks standing in it."""
    site = Builder()
    site.ground(rng, 18, 6, 3.0)
    for x, y in rng.uniform(1, 14, (6, 2)):
        site.prism(rectangle(x, y, *rng.uniform(1, 3, 2), turn=rng.uniform(0, 90)), -0.5, rng.uniform(1.5, 5))
    return site.scene()


def interlocking(rng: np.random.Generator) -> Scene:
    """Leaning slabs and blocks that pass through one another."""
    site = Builder()
    for x, y in rng.uniform(0, 8, (8, 2)):
        plan = rectangle(x, y, *rng.uniform(2, 7, 2), turn=rng.uniform(0, 360))
        lean = plan @ rng.uniform(-0.7, 0.7, 2)
        top = lean - lean.mean() + rng.uniform(1, 4)
        site.wedge(plan, top - rng.uniform(0.2, 2), top)
    for x, y in rng.uniform(0, 8, (4, 2)):
        site.prism(rectangle(x, y, *rng.uniform(1, 4, 2), turn=rng.uniform(0, 90)), 0, rng.uniform(1, 6))
    return site.scene()


def cyclic(rng: np.random.Generator) -> Scene:
    """Three bars, each over the next and under the one before, four times over."""
    site = Builder()
    for shift in ((0, 0), (14, 1), (1, 14), (13, 13)):
        for turn in (0, 120, 240):
            bar = rectangle(-5, 1.5, 11, rng.uniform(0.8, 1.4))
            rise = np.array([0.0, 1.2, 1.2, 0.0]) + rng.uniform(0, 0.05)
            spin = rectangle(0, 0, 1, 1, turn)
            plan = bar @ (spin[[1, 3]] - spin[0]) + np.add(shift, 4)
            site.wedge(plan, rise, rise + 0.15)
    return site.scene()


def duplicated(rng: np.random.Generator) -> Scene:
    """Walls that stand twice, rows of neighbours at equal and unequal heights, identical blocks."""
    site = Builder()
    turn = rng.uniform(0, 90)
    spin = rectangle(0, 0, 1, 1, turn)[[1, 3]]
    x = 0.0
    for height in (3, 3, 4, 2.5, 4, 4):
        width = rng.uniform(2, 4)
        site.prism(rectangle(x, 0, width, rng.choice([4.0, 5.0, 6.0])) @ spin, 0, height)
        x += width
    for _ in range(2):
        site.prism(rectangle(1, 8, 4, 3) @ spin, 0, 2.5)
        site.prism(rectangle(7, 8, 8, 0.3) @ spin, 0, 1.8)
    site.prism(rectangle(10, 8.3, 0.3, 3) @ spin, 0, 1.8)
    site.prism(rectangle(12, 5.0, 0.3, 3) @ spin, 0, 1.2)
    return site.scene()


def sheets(rng: np.random.Generator) -> Scene:
    """Paving without height on a slab, overlapping in one plane, with blocks on it."""
    site = Builder()
    site.prism(rectangle(0, 0, 16, 16), -0.2, 0)
    for x, y in rng.uniform(0, 11, (7, 2)):
        site.prism(rectangle(x, y, *rng.uniform(1, 5, 2), turn=rng.choice([0, rng.uniform(0, 90)])), 0, 0)
    for x, y in rng.uniform(1, 13, (4, 2)):
        site.prism(rectangle(x, y, *rng.uniform(0.5, 2, 2)), 0, rng.uniform(0.3, 3))
    return site.scene()


def planted(rng: np.random.Generator) -> Scene:
    """Trees among walls."""
    site = Builder()
    site.prism(rectangle(0, 0, 16, 14), -0.2, 0)
    site.prism(rectangle(2, 6, 11, 0.4), 0, 2)
    for x, y in rng.uniform(1, 13, (4, 2)):
        site.tree(x, y, 0.0, rng.uniform(3, 7), rng.uniform(2, 4))
    return site.scene()


def gridded(rng: np.random.Generator) -> Scene:
    """Blocks, sheets and ramps on a half-metre grid: corners, sides and levels coincide everywhere."""
    site = Builder()
    for _ in range(22):
        x, y = rng.integers(0, 16, 2) / 2
        width, depth = rng.integers(1, 10, 2) / 2
        base, height = rng.integers(0, 6) / 2, rng.integers(0, 5) / 2
        plan = rectangle(x, y, width, depth)
        if rng.random() < 0.25 and height:
            site.wedge(np.roll(plan, rng.integers(4), axis=0), base, base + height * np.array([0, 0, 1, 1]))
        else:
            site.prism(plan, base, base + height)
    return site.scene()


KINDS: Final[dict[str, Callable[[np.random.Generator], Scene]]] = {
    kind.__name__: kind
    for kind in (
        boxes, angled, terraces, decks, sunken, floating, tilted, terrain, interlocking, cyclic, duplicated,
        sheets, planted, gridded,
    )
}  # fmt: skip

POHLKE: Final = np.array([[0.9, 0.35, -0.15], [-0.2, 0.7, 0.8], [0.1, -0.6, 0.9]])
FROM_BELOW: Final = np.array([[0.8, -0.6, 0.0], [0.5, 0.6, 0.6], [0.2, 0.3, -1.0]])

VIEWS: Final[dict[str, View]] = {
    "planometric 60": planometric(60),
    "planometric 30 shortened": planometric(30, 2 / 3),
    "planometric 45": planometric(45),
    "planometric 0": planometric(0),
    "plan": planometric(20, 0),
    "isometric": isometric(),
    "dimetric": dimetric(),
    "trimetric": trimetric(20, 50),
    "cavalier": cavalier(15),
    "cabinet": cabinet(-20),
    "any axes": View(kind="planometric", matrix=POHLKE),
    "from below": View(kind="planometric", matrix=FROM_BELOW),
}


def draw(scene: Scene, view: View, **options: object) -> Drawing:
    """Resolve a scene about the middle of its vertices."""
    return resolve(scene, view, **{"origin": np.zeros(3), "threads": 1, **options})


def transformed(scene: Scene, matrix: np.ndarray, shift: ArrayLike = (0, 0, 0)) -> Scene:
    """The scene under an affine map; mirrored faces keep looking outward."""
    old = scene.faces
    xyz = old.xyz @ np.asarray(matrix, dtype=float).T + np.asarray(shift, dtype=float)
    if np.linalg.det(matrix) < 0:
        ends = np.repeat(old.ring_start[:-1] + old.ring_start[1:] - 1, np.diff(old.ring_start))
        xyz = xyz[ends - np.arange(len(xyz))]
    columns = {name: getattr(old, name) for name in ("ring_start", "face_start", "solid", "part", "two_sided")}
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
