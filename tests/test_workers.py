"""Worker processes: they draw what would be drawn here, and where there is none, nothing is lost."""

import logging
import sys
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteaxo.view import workers
from siteaxo.view.drawn import drawn_tile
from siteaxo.view.kept import flat
from siteaxo.view.projection import planometric
from siteaxo.view.tiles import cut_out, index_of, plan_tiles
from siteaxo.view.tolerance import Tolerance
from siteaxo.view.worker import answer, question
from siteaxo.view.workers import Worker, started

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from districts import make

VIEW, ORIGIN, LIMITS = planometric(30), np.array([3.0, 5.0, 0.0]), Tolerance()


def tiles(count=90):
    scene = make("dense", count)
    index = index_of(scene)
    plan = plan_tiles(scene, index, VIEW, ORIGIN, LIMITS, size=20)
    return [cut_out(scene, index, *tile) for tile in plan]


@pytest.fixture
def worker():
    one = Worker()
    yield one
    one.close()
    assert one.process.poll() is not None


def equal(one, other):
    """Whether two parts are the same to the last bit."""
    first, second = flat(one), flat(other)
    return first.keys() == second.keys() and all(
        (a.dtype, a.shape, a.tobytes()) == (b.dtype, b.shape, b.tobytes())
        for a, b in zip(first.values(), second.values(), strict=True)
    )


def here(piece):
    return drawn_tile(piece, VIEW, ORIGIN, LIMITS, lambda stage, share: None)


def test_a_worker_draws_what_is_drawn_here(worker):
    for piece in tiles():
        assert equal(worker.draw(piece, VIEW, ORIGIN, LIMITS), here(piece))
    assert worker.ready


def test_the_tolerance_and_the_view_are_those_asked_for(worker):
    view, limits, piece = planometric(75, 2 / 3), Tolerance(length=0.02), tiles()[0]
    wanted = drawn_tile(piece, view, ORIGIN, limits, lambda stage, share: None)
    assert equal(worker.draw(piece, view, ORIGIN, limits), wanted)
    assert not equal(wanted, here(piece))


def test_a_tile_that_makes_an_error_or_a_warning_is_left_to_the_one_who_asks(worker):
    good = tiles()[0]
    broken = replace(good, core=good.core[:1])
    endless = np.array([np.inf, 0.0, 0.0])
    assert worker.draw(broken, VIEW, ORIGIN, LIMITS) is None
    assert worker.draw(good, VIEW, endless, LIMITS) is None
    with warnings.catch_warnings(record=True):
        warnings.simplefilter("error")
        with pytest.raises(Exception):  # noqa: B017, PT011
            answer(question(good, VIEW, endless, LIMITS))
    assert equal(worker.draw(good, VIEW, ORIGIN, LIMITS), here(good))
    assert not worker.gone


def test_a_worker_that_dies_says_so_once(worker, caplog):
    piece = tiles()[0]
    assert worker.draw(piece, VIEW, ORIGIN, LIMITS) is not None
    worker.process.kill()
    with caplog.at_level(logging.INFO, "siteaxo"):
        assert worker.draw(piece, VIEW, ORIGIN, LIMITS) is None
        assert worker.draw(piece, VIEW, ORIGIN, LIMITS) is None
    assert [record.getMessage() for record in caplog.records] == [
        f"A worker process has ended ({worker.process.returncode}); its tiles are drawn in this process."
    ]


@pytest.mark.parametrize("module", ["this", "siteaxo.no_such_module"])
def test_what_does_not_greet_as_a_worker_is_none(module, monkeypatch):
    monkeypatch.setattr(workers, "MODULE", module)
    other = Worker()
    assert other.draw(tiles()[0], VIEW, ORIGIN, LIMITS) is None
    assert other.gone
    assert not other.ready
    assert other.process.poll() is not None
    other.close()


def test_a_worker_of_another_version_is_none(worker, monkeypatch):
    monkeypatch.setattr(workers, "GREETING", workers.GREETING.replace(b"siteaxo", b"siteaxa"))
    assert worker.draw(tiles()[0], VIEW, ORIGIN, LIMITS) is None
    assert worker.gone


def test_files_where_the_script_was_started_are_not_run(tmp_path, monkeypatch):
    for name in ("numpy", "shapely", "json"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit(3)")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", [place for place in sys.path if place])
    other = Worker()
    assert other.draw(tiles()[0], VIEW, ORIGIN, LIMITS) is not None
    other.close()


def test_as_many_are_started_as_there_are_processors_beside_this_one(monkeypatch):
    monkeypatch.setattr(workers, "_processors", lambda: 3)
    found = [len(ended(started(count))) for count in (0, 1, 5)]
    monkeypatch.setattr(workers, "_processors", lambda: 1)
    assert [*found, len(started(5))] == [0, 1, 2, 0]


def ended(some):
    for one in some:
        one.close()
    return some


@pytest.mark.parametrize("program", ["", None, "/opt/viewer/site-viewer", "/no/such/folder/python3"])
def test_none_is_started_where_there_is_no_python_of_its_own(program, monkeypatch):
    monkeypatch.setattr(workers, "_processors", lambda: 4)
    monkeypatch.setattr(sys, "executable", program)
    assert started(2) == []


def test_none_is_started_by_a_program_that_is_one_file(monkeypatch):
    monkeypatch.setattr(workers, "_processors", lambda: 4)
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    assert started(2) == []


def test_polygons_of_all_sorts_come_back(worker):
    """Empty ones, such of several parts and such with holes are among those compared above."""
    kinds = set()
    for piece in tiles():
        polygon = worker.draw(piece, VIEW, ORIGIN, LIMITS).visible.polygon
        kinds |= set(
            zip(shapely.get_type_id(polygon).tolist(), shapely.is_empty(polygon).tolist(), strict=True)
        )
    assert len(kinds) >= 3
