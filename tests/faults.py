"""
Faults while a file is overwritten: killed, out of room, not allowed, failing, interrupted.

A process prepares one drawing and forks for every fault, so that each takes milliseconds. Calls
that write are counted in a small library loaded before all others, where there is a compiler;
the process kills itself at the call whose number it is given.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

KINDS = ("gpkg", "pdf", "svg", "png", "csv")
COUNTER = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <sys/types.h>
#include <unistd.h>
static long left = -1, seen = 0;
void arm(long number) { left = number; seen = 0; }
long counted(void) { return seen; }
static void count(void) {
    __sync_fetch_and_add(&seen, 1);
    if (left >= 0 && __sync_fetch_and_sub(&left, 1) == 0) kill(getpid(), SIGKILL);
}
#define WRAP(result, name, parameters, arguments) \
    result name parameters { \
        static result (*real) parameters; \
        if (!real) real = dlsym(RTLD_NEXT, #name); \
        count(); \
        return real arguments; \
    }
WRAP(ssize_t, write, (int f, const void *b, size_t n), (f, b, n))
WRAP(ssize_t, pwrite, (int f, const void *b, size_t n, off_t o), (f, b, n, o))
WRAP(ssize_t, pwrite64, (int f, const void *b, size_t n, off_t o), (f, b, n, o))
WRAP(int, fsync, (int f), (f))
WRAP(int, fdatasync, (int f), (f))
WRAP(int, ftruncate, (int f, off_t n), (f, n))
WRAP(int, ftruncate64, (int f, off_t n), (f, n))
WRAP(int, rename, (const char *a, const char *b), (a, b))
WRAP(int, unlink, (const char *a), (a))
"""


class Writer:
    """One drawing and what writes it in each of five kinds of file."""

    def __init__(self) -> None:
        import handmade

        import siteaxo
        from siteaxo.export.gpkg import write_gpkg
        from siteaxo.export.images import save_figure
        from siteaxo.export.tables import write_csv
        from siteaxo.sheet.figure import make_figure

        assert siteaxo.__version__
        self.drawing = handmade.terraces()
        figure = make_figure(self.drawing, sheet="A4", scale=100)
        self.how: dict[str, Callable[[Path], Any]] = {
            "gpkg": lambda path: write_gpkg(self.drawing, path),
            "csv": lambda path: write_csv(self.drawing.findings, path),
            **{kind: lambda path: save_figure(figure, path, dpi=60) for kind in ("pdf", "svg", "png")},
        }

    def write(self, path: Path) -> None:
        """Write the drawing; the suffix says how."""
        self.how[path.suffix[1:]](path)


def whole(path: Path, new: bytes) -> str:
    """Whether a file is the old one, the new one, or neither."""
    content = path.read_bytes()
    if content == OLD:
        return "old"
    if path.suffix == ".gpkg":
        return "new" if sound(path) else "neither"
    return "new" if content == new else "neither"


OLD = b"what stood here before"


def sound(path: Path) -> bool:
    """Whether a GeoPackage is whole."""
    with contextlib.closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as base:
        try:
            checked = base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            rows = base.execute("SELECT count(*) FROM faces").fetchone()[0]
            return checked and rows > 0 and base.execute("SELECT count(*) FROM view").fetchone() == (1,)
        except sqlite3.Error:
            return False


def in_child(work: Callable[[], Any], *, seconds: float | None = None) -> int:
    """
    Do something in a forked process, killed after a while where a time is given.

    Returns
    -------
    int
        Its exit status: 0 done, 1 refused as it should be, 2 anything else; negative: a signal.
    """
    child = os.fork()
    if child == 0:
        status = 2
        try:
            from siteaxo.errors import OutputError

            try:
                work()
                status = 0
            except (OutputError, KeyboardInterrupt, Stopped):
                status = 1
        finally:
            os._exit(status)
    if seconds is not None:
        time.sleep(seconds)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


class Stopped(Exception):  # noqa: N818 - it stands for any exception half-way
    """Something that fails half-way."""


