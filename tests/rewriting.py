"""Drawings that are written, changed and written again."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

import numpy as np
import shapely
from handmade import terraces

from siteaxo.diagram.layers import DiagramLayers
from siteaxo.export.gpkg import write_gpkg
from siteaxo.export.patching import Earlier
from siteaxo.process.store import FolderStore


def many_lines(count: int, *, seed: int = 3, shift: float = 0.0) -> DiagramLayers:
    """A drawing with some thousand lines from left to right, of which the first can be moved."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform(0, 400, (count, 1, 2)) + rng.uniform(-2, 2, (count, 2, 2))
    ends = ends[np.argsort(ends[:, 0, 0])]
    ends[ends[:, 0, 0] < 20, :, 1] += shift
    diagram = terraces()
    lines = diagram.edges.iloc[np.arange(count) % len(diagram.edges)].reset_index(drop=True)
    lines["source_id"] = [str(k // 7) for k in range(count)]
    return with_lines(diagram, lines.set_geometry(shapely.linestrings(ends)))


def with_lines(diagram: DiagramLayers, lines: object) -> DiagramLayers:
    """The same drawing with other visible lines."""
    return DiagramLayers(**{**vars(diagram), "edges": lines})


def written(
    diagram: DiagramLayers,
    folder: Path,
    name: str = "d.gpkg",
    earlier: Earlier | None = None,
    metadata: dict[str, str] | None = None,
) -> bytes:
    """What a file holds after it was written."""
    write_gpkg(diagram, folder / name, earlier=earlier, metadata=metadata or {})
    if earlier is not None:
        earlier.keep()
    return (folder / name).read_bytes()


def earlier_in(folder: Path, name: str = "d.gpkg") -> Earlier:
    """The file written last in a folder."""
    return Earlier(FolderStore(folder / "kept"), folder / name)


def rows_of(path: Path, query: str, *values: object) -> list[tuple[object, ...]]:
    """What a query finds in a file."""
    with contextlib.closing(sqlite3.connect(path)) as file:
        return file.execute(query, values).fetchall()
