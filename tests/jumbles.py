"""
Sites of things laid over one another at random, and random changes to them.
"""

from __future__ import annotations

import geopandas
import numpy as np
import shapely
from shapely import affinity

import siteaxo

CORNER = np.array([500000.0, 5700000.0])
CRS = "EPSG:25832"


def jumble(rng, count):
    """Tables of terraces, houses, walls, steps, hedges and lawns, *count* of them in all or nearly."""
    wide, some = 14 * np.sqrt(count), count // 6

    def boxes(many, across, up):
        return [
            _turned(rng, rng.uniform(0, wide, 2), rng.uniform(*across), rng.uniform(*up)) for _ in range(many)
        ]

    def lines(many):
        ways = [rng.uniform(0, wide, (rng.integers(2, 5), 2)) for _ in range(many)]
        return [shapely.LineString(way[0] + (way - way[0]) * 0.15 + CORNER) for way in ways]

    around = shapely.box(*(CORNER - 30), *(CORNER + wide + 30))
    tables = {
        "terraces": {
            "top": rng.choice([0.5, 1.0, 1.5, 2.25], some),
            "geometry": boxes(some, (4, 25), (4, 25)),
        },
        "houses": {
            "height": rng.uniform(2, 14, 2 * some).round(1),
            "geometry": boxes(2 * some, (3, 14), (3, 14)),
        },
        "walls": {"height": rng.uniform(0.4, 2, some).round(2), "geometry": lines(some)},
        "steps": {"top": np.full(some // 2, 1.5), "geometry": boxes(some // 2, (3, 3), (2.1, 2.1))},
        "hedges": {"height": np.full(some // 2, 1.2), "geometry": boxes(some // 2, (3, 9), (0.8, 0.8))},
        "lawns": {"geometry": boxes(some // 2, (4, 12), (4, 12))},
    }
    frames = {name: geopandas.GeoDataFrame(columns, crs=CRS) for name, columns in tables.items()}
    for name, frame in frames.items():
        frame.insert(
            0, "id", [f"{name[0]}{row // 2 if name == 'walls' else row}" for row in range(len(frame))]
        )
    frames["terraces"].loc[0, ["geometry", "top"]] = [around, 0.3]
    return frames


def _turned(rng, middle, across, up):
    box = shapely.box(*middle, middle[0] + across, middle[1] + up)
    turn = rng.choice([0, 30, 45, 90, rng.uniform(0, 90)]) if rng.random() < 0.5 else 0
    return affinity.translate(affinity.rotate(box, turn), *CORNER)


def site_of(frames):
    """The site of such tables."""
    how = {
        "terraces": {"role": "terrace", "base": 0, "top": "top"},
        "houses": {"role": "structure", "base": "below", "height": "height"},
        "walls": {"role": "wall", "base": "below", "height": "height", "width": 0.3},
        "steps": {"role": "steps", "base": 0, "top": "top", "riser": 0.15},
        "hedges": {"role": "hedge", "base": "below", "height": "height"},
        "lawns": {"role": "lawn"},
    }
    layers = [siteaxo.Layer(name=name, source=frames[name], id="id", **how[name]) for name in how]
    return siteaxo.Site(name="Jumble", layers=layers)


def changed(rng, frames):
    """The same with some features moved, turned, raised or renamed."""
    frames = {name: frame.copy() for name, frame in frames.items()}
    for name in rng.choice(list(frames), rng.integers(1, 4)):
        frame = frames[name]
        row, how = [int(rng.integers(1, len(frame)))], rng.integers(0, 5)
        size = next((column for column in ("height", "top") if column in frame), None)
        if how == 0 and size:
            frame.loc[row, size] = (frame.loc[row, size] * rng.choice([0.8, 1.01, 1.3])).round(2)
        elif how == 1:
            frame.loc[row, "geometry"] = frame.loc[row].translate(*rng.normal(0, 0.2, 2)).to_numpy()
        elif how == 2:
            frame.loc[row, "geometry"] = frame.loc[row].translate(*rng.normal(0, 8, 2)).to_numpy()
        elif how == 3:
            frame.loc[row, "id"] += "x"
        else:
            frame.loc[row, "geometry"] = frame.loc[row].rotate(7).to_numpy()
    return frames
