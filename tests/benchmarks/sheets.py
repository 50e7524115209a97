"""
How long a sheet takes to save: 100 000 faces and 300 000 lines to PDF, SVG and PNG.

The geometry is made up: a plain of turned blocks, each with three faces and nine lines, in all
roles and kinds of line. Times are for the writing of files once the geometry is there; putting
a style on, which thins out lines for the scale, and setting out the figure are printed by
themselves. Run as ``python tests/benchmarks/sheets.py [thousands of faces]``.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import geopandas
import numpy as np
import pandas as pd
import shapely

sys.path.insert(0, str(Path(__file__).parent.parent))

from handmade import view_record

from siteaxo.craft.dress import dress
from siteaxo.craft.style import Style
from siteaxo.diagram.layers import FINDING_COLUMNS, DiagramLayers
from siteaxo.sheet.canvas import render
from siteaxo.sheet.figure import make_figure
from siteaxo.sheet.wants import Wants

ROLES = (
    "structure",
    "wall",
    "terrace",
    "lawn",
    "paving",
    "deck",
    "roof",
    "planter",
    "seat",
    "hedge",
    "water",
)
KINDS = ("profile", "edge", "foot")
SCALE = 5000.0
LIMITS = {"pdf": 5.0, "svg": 5.0, "png": 10.0}


def blocks(count: int) -> DiagramLayers:
    """Make *count* faces and three times as many lines."""
    rng = np.random.default_rng(1)
    boxes = count // 3
    side = int(np.ceil(np.sqrt(boxes)))
    place = np.column_stack([np.arange(boxes) % side, np.arange(boxes) // side]) * 4.0
    size = rng.uniform(1.5, 3.4, (boxes, 2))
    high = rng.uniform(0.2, 0.5, boxes)
    corners = place[:, None] + size[:, None] * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    up = np.column_stack([np.zeros(boxes), high])[:, None]
    c, s = np.cos(0.5), np.sin(0.5)
    turn = np.array([[c, s], [-s, c]])
    low, top = corners @ turn, corners @ turn + up
    quads = np.concatenate(
        [top, *(np.stack([low[:, a], low[:, b], top[:, b], top[:, a]], axis=1) for a, b in ((0, 1), (3, 0)))]
    )
    role = np.tile(rng.choice(ROLES, boxes), 3)
    names = {
        "layer": np.char.add(role, "s"),
        "source_id": np.tile(np.arange(boxes), 3).astype(str),
        "role": role,
    }
    side_normal = {"x": [0.0, s, -c], "y": [0.0, -c, -s], "z": [1.0, 0.0, 0.0]}
    faces = geopandas.GeoDataFrame(
        {
            **names,
            "part": np.repeat(["top", "side", "side"], boxes),
            "level_min": 0.0,
            "level_max": np.tile(high, 3),
            "visible_share": 1.0,
            "fill": "",
            "draw_order": 0,
            "material": "",
            **{f"normal_{axis}": np.repeat(values, boxes) for axis, values in side_normal.items()},
            "offset": 0.0,
        },
        geometry=shapely.polygons(quads),
    )
    pairs = [(top, 0, top, 1), (top, 1, top, 2), (top, 2, top, 3), (top, 3, top, 0)]
    pairs += [(low, 0, low, 1), (low, 0, low, 3), (low, 0, top, 0), (low, 1, top, 1), (low, 3, top, 3)]
    ends = np.concatenate([np.stack([a[:, i], b[:, j]], axis=1) for a, i, b, j in pairs])
    edges = geopandas.GeoDataFrame(
        {
            **{key: np.tile(value[:boxes], len(pairs)) for key, value in names.items()},
            "kind": rng.choice(KINDS, len(ends)),
            "line_mm": 0.0,
            "colour": "",
            "draw_order": 0,
            "outline": "",
            "drawn": 1,
            "nearness": rng.uniform(0, 1, len(ends)),
        },
        geometry=shapely.linestrings(ends),
    )
    plan = geopandas.GeoDataFrame(
        {**{key: value[:boxes] for key, value in names.items()}, "base": 0.0, "top": high},
        geometry=shapely.polygons(corners),
    )
    return DiagramLayers(
        name="A plain of blocks",
        view=view_record(28.6),
        faces=faces,
        edges=edges,
        hidden_edges=edges.iloc[:0],
        plan=plan,
        findings=pd.DataFrame(columns=list(FINDING_COLUMNS)),
    )


def timed(what: str, work: Callable[[], object]) -> object:
    """Do something and print how long it took."""
    begin = time.perf_counter()
    result = work()
    print(f"{what:<34}{time.perf_counter() - begin:8.2f} s", flush=True)
    return result


def main(thousands: float = 100.0) -> None:
    """Print times and sizes."""
    bare = blocks(int(thousands * 1000))
    print(f"{len(bare.faces):,} faces, {len(bare.edges):,} lines at 1:{SCALE:g}")
    diagram = timed("style, patterns, thinning", lambda: dress(bare, Style(), scale=SCALE))
    print(f"  lines that stay: {int(diagram.edges['drawn'].sum()):,}")
    every = DiagramLayers(**{**vars(diagram), "edges": diagram.edges.assign(drawn=1)})
    figure = timed(
        "figure with level marks",
        lambda: make_figure(diagram, sheet="A3", scale=SCALE, wants=Wants(levels=True)),
    )
    whole = timed("figure, all lines drawn", lambda: make_figure(every, sheet="A3", scale=SCALE))
    with tempfile.TemporaryDirectory() as folder:
        for name, one in (("thinned", figure), ("all lines", whole)):
            for kind, limit in LIMITS.items():
                path = Path(folder) / f"a.{kind}"
                timed(
                    f"{name}: {kind} (limit {limit:g} s)",
                    lambda kind=kind, one=one, path=path: path.write_bytes(render(one, kind, dpi=300)),
                )
                print(f"  {path.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main(*map(float, sys.argv[1:2]))
