"""
A command that is told to stop does so within two seconds, and none runs or grows without end.

Python hears an interrupt only between two steps of its own, and a step may be a long piece of
geometry. A thread of its own hears it at once, and ends the process where the command does
not end by itself; files are written beside their targets, so nothing is left half-done.
"""

from __future__ import annotations

import _thread
import contextlib
import os
import select
import signal
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from ..errors import LimitError
from ..limits import MB, Limits

GRACE_S: Final = 0.8  # what a command that was told to stop has to end by itself [s]
_LOOK_S: Final = 0.2
INTERRUPTED: Final = 130
REFUSED: Final = 2


class Watch:
    """
    Watches over a command; used in a ``with`` statement of the main thread.

    Parameters
    ----------
    limits : Limits
        Its seconds and its memory are kept to.
    tidy : callable, optional
        Called before the process is ended.
    """

    def __init__(self, limits: Limits, tidy: Callable[[], None] | None = None) -> None:
        self.limits, self.tidy = limits, tidy
        self.problem: LimitError | None = None
        self.told: float | None = None
        self.over = threading.Event()
        self.ends: tuple[int, int] | None = None
        self.before = -1
        self.thread = threading.Thread(target=self._look, name="siteaxo watch", daemon=True)

    def __enter__(self) -> Watch:
        self.start = time.monotonic()
        if threading.current_thread() is threading.main_thread() and os.name == "posix":
            self.ends = os.pipe()
            for end in self.ends:
                os.set_blocking(end, False)
            self.before = signal.set_wakeup_fd(self.ends[1], warn_on_full_buffer=False)
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()
        if self.ends is not None:
            signal.set_wakeup_fd(self.before)
            with contextlib.suppress(OSError):
                os.write(self.ends[1], b"\0")
        self.thread.join(timeout=2 * _LOOK_S)
        for end in self.ends or ():
            with contextlib.suppress(OSError):
                os.close(end)

    def _look(self) -> None:
        while not self.over.is_set():
            self._hear()
            if self.told is None:
                self.problem = self._too_much()
                if self.problem is not None:
                    self.told = time.monotonic()
                    _thread.interrupt_main()
            elif time.monotonic() - self.told > GRACE_S and not self.over.is_set():
                self._end()

    def _hear(self) -> None:
        """Wait a little, or until a signal comes."""
        if self.ends is None:
            self.over.wait(_LOOK_S)
            return
        with contextlib.suppress(OSError):
            if select.select([self.ends[0]], [], [], _LOOK_S)[0]:
                heard = os.read(self.ends[0], 64)
                if signal.SIGINT in heard and self.told is None:
                    self.told = time.monotonic()

    def _too_much(self) -> LimitError | None:
        spent, used = time.monotonic() - self.start, memory_used() / MB
        try:
            self.limits.check("seconds", spent, what="The command has taken too many seconds")
            self.limits.check("memory_mb", used, what="The command has taken too many MB of memory")
        except LimitError as problem:
            return problem
        return None

    def _end(self) -> None:
        """End the process at once."""
        if self.tidy is not None:
            self.tidy()
        said = self.problem or "stopped; nothing was left half-written."
        with contextlib.suppress(OSError):
            os.write(sys.__stderr__.fileno() if sys.__stderr__ else 2, f"siteaxo: {said}\n".encode())
        os._exit(REFUSED if self.problem else INTERRUPTED)


def memory_used() -> float:
    """Memory that this process has in use, or the most it ever had where no more is told [bytes]."""
    with contextlib.suppress(OSError, ValueError, IndexError):
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
        return float(pages * os.sysconf("SC_PAGE_SIZE"))
    with contextlib.suppress(ImportError):
        import resource

        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return float(most if sys.platform == "darwin" else most * 1024)
    return 0.0
