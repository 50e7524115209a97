"""Tiles drawn by several hands: the same drawing whoever draws, and nobody left behind."""

import os
import signal
import subprocess
import sys
import time
from dataclasses import fields
from pathlib import Path
from threading import current_thread, main_thread
from threading import enumerate as threads_alive

import numpy as np
import pytest
import shapely

from siteaxo.errors import CancelledError
from siteaxo.keeping import Forgetful
from siteaxo.view import candidates, hands, workers
from siteaxo.view.crowded import TooManyPairsError
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve
from siteaxo.view.tiles import cut_out, index_of, plan_tiles
from siteaxo.view.tolerance import Tolerance
from siteaxo.view.workers import Worker

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from districts import make

BENCHMARKS = Path(__file__).parent / "benchmarks"
VIEW = planometric(30)
REAL = hands.started


@pytest.fixture(scope="module")
def scene():
    return make("dense", 200)


@pytest.fixture
def processes(monkeypatch):
    """Processes for small scenes too; the list of all that were started, ready before the first tile."""
    everyone = []

    def ready(count):
        some = REAL(count)
        everyone.extend(some)
        for one in some:
            one.draw(*first_tile())
        return some

    monkeypatch.setattr(hands, "LEAST", 0)
    monkeypatch.setattr(workers, "_processors", lambda: 3)
    monkeypatch.setattr(hands, "started", ready)
    yield everyone
    assert all(one.process.poll() is not None for one in everyone)
    assert not [one for one in threads_alive() if "work_off" in one.name or "help" in one.name]


def first_tile():
    scene = make("open", 9)
    index = index_of(scene)
    (tile,) = plan_tiles(scene, index, VIEW, np.zeros(3), Tolerance())
    return cut_out(scene, index, *tile), VIEW, np.zeros(3), Tolerance()


def draw(scene, threads, *, store=None, **options):
    return resolve(scene, VIEW, origin=np.zeros(3), threads=threads, tile=25, store=store, **options)


def told(drawing):
    """All of a drawing as bytes and numbers."""
    tables = [drawing.edges, drawing.dashes, drawing.hidden]
    arrays = [getattr(table, field.name) for table in tables for field in fields(table)]
    arrays += [drawing.face, drawing.area, drawing.kind, drawing.visible.hidden_area]
    return (
        [array.tobytes() for array in arrays],
        list(shapely.to_wkb(drawing.visible.polygon)),
        drawing.report,
    )


@pytest.mark.parametrize("store", [None, Forgetful()], ids=["plain", "kept"])
def test_the_same_is_drawn_by_one_by_threads_and_by_processes(scene, store, processes, monkeypatch):
    one = told(draw(scene, 1, store=store))
    assert not processes
    drawn = []
    real = Worker.draw
    monkeypatch.setattr(
        Worker, "draw", lambda self, *what, **how: drawn.append(real(self, *what, **how)) or drawn[-1]
    )
    assert told(draw(scene, 2, store=store)) == one
    assert told(draw(scene, 3, store=store)) == one
    assert len(processes) == 3
    assert sum(part is not None for part in drawn) > 3 + 3  # beside the first tile of each
    monkeypatch.setattr(hands, "LEAST", 10**9)
    assert told(draw(scene, 3, store=store)) == one
    assert len(processes) == 3


def test_small_scenes_start_no_process(scene, monkeypatch):
    monkeypatch.setattr(hands, "started", lambda count: pytest.fail("a process was started"))
    assert draw(scene, 2).report["tiles"] > 2


@pytest.mark.parametrize("after", [0, 2])
def test_what_a_worker_that_dies_leaves_is_drawn_here(scene, after, processes, monkeypatch):
    one, asked, real = told(draw(scene, 1)), [], Worker.draw

    def dying(self, *what, **how):
        asked.append(1)
        if len(asked) == after + 1 + 1:  # the first is asked before
            self.process.kill()
        return real(self, *what, **how)

    monkeypatch.setattr(Worker, "draw", dying)
    assert told(draw(scene, 2)) == one
    assert processes[0].gone


def test_an_interrupt_while_threads_are_started_is_told_as_it_came(scene, monkeypatch):
    begun, real = [], hands.Thread.start

    def start(self):
        begun.append(1)
        if len(begun) == 2:
            raise KeyboardInterrupt
        real(self)

    monkeypatch.setattr(hands.Thread, "start", start)
    with pytest.raises(KeyboardInterrupt):
        draw(scene, 4)
    assert len(begun) == 2


def test_a_worker_that_never_gets_ready_is_not_waited_for(scene, monkeypatch):
    monkeypatch.setattr(hands, "LEAST", 0)
    monkeypatch.setattr(workers, "_processors", lambda: 2)
    monkeypatch.setattr(workers, "MODULE", "code")  # waits for input, and does not greet
    assert told(draw(scene, 2)) == told(draw(scene, 1))


