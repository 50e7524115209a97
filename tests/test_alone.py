"""What is seen of solids is the same to the last bit, whether they are drawn alone or with all others."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.view.drawn import drawn, drawn_tile
from siteaxo.view.tiles import cut_out, index_of, measures, tile_of
from siteaxo.view.tolerance import Tolerance

SITE = Path(__file__).parent.parent / "sample_data" / "wrenlow" / "site.toml"
LIMITS = Tolerance()


def quiet(stage, share):
    """Say nothing."""


@pytest.fixture(scope="module")
def sample():
    """The sample site, its view, and the drawing in one piece."""
    model = siteaxo.read_site(SITE).stack()
    scene, how = model.stack.scene, (model.view().after_turning(model.squaring), model.origin, LIMITS)
    return scene, how, drawn(scene, *how, say=quiet)


def some(rng, middle):
    """Solids here and there, those around a place, or a few."""
    near = np.hypot(*(middle - middle[rng.integers(len(middle))]).T)
    return [
        np.flatnonzero(rng.random(len(middle)) < rng.uniform(0.1, 0.6)),
        np.flatnonzero(near < rng.uniform(5, 25)),
        np.unique(rng.integers(len(middle), size=4)),
    ][rng.integers(3)]


@pytest.mark.parametrize("seed", [1, 5, 19, 27, 33, 40])
def test_solids_drawn_alone_are_drawn_as_among_all(sample, seed):
    scene, how, whole = sample
    index, rng = index_of(scene), np.random.default_rng(seed)
    sides = measures(scene, index, how[0], how[1])
    solids = some(rng, np.nan_to_num((sides[:2] + sides[2:4]).T / 2))
    core, halo = tile_of(scene, index, *how, solids)
    piece = cut_out(scene, index, core, halo)
    part = drawn_tile(piece, *how, quiet).numbered(piece.solid, piece.face, piece.edge)
    alone, among = told(part, scene, core), told(whole, scene, core)
    assert all(len(rows) for rows in among.values())
    for name, rows in among.items():
        assert alone[name] == rows, name


def told(part, scene, solids):
    """All that is said of some solids: what is seen of each face, and lines with their kinds."""
    face = np.isin(scene.faces.solid[part.face], solids)
    seen = zip(part.face[face].tolist(), shapely.to_wkb(part.visible.polygon[face]).tolist(), strict=True)
    return {
        "faces": sorted(seen),
        "seen lines": lines(part.edges, part.dashes, part.kind, solids),
        "hidden lines": lines(part.edges, part.hidden, part.hidden_seam, solids),
    }


def lines(edges, dashes, kind, solids):
    """Lines by the edge that they are part of, those where faces cross by their place."""
    mine = np.isin(edges.solid[dashes.edge], solids)
    edge = dashes.edge[mine]
    place = np.where((edges.source[edge] < 0)[:, None], edges.xy[edge].reshape(-1, 4), 0.0)
    rows = (edges.source[edge], *place.T, dashes.begin[mine], dashes.end[mine], kind[mine])
    return sorted(zip(*(column.tolist() for column in rows), strict=True))
