"""Tiles: the same drawing as in one piece, progress, and stopping half-way."""

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteaxo.errors import CancelledError
from siteaxo.solids.edges import edges_of
from siteaxo.solids.faces import join
from siteaxo.solids.prism import prisms
from siteaxo.solids.scene import Scene
from siteaxo.view.audit import audit
from siteaxo.view.projection import isometric, planometric
from siteaxo.view.resolve import resolve
from siteaxo.view.tiles import index_of, plan_tiles
from siteaxo.view.tolerance import Tolerance

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from districts import make, scene_of

ORIGIN = np.zeros(3)


def district(count=400, seed=3, *, ground=True):
    """Boxes at random angles that overlap, touch and pierce one another, on one large slab."""
    rng = np.random.default_rng(seed)
    side = int(np.ceil(np.sqrt(count)))
    grid = np.stack(np.meshgrid(np.arange(side), np.arange(side)), axis=-1).reshape(-1, 2)[:count]
    centre = grid * 14.0 + rng.uniform(-3, 3, (count, 2))
    half = rng.uniform(3, 7, (count, 2))
    angle = rng.choice([0.0, 0.3, np.pi / 4, 1.1], count)
    corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half[:, None]
    turn = np.stack(
        [np.stack([np.cos(angle), -np.sin(angle)], 1), np.stack([np.sin(angle), np.cos(angle)], 1)], 1
    )
    shapes = shapely.polygons(np.einsum("nij,nkj->nki", turn, corner) + centre[:, None])
    base, top = np.zeros(count), np.rint(rng.uniform(2, 25, count))
    tables = [prisms(shapes, base, top, solid=np.arange(count))]
    if ground:
        slab = np.array([shapely.box(-20, -20, side * 14 + 20, side * 14 + 20)], dtype=object)
        tables.append(prisms(slab, np.array([-1.0]), np.array([0.0]), solid=np.array([count])))
    faces = join(tables)
    solids = count + int(ground)
    return Scene(
        faces=faces, edges=edges_of(faces), rank=np.arange(solids), group=np.zeros(solids, dtype=int)
    )


def lengths_by_kind(drawing):
    length = (drawing.dashes.end - drawing.dashes.begin) * drawing.edges.length[drawing.dashes.edge]
    return np.bincount(drawing.kind, length, minlength=4)


@pytest.mark.parametrize("ground", [True, False])
@pytest.mark.parametrize("view", [planometric(30), planometric(45, 2 / 3), isometric()], ids=str)
def test_tiles_give_the_same_drawing(view, ground):
    scene = district(ground=ground)
    whole = resolve(scene, view, origin=ORIGIN, tile=None)
    tiled = resolve(scene, view, origin=ORIGIN, tile=40, threads=2)
    assert tiled.report["tiles"] >= 10
    order = np.argsort(tiled.face)
    assert np.array_equal(tiled.face[order], np.sort(whole.face))
    areas = shapely.area(tiled.visible.polygon[order])
    wanted = shapely.area(whole.visible.polygon[np.argsort(whole.face)])
    assert np.abs(areas - wanted).max() < 1e-6
    assert areas.sum() == pytest.approx(wanted.sum(), rel=1e-9)
    assert lengths_by_kind(tiled) == pytest.approx(lengths_by_kind(whole), rel=1e-9, abs=1e-6)
    for name in ("visible_length", "hidden_length", "drawn_length", "edge_length"):
        assert tiled.report[name] == pytest.approx(whole.report[name], rel=1e-9)


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_tiles_of_ells_and_courtyards(seed):
    """Solids that hide part of themselves stand in the halo of some tile."""
    scene, view = make("dense", 150, seed=seed), planometric(30)
    whole = resolve(scene, view, origin=ORIGIN, tile=None)
    tiled = resolve(scene, view, origin=ORIGIN, tile=12, threads=1)
    assert tiled.report["visible_area"] == pytest.approx(whole.report["visible_area"], rel=1e-9)
    assert tiled.report["visible_length"] == pytest.approx(whole.report["visible_length"], rel=1e-9)
    assert audit(scene, view, tiled, origin=ORIGIN).passed


def test_cores_are_all_solids_once():
    scene = district()
    index = index_of(scene)
    plan = plan_tiles(scene, index, planometric(30), ORIGIN, Tolerance(), size=50)
    cores = np.concatenate([core for core, _ in plan])
    assert np.array_equal(np.sort(cores), np.arange(len(scene.rank)))
    assert all(len(core) <= 50 for core, _ in plan)
    assert all(not np.isin(halo, core).any() for core, halo in plan)


def test_solids_at_one_place_are_parted_in_equal_numbers():
    """Cuts go through many solids that lie equally far: of those the first are on the one side."""
    shapes = np.array([shapely.box(x, y, x + 3, y + 2) for x in (0, 5, 10) for y in (0, 5, 10)] * 11)
    scene = scene_of(shapes, np.zeros(99), np.arange(1.0, 100.0))
    plan = plan_tiles(scene, index_of(scene), planometric(0, height_factor=0), ORIGIN, Tolerance(), size=10)
    cores = [core for core, _ in plan]
    assert np.array_equal(np.sort(np.concatenate(cores)), np.arange(99))
    assert {len(core) for core in cores} == {9, 10}
    assert all((np.diff(core) > 0).all() for core in cores)


@pytest.mark.parametrize("tile", [None, 40])
def test_audit_passes(tile):
    scene, view = district(), planometric(60)
    drawing = resolve(scene, view, origin=ORIGIN, tile=tile)
    result = audit(scene, view, drawing, origin=ORIGIN)
    assert result.passed
    assert result.visible == pytest.approx(result.covered, rel=1e-9)


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("error", [CancelledError, KeyboardInterrupt])
def test_progress_can_stop_the_work(threads, error):
    seen = []

    def progress(stage, share):
        seen.append((stage, share))
        if stage == "tiles" and share > 0.2:
            raise error

    with pytest.raises(error):
        resolve(district(), planometric(30), origin=ORIGIN, tile=20, threads=threads, progress=progress)
    assert ("lines", 0.0) not in seen


def test_progress_runs_to_the_end():
    seen = []
    resolve(district(60), planometric(30), origin=ORIGIN, progress=lambda *what: seen.append(what))
    stages = list(dict.fromkeys(stage for stage, _ in seen))
    assert stages == ["project", "pairs", "depth", "faces", "edges", "kinds", "lines"]
    assert seen[-1] == ("lines", 1.0)
    assert all(0 <= share <= 1 for _, share in seen)


def test_some_solids_alone_are_drawn_as_among_all():
    scene = district(120)
    some = np.arange(len(scene.rank)) % 7 == 0
    view = planometric(30)
    whole, alone = (resolve(scene, view, origin=ORIGIN, only=only) for only in (None, some))
    mine = np.flatnonzero(some[scene.faces.solid[whole.face]])
    order, other = np.argsort(alone.face), mine[np.argsort(whole.face[mine])]
    assert alone.face[order].tolist() == whole.face[other].tolist()
    areas = [shapely.area(one.visible.polygon[rows]) for one, rows in ((alone, order), (whole, other))]
    assert areas[0] == pytest.approx(areas[1], rel=1e-9, abs=1e-9)
    assert 0 < areas[0].sum() < alone.area.sum()
    assert some[alone.edges.solid].all()


def test_none_of_the_solids_drawn_is_an_empty_drawing():
    scene = district(20)
    alone = resolve(scene, planometric(30), origin=ORIGIN, only=np.zeros(len(scene.rank), dtype=bool))
    assert len(alone.face) == len(alone.dashes.edge) == 0