def test_what_waits_for_a_worker_is_drawn_here_when_nobody_draws_here_any_more(scene, processes, monkeypatch):
    one, elsewhere, real, ready = told(draw(scene, 1)), [], hands.drawn_tile, hands.started

    def busy(count):
        (worker,) = ready(count)
        worker._turn.acquire()
        return [worker]

    def seen(*what):
        if current_thread() is not main_thread():
            elsewhere.append(1)
            if len(elsewhere) == 1:
                processes[0]._turn.release()
        return real(*what)

    monkeypatch.setattr(hands, "started", busy)
    monkeypatch.setattr(hands, "drawn_tile", seen)
    assert told(draw(scene, 2)) == one
    assert elsewhere


def test_too_many_faces_are_told_by_this_process_and_smaller_tiles_taken(scene, processes, monkeypatch):
    whole = resolve(scene, VIEW, origin=np.zeros(3), tile=None)
    monkeypatch.setattr(Worker, "draw", lambda self, *what, **how: None)  # as where a tile is an error
    monkeypatch.setattr(candidates, "MOST_PAIRS", 2 * whole.report["pairs"] // 5)
    tiled = resolve(scene, VIEW, origin=np.zeros(3), threads=2, tile=90)
    assert tiled.report["visible_area"] == pytest.approx(whole.report["visible_area"], rel=1e-9)
    monkeypatch.setattr(candidates, "MOST_PAIRS", 100)
    with pytest.raises(TooManyPairsError) as caught:
        draw(scene, 2)
    assert 0 <= caught.value.solid < len(scene.rank)


@pytest.mark.parametrize("error", [CancelledError, KeyboardInterrupt])
def test_progress_stops_all_processes(scene, error, processes):
    begun = []

    def progress(stage, share):
        if stage == "tiles" and share > 0.2:
            begun.append(time.monotonic())
            raise error

    with pytest.raises(error):
        draw(scene, 3, progress=progress)
    assert len(processes) == 2
    assert all(one.process.poll() is not None for one in processes)
    assert len(begun) == 1


def test_an_error_here_is_the_one_that_is_raised(scene, processes, monkeypatch):
    real = hands.drawn_tile
    drawn = []

    def failing(*what):
        drawn.append(1)
        if len(drawn) == 2:
            raise MemoryError("no room")
        return real(*what)

    monkeypatch.setattr(hands, "drawn_tile", failing)
    with pytest.raises(MemoryError, match="no room"):
        draw(scene, 2)


SCRIPT = """
import signal, sys
import numpy as np
from districts import make
from siteaxo.view import hands, workers
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever started the tests may ignore it
hands.LEAST = 0
workers._processors = lambda: 2
real = hands.started

def started(count):
    some = real(count)
    print(some[0].process.pid, flush=True)
    return some

hands.started = started
scene = make("dense", 1500)
while True:
    resolve(scene, planometric(30), origin=np.zeros(3), threads=2, tile=100)
    print("drawn", flush=True)
"""  # a script without a guard: were it run again by its workers, they would never get ready


@pytest.fixture
def script(tmp_path):
    """A script that draws again and again, and the process id of its worker."""
    (tmp_path / "script.py").write_text(SCRIPT)
    path = os.pathsep.join([str(BENCHMARKS), str(BENCHMARKS.parents[1]), os.environ.get("PYTHONPATH", "")])
    with subprocess.Popen(
        [sys.executable, str(tmp_path / "script.py")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": path},
        start_new_session=True,
    ) as run:
        yield run
        run.kill()


def next_worker(run):
    line = run.stdout.readline()
    while not line.strip().isdigit():
        assert line, "the script has ended"
        line = run.stdout.readline()
    return int(line)


def is_alive(process):
    """Whether a process is there and has not ended; one that has, but that nobody asks for, is a zombie."""
    status = Path(f"/proc/{process}/stat")
    try:
        os.kill(process, 0)
        return not status.exists() or status.read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (ProcessLookupError, FileNotFoundError):
        return False


def gone_within(process, seconds):
    end = time.monotonic() + seconds
    while is_alive(process) and time.monotonic() < end:
        time.sleep(0.02)
    return not is_alive(process)


posix = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")


@posix
def test_an_interrupt_at_the_terminal_ends_all_and_only_the_script_tells_of_it(script):
    """The terminal interrupts all processes of a job."""
    worker = next_worker(script)
    assert script.stdout.readline() == "drawn\n"
    worker = next_worker(script)
    os.killpg(script.pid, signal.SIGINT)
    _, error = script.communicate(timeout=30)
    assert script.returncode != 0
    assert error.count("Traceback (most recent call last)") == 1
    assert error.strip().endswith("KeyboardInterrupt")
    assert gone_within(worker, 10)


@posix
def test_no_worker_is_left_when_its_starter_is_killed(script):
    worker = next_worker(script)
    assert is_alive(worker)
    script.kill()
    script.wait()
    assert gone_within(worker, 30)
