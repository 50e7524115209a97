"""Two invented places, made of layers in memory: a quay with steps to the water, and a street block."""

from __future__ import annotations

import geopandas
import numpy as np
import shapely

import siteaxo

CRS = "EPSG:32631"
CORNER = (412_300.0, 5_661_700.0)


def layer(name: str, role: str, shapes: list, **options: object) -> siteaxo.Layer:
    """One layer; options that are lists become fields."""
    moved = shapely.transform(np.array(shapes, dtype=object), lambda xy: xy + CORNER)
    fields = {key: value for key, value in options.items() if isinstance(value, list)}
    frame = geopandas.GeoDataFrame(
        {"ref": [f"{name[:2].upper()}{n:02d}" for n in range(len(shapes))], **fields}, geometry=moved, crs=CRS
    )
    given = {key: key if isinstance(value, list) else value for key, value in options.items()}
    return siteaxo.Layer(name=name, role=role, source=frame, id="ref", **given)


def _site(name: str, layers: list[siteaxo.Layer]) -> siteaxo.Site:
    return siteaxo.Site(name=name, layers=layers, base_line=90.0)


def _line(*points: tuple[float, float]) -> shapely.LineString:
    return shapely.LineString(points)


def quay() -> siteaxo.Site:
    """A harbour basin 1.2 m above datum, a quay at 3.4 m, steps and a slip down to the water."""
    land = shapely.box(0, 22, 60, 52).difference(
        shapely.union_all([shapely.box(8, 22, 16, 26.5), shapely.box(44, 22, 50, 30)])
    )
    shed = shapely.box(6, 40, 26, 50)
    trees = [shapely.Point(x, 35.5) for x in range(31, 60, 5)]
    bollards = [shapely.Point(x, 23.2).buffer(0.25) for x in (4, 20, 28, 36, 41, 54)]
    return _site(
        "Salter's Quay",
        [
            layer("bed", "ground", [shapely.box(0, 0, 60, 52)], base=-1.0, top=-0.4),
            layer("basin", "water", [shapely.box(0, 0, 60, 30).difference(land)], base=-0.4, top=1.2),
            layer("quay", "terrace", [land], base=-0.4, top=3.4, material=["granite"]),
            layer(
                "setts",
                "paving",
                [
                    shapely.box(0, 27, 60, 33).difference(shapely.box(44, 22, 50, 30)),
                    shapely.box(26, 40, 60, 52),
                ],
                base="below",
                material=["granite setts", "brick"],
            ),
            layer("gravel", "paving", [shapely.box(28, 33, 60, 38)], base="below", material=["gravel"]),
            layer("green", "lawn", [shapely.box(0, 34, 5, 52)], base="below"),
            layer(
                "stairs", "steps", [_line((12, 20.5), (12, 26.5))], base=1.0, top=3.4, width=8.0, riser=0.16
            ),
            layer("slip", "ramp", [_line((47, 22), (47, 30))], base=1.1, top=3.4, width=6.0),
            layer("jetty", "deck", [shapely.box(26, 6, 29.5, 22)], base=1.7, top=2.0, material=["timber"]),
            layer(
                "piles",
                "structure",
                [shapely.box(x, y, x + 0.3, y + 0.3) for x in (26.1, 29.1) for y in (6.2, 11, 16, 21)],
                base=-0.4,
                top=1.7,
            ),
            layer("shed", "structure", [shed], base=3.4, top=8.0, material=["brick"]),
            layer(
                "shed_roof",
                "roof",
                [shed.buffer(0.4, join_style="mitre")],
                base=8.0,
                top=11.2,
                shape=["gable"],
            ),
            layer("bollards", "structure", bollards, base="below", height=0.7),
            layer(
                "wall", "wall", [_line((0, 51.8), (60, 51.8))], base="below", height=1.4, material=["brick"]
            ),
            layer(
                "benches",
                "seat",
                [_line((x, 31.5), (x + 2.2, 31.5)) for x in (31, 38, 52)],
                base="below",
                height=0.45,
            ),
            layer(
                "rails",
                "rail",
                [
                    _line((43.8, 22.4), (43.8, 30.2), (50.2, 30.2), (50.2, 22.4)),
                    _line((26.2, 6.2), (26.2, 21.8)),
                ],
                base="below",
                height=1.1,
            ),
            layer("limes", "tree", trees, base="below", height=[6.5, 7.0, 6.2, 7.2, 6.8, 6.4], diameter=3.6),
            layer("hedge", "hedge", [_line((5.4, 34.5), (5.4, 39.5))], base="below", height=1.1),
        ],
    )


