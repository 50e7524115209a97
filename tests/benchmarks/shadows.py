"""
Time of casting shadows on made-up districts, beside the time of the drawing itself.

Run ``python tests/benchmarks/shadows.py [count ...]``. Printed for each kind of district
and count of buildings: faces, seconds to draw, seconds to cast the sun's shadows on what
is seen, how many shadows, their share of what is seen, and how far lit and dark parts of
a face differ from its whole at worst.
"""

from __future__ import annotations

import argparse
import time

import shapely
from districts import make
from machine import print_facts

from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve
from siteaxo.view.shadow import cast_shadows
from siteaxo.view.sun import Sun

SUN = Sun(bearing=215.0, elevation=38.0)
VIEW = planometric(30.0)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", nargs="*", type=int, default=[1000, 10_000])
    parser.add_argument("--threads", type=int, default=2)
    asked = parser.parse_args()
    print_facts()
    heads = ("faces", "draw s", "cast s", "shadows")
    print(f"{'kind':8}{'count':>8}{''.join(f'{head:>9}' for head in heads)}{'share':>8}{'balance m²':>12}")
    for kind in ("open", "dense"):
        for count in asked.count:
            scene = make(kind, count)
            origin = scene.faces.xyz.min(axis=0)
            begun = time.perf_counter()
            drawing = resolve(scene, VIEW, origin=origin, threads=asked.threads)
            drawn = time.perf_counter()
            found = cast_shadows(scene, drawing, VIEW, origin=origin, sun=SUN, threads=asked.threads)
            cast = time.perf_counter()
            share = shapely.area(found.polygon).sum() / shapely.area(drawing.visible.polygon).sum()
            print(
                f"{kind:8}{count:8}{len(scene.faces):9}{drawn - begun:9.2f}{cast - drawn:9.2f}"
                f"{len(found):9}{share:8.1%}{found.worst_balance:12.1e}",
                flush=True,
            )


if __name__ == "__main__":
    main()
