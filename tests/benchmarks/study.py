"""
How long a view study takes: views one by one on one core, side by side, and drawn whole.

The sample site, or a district of made-up buildings with ``python tests/benchmarks/study.py
[thousands of buildings]``. Rounds alternate, so that other work on the machine falls on all of
them alike; the least time of each counts.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import geopandas
import numpy as np
import shapely
from machine import print_facts

import siteaxo
from siteaxo.view.choices import candidates
from siteaxo.view.study import look_from

CORES = 2
ALLOWED = 1.5
ROUNDS = 3
TURNS = (30, 45, 60, 120, 135, 150, 210, 225)
SAMPLE = Path(__file__).parent.parent.parent / "sample_data"


def district(thousands: float) -> siteaxo.Site:
    """Make a district of turned blocks."""
    rng = np.random.default_rng(7)
    count = int(1000 * thousands)
    side = int(np.ceil(np.sqrt(count)))
    place = np.column_stack([np.arange(count) % side, np.arange(count) // side]) * 18.0
    angle = rng.uniform(0, np.pi / 2, count)
    half = rng.uniform(4.0, 8.0, (count, 2))
    corner = half[:, None] * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    turned = np.stack(
        [
            corner[..., 0] * np.cos(angle)[:, None] - corner[..., 1] * np.sin(angle)[:, None],
            corner[..., 0] * np.sin(angle)[:, None] + corner[..., 1] * np.cos(angle)[:, None],
        ],
        axis=-1,
    )
    shapes = shapely.polygons(turned + place[:, None] + (400_000.0, 5_700_000.0))
    frame = geopandas.GeoDataFrame({"high": rng.uniform(3, 24, count)}, geometry=shapes, crs="EPSG:25832")
    layer = siteaxo.Layer(name="blocks", role="structure", source=frame, base=0.0, height="high")
    return siteaxo.Site(name="District", layers=[layer], plane_crs="EPSG:25832", base_line=90.0)


def main(arguments: list[str]) -> None:
    """Print times and their ratios."""
    print_facts()
    site = (
        district(float(arguments[0]))
        if arguments
        else siteaxo.read_site(next(SAMPLE.glob("wrenlow/site.toml")))
    )
    model = site.stack()
    views = [one.view.after_turning(model.squaring) for one in candidates(turns=TURNS)]
    scene, times = model.stack.scene, {1: np.inf, CORES: np.inf}
    for _ in range(ROUNDS):
        for threads in times:
            begin = time.perf_counter()
            look_from(scene, views, origin=model.origin, threads=threads, pictures=False)
            times[threads] = min(times[threads], time.perf_counter() - begin)
    begin = time.perf_counter()
    model.draw(siteaxo.planometric(TURNS[0]), threads=1, people=False)
    whole = (time.perf_counter() - begin) * len(views)
    print(f"{site.name}: {len(scene.faces)} faces, {len(views)} views, {CORES} cores")
    print(f"views one by one, faces only   {times[1]:7.2f} s")
    print(f"views side by side             {times[CORES]:7.2f} s")
    print(f"drawn whole, one by one        {whole:7.2f} s, from one of them")
    for what, alone in (("faces only", times[1]), ("drawn whole", whole)):
        ratio = times[CORES] / (alone / CORES)
        print(f"against {what:11s} / cores   {ratio:7.2f}, {ALLOWED} allowed")


if __name__ == "__main__":
    main(sys.argv[1:])