def kills(writer: Writer, kind: str, number: int, seed: int = 0) -> dict[str, int]:
    """
    Overwrite a file and be killed: half of the times at a random moment, half at a write.

    Returns
    -------
    dict of str to int
        How often the old file stood there afterwards, the new one, or neither; how many calls
        that write were seen; and how often the process was killed before it was done.
    """
    counter = ctypes.CDLL(None) if hasattr(ctypes.CDLL(None), "arm") else None
    rng = random.Random(seed)
    ends = {"old": 0, "new": 0, "neither": 0, "killed": 0, "calls": 0}
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / f"a.{kind}"
        start = time.perf_counter()
        calls = 0
        if counter is not None:
            counter.arm(-1)
        writer.write(path)
        spent = time.perf_counter() - start
        if counter is not None:
            counter.counted.restype = ctypes.c_long
            calls = ends["calls"] = int(counter.counted())
        new = path.read_bytes()
        for turn in range(number):
            path.write_bytes(OLD)
            if counter is not None and turn % 2:
                at = (turn // 2) * calls // max(number // 2 - 1, 1)
                status = in_child(lambda at=at: (counter.arm(at), writer.write(path)))
            else:
                status = in_child(lambda: writer.write(path), seconds=rng.uniform(0, 1.3 * spent))
            ends[whole(path, new)] += 1
            ends["killed"] += status == -signal.SIGKILL
            for left in Path(name).glob(".*"):
                left.unlink()
    return ends


def out_of_room(writer: Writer, path: Path) -> int:
    """The largest file may have a third of the size it needs, which fails as a full disk does."""
    import resource

    size = max(int(len(made(writer, path.suffix)) / 3), 10)

    def work() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
        writer.write(path)

    return in_child(work)


def not_allowed(writer: Writer, path: Path) -> int:
    """The folder may not be written to; the superuser gives up its power over permissions first."""

    def work() -> None:
        os.chmod(path.parent, 0o555)
        if os.geteuid() == 0:
            version_and_process, no_powers = (ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)()
            assert ctypes.CDLL(None).capset(version_and_process, no_powers) == 0
        writer.write(path)

    try:
        return in_child(work)
    finally:
        os.chmod(path.parent, 0o755)


def failing(writer: Writer, path: Path) -> int:
    """Something fails just before the file is put in place."""

    def work() -> None:
        def fail(*_: object) -> None:
            raise Stopped

        os.fsync = fail  # type: ignore[assignment]
        writer.write(path)

    return in_child(work)


def interrupted(writer: Writer, path: Path) -> int:
    """An interrupt comes while the file is written."""

    def work() -> None:
        sync = os.fsync

        def interrupt(handle: int) -> None:
            signal.raise_signal(signal.SIGINT)
            sync(handle)

        signal.signal(signal.SIGINT, signal.default_int_handler)
        os.fsync = interrupt  # type: ignore[assignment]
        writer.write(path)

    return in_child(work)


FAULTS: dict[str, Callable[[Writer, Path], int]] = {
    "disk full": out_of_room,
    "not allowed": not_allowed,
    "exception half-way": failing,
    "interrupted": interrupted,
}


def made(writer: Writer, suffix: str) -> bytes:
    """What the writer makes."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / f"a{suffix}"
        writer.write(path)
        return path.read_bytes()


def fault(writer: Writer, kind: str, name: str) -> str:
    """
    Overwrite a file with a fault.

    Returns
    -------
    str
        "" where it was refused, the old file stands and nothing is left beside it.
    """
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        path = Path(folder) / f"a.{kind}"
        path.write_bytes(OLD)
        status = FAULTS[name](writer, path)
        if path.read_bytes() != OLD:
            return f"{kind}, {name}: the old file is gone"
        if status != 1:
            return f"{kind}, {name}: ended with {status}"
        left = [one.name for one in Path(folder).iterdir() if one != path]
        return f"{kind}, {name}: left {left}" if left else ""


def crowd(folder: Path, writers: int, seconds: float) -> tuple[int, int, int]:
    """
    Several processes overwrite one GeoPackage and one PDF while another reads them.

    Returns
    -------
    writes, reads, bad : int
        How many files were written and read, and how many readings saw no whole file.
    """
    writer = Writer()
    paths = [folder / "a.gpkg", folder / "a.pdf"]
    for path in paths:
        writer.write(path)
    good = paths[1].read_bytes()
    end = time.monotonic() + seconds
    children = []
    for number in range(writers):
        child = os.fork()
        if child == 0:
            done = 0
            with contextlib.suppress(BaseException):
                while time.monotonic() < end:
                    writer.write(paths[number % 2])
                    done += 1
            (folder / f"done-{number}").write_text(str(done), encoding="ascii")
            os._exit(0)
        children.append(child)
    reads = bad = 0
    while time.monotonic() < end:
        reads += 2
        bad += not sound(paths[0])
        bad += paths[1].read_bytes() != good
    for child in children:
        os.waitpid(child, 0)
    bad += not sound(paths[0])
    bad += paths[1].read_bytes() != good
    bad += bool([one for one in folder.iterdir() if one.name.startswith(".")])
    writes = sum(int((folder / f"done-{number}").read_text(encoding="ascii")) for number in range(writers))
    return writes, reads, bad


def with_counter(arguments: list[str]) -> str:
    """Run this file again with the counting library loaded before all others; what it prints."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    with tempfile.TemporaryDirectory() as name:
        environment = dict(os.environ)
        if compiler and sys.platform == "linux":
            source = Path(name) / "counter.c"
            source.write_text(COUNTER, encoding="ascii")
            library = Path(name) / "counter.so"
            subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", library, source, "-ldl"], check=True)
            environment["LD_PRELOAD"] = str(library)
        run = subprocess.run(
            [sys.executable, __file__, *arguments],
            env=environment,
            check=False,
            stdout=subprocess.PIPE,
            text=True,
        )
        return run.stdout


def main(arguments: list[str]) -> None:
    """
    Print how it ended: ``kills NUMBER KIND ...``, ``faults`` or ``crowd WRITERS SECONDS``.
    """
    sys.path.insert(0, str(Path(__file__).parent))
    what, *rest = arguments
    if what == "crowd":
        with tempfile.TemporaryDirectory() as name:
            writes, reads, bad = crowd(Path(name), int(rest[0]), float(rest[1]))
        print(f"  {writes} files written by {rest[0]} processes, {reads} readings, {bad} bad")
        return
    writer = Writer()
    if what == "faults":
        bad_ends = [said for kind in KINDS for name in FAULTS if (said := fault(writer, kind, name))]
        count = len(KINDS) * len(FAULTS)
        print("\n".join([f"  {count - len(bad_ends)}/{count} old files intact", *bad_ends]))
        return
    for kind in rest[1:]:
        ends = kills(writer, kind, int(rest[0]))
        print(
            f"  {kind}: {ends['old'] + ends['new']}/{rest[0]} whole ({ends['old']} old, {ends['new']} new, "
            f"{ends['neither']} neither); {ends['killed']} killed before they were done; "
            f"{ends['calls']} calls that write",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