def street_block() -> siteaxo.Site:
    """Two terraces of houses back to back, their gardens between, and a square at the end."""
    fronts = [shapely.box(x, 6, x + 6, 15) for x in range(4, 40, 6)]
    backs = [shapely.box(x, 37, x + 6, 45) for x in range(4, 40, 6)]
    houses = fronts + backs
    eaves = [26.6] * 6 + [25.0] * 6
    gardens = [shapely.box(x, 15, x + 6, 37) for x in range(4, 40, 6)]
    walls = [_line((x, 15.2), (x, 36.8)) for x in range(4, 41, 6)]
    square = shapely.box(42, 4, 66, 47)
    trees = [shapely.Point(x, y) for x in (47, 54, 61) for y in (10, 41)] + [
        shapely.Point(x, y) for x, y in ((8, 22), (19, 31), (26, 24), (38, 30))
    ]
    return _site(
        "Fennick Row",
        [
            layer("road", "ground", [shapely.box(-4, -4, 74, 55)], base=19.2, top=20.0, material=["asphalt"]),
            layer(
                "footways",
                "paving",
                [shapely.box(0, 2, 70, 49).difference(shapely.union_all([*gardens, square, *houses]))],
                base=20.0,
                top=20.12,
                material=["concrete slabs"],
            ),
            layer("square", "terrace", [square], base=20.0, top=20.45),
            layer(
                "square_paving",
                "paving",
                [square.difference(shapely.Point(54, 25.5).buffer(7)), shapely.Point(54, 25.5).buffer(3.2)],
                base="below",
                material=["york stone", "clay pavers"],
            ),
            layer(
                "square_lawn",
                "lawn",
                [shapely.Point(54, 25.5).buffer(7) - shapely.Point(54, 25.5).buffer(3.2)],
                base="below",
            ),
            layer("gardens", "lawn", gardens, base=20.0, top=20.1),
            layer("houses", "structure", houses, base=20.0, top=eaves, material=["brick"] * 12),
            layer(
                "roofs",
                "roof",
                [shapely.box(4, 6, 40, 15), shapely.box(4, 37, 40, 45)],
                base=[26.6, 25.0],
                top=[29.6, 27.8],
                shape=["gable", "hip"],
            ),
            layer(
                "garden_walls", "wall", walls, base="below", height=1.8, width=0.22, material=["brick"] * 7
            ),
            layer(
                "hedges",
                "hedge",
                [_line((43, 8), (43, 43)), _line((65, 8), (65, 43))],
                base="below",
                height=1.0,
            ),
            layer(
                "seats",
                "seat",
                [shapely.Point(54, 25.5).buffer(5).exterior.segmentize(0.5)],
                base="below",
                height=0.45,
                width=0.5,
            ),
            layer("basin", "planter", [shapely.Point(54, 25.5).buffer(1.4)], base="below", height=0.6),
            layer("steps", "steps", [_line((66.9, 25.5), (66, 25.5))], base=20.12, top=20.45, width=6.0),
            layer(
                "trees",
                "tree",
                trees,
                base="below",
                height=[8.5] * 6 + [5.0, 6.0, 4.5, 5.5],
                diameter=[5.0] * 6 + [3.2, 4.0, 3.0, 3.4],
            ),
        ],
    )


PLACES = {"quay": quay, "street block": street_block}
