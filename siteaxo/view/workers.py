"""
Worker processes that draw tiles, started and ended by the process that needs them.

A worker is this very Python started anew with a module of siteaxo, never a copy of the process or
of the script that runs in it: a script needs no guard, and threads of it are no danger. Where
there is no such Python (a program that brings its own), or it does not start, tiles are drawn here.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import IO, Final, cast

import numpy as np

from ..keeping import Arrays
from .finishing import Part
from .kept import raised
from .messages import receive, send
from .projection import View
from .tiles import Piece
from .tolerance import Tolerance
from .worker import GREETING, question

LEAST: Final = 20_000
"""Solids of scenes that processes pay for; one takes about a second of a processor until it is ready."""

MODULE: Final = "siteaxo.view.worker"
TURN: Final = 0.02  # between two looks at whether to wait any longer [s]

log = logging.getLogger("siteaxo")


class Worker:
    """
    A process that draws tiles one after another.

    It gets ready while its starter goes on. Several threads may ask it; each waits for its turn.

    Raises
    ------
    OSError
        If no process can be started.
    """

    def __init__(self) -> None:
        path = os.pathsep.join(str(place) or os.getcwd() for place in sys.path)
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-m", MODULE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": path},
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._to, self._from = cast(IO[bytes], self.process.stdin), cast(IO[bytes], self.process.stdout)
        self._turn = Lock()
        self.ready = self.gone = False

    def draw(
        self,
        piece: Piece,
        view: View,
        origin: np.ndarray,
        limits: Tolerance,
        *,
        otherwise: Callable[[], bool] = lambda: False,
    ) -> Part | None:
        """
        Have a tile drawn.

        Parameters
        ----------
        piece, view, origin, limits
            As for :func:`.drawn.drawn_tile`.
        otherwise : callable
            Asked now and then while it is the turn of others: whether to wait no longer.

        Returns
        -------
        Part or None
            None where it cannot be drawn without an error or a warning, the process has ended, or
            it was not waited for.
        """
        while not self._turn.acquire(timeout=TURN):
            if otherwise():
                return None
        try:
            found = self._answer(question(piece, view, origin, limits))
        finally:
            self._turn.release()
        return raised(found) if found else None

    def _answer(self, asked: Arrays) -> Arrays | None:
        """Send a question, and read the answer."""
        found = None
        if not self.gone:
            with suppress(OSError, ValueError):
                self._greet()
                send(self._to, asked)
                found = receive(self._from)
        if found is None:
            self._lose()
        return found

    def _greet(self) -> None:
        """Make sure, once, that it is a worker that draws just as it would be done here."""
        if not self.ready and self._from.readline(len(GREETING) + 1).rstrip() != GREETING:
            raise ValueError("no worker")
        self.ready = True

    def _lose(self) -> None:
        """Note that the process is of no use any more."""
        if not self.gone:
            self.gone = True
            self.process.kill()
            code = self.process.wait()
            log.info("A worker process has ended (%s); its tiles are drawn in this process.", code)

    def stop(self) -> None:
        """End the process at once, whoever waits for it; it holds nothing that could be lost."""
        self.process.kill()

    def close(self) -> None:
        """End the process and all that is left of it, when nobody waits for it any more."""
        self.stop()
        self.process.wait()
        for stream in (self._to, self._from):
            with suppress(OSError):  # what could not be sent any more
                stream.close()


def started(count: int) -> list[Worker]:
    """
    Start workers, as many as there are processors for; none where that cannot be done.

    Parameters
    ----------
    count : int
        How many are wanted beside this process.

    Returns
    -------
    list of Worker
    """
    workers: list[Worker] = []
    try:
        while _is_python(sys.executable) and len(workers) < min(count, _processors() - 1):
            workers.append(Worker())
    except OSError as error:
        log.info("No worker process can be started (%s); tiles are drawn in this process.", error)
    return workers


def _is_python(program: str | None) -> bool:
    """
    Whether a program is a Python, rather than one that has a Python in it.

    Examples
    --------
    >>> [_is_python(name) for name in ("/usr/bin/python3.12", "C:/tools/pythonw.exe", "/opt/site-viewer", "")]
    [True, True, False, False]
    """
    frozen = getattr(sys, "frozen", False)
    return bool(program) and not frozen and Path(str(program)).stem.lower().startswith(("python", "pypy"))


def _processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
