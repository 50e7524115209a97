"""
Scenes of every kind the trade brings, some ten to thirty metres wide.

Each function in ``KINDS`` takes a random generator and returns a scene; ``VIEWS`` holds
views of every kind to look at them with.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapes import Builder, rectangle

from siteaxo.solids.scene import Scene
from siteaxo.view.projection import View, cabinet, cavalier, dimetric, isometric, planometric, trimetric


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
        ell = rectangle(0, 0, 7, 7)[[0, 1, 2, 2, 2, 3]] * [
            [1, 1],
            [1, 1],
            [1, 0.4],
            [0.45, 0.4],
            [0.45, 1],
            [1, 1],
        ]
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
        for left, right in pairwise(cuts):
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
