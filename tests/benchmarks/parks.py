"""
Seconds of every step from layers to a picture, for parks of many small things.

A level terrace with as many trees, walls, lawns or further terraces as are asked for, nine metres apart,
once with nothing else and once with people, cast shadows and crowns with foliage. What grows faster
than the count shows at a glance.

Run ``python tests/benchmarks/parks.py [count ...]``; ``--help`` tells the options.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import shapely
from machine import print_facts, print_table

import siteaxo

APART = 9.0
CRS = "EPSG:25832"
STEPS = ("stack", "draw", "draw all", "figure", "PNG", "quantities", "cautions", "exploded view")


def layer_of(kind: str, xy: np.ndarray, rng: np.random.Generator) -> siteaxo.Layer:
    """A layer with one thing at each place."""
    low, high = xy, xy + np.array([5.0, 4.0])
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    shapes = {
        "tree": shapely.points(xy),
        "wall": shapely.linestrings(np.stack([xy, xy + rng.uniform(2, 5, xy.shape)], axis=1)),
        "lawn": boxes,
        "terrace": boxes,
    }
    tall = {"tree": rng.uniform(4, 12, len(xy)), "wall": rng.uniform(0.5, 2, len(xy))}
    columns = {"tall": tall.get(kind, np.round(rng.uniform(0.3, 2.5, len(xy)), 2))}
    rows = geopandas.GeoDataFrame(columns, geometry=shapes[kind], crs=CRS)
    levels = {} if kind == "lawn" else {"base": "below", "height": "tall"}
    return siteaxo.Layer(name=f"{kind}s", role=kind, source=rows, **levels)


def park(kind: str, count: int) -> siteaxo.Site:
    """A terrace with a square of things on it."""
    rng, side = np.random.default_rng(2), round(count**0.5)
    grid = np.stack(np.meshgrid(*2 * [np.arange(side)]), axis=-1).reshape(-1, 2) * APART
    xy = grid + rng.uniform(0, APART / 3, grid.shape)
    whole = geopandas.GeoDataFrame(geometry=[shapely.box(-9, -9, *2 * [side * APART + 9])], crs=CRS)
    ground = siteaxo.Layer(name="court", role="terrace", source=whole, base=8.0, top=10.0)
    return siteaxo.Site(name="Park", layers=[ground, layer_of(kind, xy, rng)])


def timed(kind: str, count: int) -> list[str]:
    """Seconds of the processor for each step."""
    took: dict[str, float] = {}

    def step(name: str, work: Callable[[], Any]) -> Any:
        begun = time.process_time()
        done = work()
        took[name] = time.process_time() - begun
        return done

    view, site = siteaxo.planometric(turn=30), park(kind, count)
    usual: dict[str, Any] = {"scale": 500, "threads": 1}
    more: dict[str, Any] = {"people": True, "shadows": "conventional", "planting": "texture"}
    model = step("stack", site.stack)
    step("draw", lambda: model.draw(view, people=False, **usual))
    drawing = step("draw all", lambda: model.draw(view, **usual, **more))
    figure = step("figure", lambda: drawing.figure(sheet="A0", scale="fit"))
    with tempfile.TemporaryDirectory() as folder:
        step("PNG", lambda: figure.savefig(Path(folder, "park.png")))
    step("quantities", lambda: model.quantities(by="role"))
    step("cautions", model.cautions)
    step("exploded view", lambda: model.exploded_view(by="theme", scale=500))
    return [kind, str(count), *(f"{took[name]:.2f}" for name in STEPS)]


def main() -> None:
    """Read the options, run the cases, print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", nargs="*", type=int, default=[100, 400])
    parser.add_argument("--kind", nargs="+", default=["tree", "wall", "lawn", "terrace"])
    options = parser.parse_args()
    print_facts()
    print("Seconds of the processor")
    rows = [timed(kind, count) for kind in options.kind for count in options.count]
    print_table(["kind", "count", *STEPS], rows)


if __name__ == "__main__":
    main()
