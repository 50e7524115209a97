"""
Two invented places to judge drawings by: a riverside with stepped seating, and a dense street block.

Both are built in memory. Their axes lie east and north, so that lengths on paper are known.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import geopandas
import numpy as np
import shapely
from shapely import LineString, Point, Polygon, box

import siteaxo

CRS = "EPSG:25833"
CORNER = (391_400.0, 5_820_600.0)


def layer(name: str, role: str, shapes: list, **options: object) -> siteaxo.Layer:
    """One layer; options that are lists become fields."""
    moved = shapely.transform(np.array(shapes, dtype=object), lambda xy: xy + CORNER)
    fields = {key: value for key, value in options.items() if isinstance(value, list)}
    ids = [f"{name[:3].upper()}{n:02d}" for n in range(len(shapes))]
    frame = geopandas.GeoDataFrame({"ref": ids, **fields}, geometry=moved, crs=CRS)
    given = {key: key if isinstance(value, list) else value for key, value in options.items()}
    return siteaxo.Layer(name=name, role=role, source=frame, id="ref", **given)


def disc(x: float, y: float, radius: float) -> Polygon:
    """A circle of 32 chords."""
    return Point(x, y).buffer(radius, quad_segs=8)


def riverside() -> siteaxo.Site:
    """A river, four seat steps down to it, a promenade, a kiosk and a lawn with trees."""
    # the wall of exactly 10 m stands free at the back of the promenade
    tiers = [box(6, 8 + 1.2 * n, 30, 8 + 1.2 * (n + 1)) for n in range(4)]
    stair = box(14, 8, 16.4, 12.8)
    land = box(0, 12.8, 40, 30) | box(0, 8, 6, 12.8) | box(30, 8, 40, 12.8)
    trees = [Point(4 + 5 * n, 26.5) for n in range(8)]
    layers = [
        layer("bed", "ground", [box(0, 0, 40, 30)], base=-2.0, top=-1.2),
        layer("river", "water", [box(0, 0, 40, 8)], base=-1.2, top=0.3),
        layer("quay", "terrace", [land], base=-1.2, top=2.4, material=["granite"]),
        layer(
            *("tiers", "terrace", [tier - stair for tier in tiers]),
            base=-1.2,
            top=[0.6, 1.05, 1.5, 1.95],
            material=["concrete"] * 4,
        ),
        layer("stair", "steps", [LineString([(15.2, 8), (15.2, 12.8)])], base=0.45, top=2.4, width=2.4),
        layer("promenade", "paving", [box(0, 12.8, 40, 19)], base="below", material=["granite slabs"]),
        layer("lawn", "lawn", [box(0, 22, 26, 30)], base="below"),
        layer("yard", "paving", [box(26, 19, 40, 30)], base="below", material=["clay brick"]),
        layer("walk", "path", [LineString([(0, 20.5), (26, 20.5)])], base="below", width=3.0),
        layer("jetty", "deck", [box(33, 2, 36, 8)], base=1.0, top=1.3, material=["larch timber"]),
        layer("ramp", "ramp", [box(36.5, 9.2, 38, 12.8)], base=2.1, top=2.4),
        layer("wall", "wall", [LineString([(8, 21.85), (18, 21.85)])], base="below", height=0.9, width=0.3),
        layer("kiosk", "structure", [box(29, 22, 34, 26)], base="below", height=2.8),
        layer("kiosk_roof", "roof", [box(28.6, 21.6, 34.4, 26.4)], base="below", pitch=25.0, shape="hip"),
        layer(*("shade", "canopy", [box(29, 27, 38, 29.6)]), base=4.9, top=5.1, posts=[2.6], beams=[0.7]),
        layer(
            *("beds", "planter", [box(2 + 9 * n, 15.2, 5 + 9 * n, 16.6) for n in range(4)]),
            base="below",
            height=0.5,
            rim=0.12,
            drop=0.1,
        ),
        layer(
            "benches",
            "seat",
            [LineString([(x, 17.9), (x + 2, 17.9)]) for x in (7, 21)],
            base="below",
            height=0.45,
        ),
        layer(
            "rails",
            "rail",
            [LineString([(30.1, 8.1), (32.9, 8.1)]), LineString([(0, 8.1), (5.9, 8.1)])],
            base="below",
            height=1.1,
        ),
        layer("hedge", "hedge", [LineString([(0.4, 29.6), (25.6, 29.6)])], base="below", height=1.0),
        layer(
            "trees", "tree", trees, base="below", height=[6.0 + 0.3 * (n % 3) for n in range(8)], diameter=4.0
        ),
    ]
    return siteaxo.Site(name="Withy Reach", layers=layers, plane_crs=CRS, base_line=90.0)


def street_block() -> siteaxo.Site:
    """A block of houses with gables around two courts, passages, a raised court over parking."""
    outer, courts = box(4, 4, 40, 28), [box(12, 11, 21, 21), box(25, 11, 33, 21)]
    cuts = [4.0, 10.0, 16.0, 22.0, 28.0, 34.0, 40.0]
    south = [box(a, 4, b, 11) for a, b in pairwise(cuts)]
    north = [box(a, 21, b, 28) for a, b in pairwise(cuts)]
    sides = [box(4, 11, 12, 21), box(21, 11, 25, 21), box(33, 11, 40, 21)]
    storeys = [4, 3, 5, 4, 3, 4]
    passage = box(13, 4, 15, 11)
    south[1] = south[1] - passage
    layers = [
        layer("street", "ground", [box(0, 0, 44, 32)], base=9.0, top=10.0),
        layer("pavement", "terrace", [outer.buffer(2.0, join_style="mitre") - outer], base=9.5, top=10.12),
        layer("block", "terrace", [outer], base=9.5, top=10.12),
        layer(
            *("flags", "paving", [outer.buffer(2.0, join_style="mitre") - outer.buffer(0.4)]),
            base="below",
            material=["granite slabs"],
        ),
        layer(
            *("stoops", "steps", [LineString([(x, 2.7), (x, 4.0)]) for x in (7, 19, 25, 37)]),
            base=10.12,
            top=10.72,
            width=1.6,
        ),
        layer("deck", "terrace", [courts[1]], base=9.5, top=11.32, material=["concrete slabs"]),
        layer("court", "paving", [courts[0]], base="below", material=["granite setts"]),
        layer("steps", "steps", [LineString([(26.9, 13.5), (26.9, 12.1)])], base=11.32, top=11.92, width=1.6),
        layer("stage", "terrace", [box(25, 11, 33, 12.1)], base=11.32, top=11.92),
        layer("south", "structure", south, base="below", storeys=storeys, storey_height=3.0),
        layer("north", "structure", north, base="below", storeys=storeys[::-1], storey_height=3.0),
        layer("sides", "structure", sides, base="below", storeys=[2, 1, 2], storey_height=3.2),
        layer("gables", "roof", [*south[:1], *south[2:], *north], base="below", pitch=35.0, shape="gable"),
        layer("flats", "roof", sides, base="below", height=0.3, parapet=0.4),
        layer("lawn", "lawn", [disc(16.5, 16, 2.8)], base="below"),
        layer("pool", "water", [box(28, 16, 31, 18)], base=10.9, top=11.2),
        layer(
            "beds",
            "planter",
            [box(25.5, 19, 28.5, 20.2), box(29.5, 19, 32.5, 20.2)],
            base="below",
            height=0.5,
            rim=0.1,
        ),
        layer("seats", "seat", [LineString([(19.6, 13), (19.6, 17)])], base="below", height=0.45),
        layer(
            "trees",
            "tree",
            [Point(16.5, 16), Point(2.9, 6), Point(2.9, 16), Point(2.9, 26)],
            base="below",
            height=[8.0, 6, 6, 6],
            diameter=[5.0, 3.2, 3.2, 3.2],
        ),
        layer("wall", "wall", [LineString([(8, 1.85), (18, 1.85)])], base=10.12, height=0.6, width=0.3),
    ]
    return siteaxo.Site(name="Cutler's Block", layers=layers, plane_crs=CRS, base_line=90.0)


SITES: dict[str, Callable[[], siteaxo.Site]] = {"riverside": riverside, "street block": street_block}
