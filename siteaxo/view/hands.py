"""
Tiles drawn by several hands: by this thread, by others, and by worker processes.

All take the next tile that nobody has begun. What is drawn is put in order at the end, so that it is
the same whoever drew what. Two threads stand before each worker: while it draws the tile of one,
the other gets the next ready, and draws it here if by then nobody does anything else here.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from threading import Condition, Semaphore, Thread
from typing import Final

import numpy as np

from ..errors import CancelledError
from .drawn import Progress, drawn_tile
from .finishing import Part
from .projection import View
from .tiles import Piece
from .tolerance import Tolerance
from .workers import LEAST, Worker, started

Draw = Callable[[Piece], Part]
Work = Callable[[int, Draw], Part]

PAUSE: Final = 0.2  # between two reports of progress while others draw [s]


class Hands:
    """
    All who draw the tiles of one drawing.

    Use it as a context: workers get ready from its beginning, and none is left after it.

    Parameters
    ----------
    threads : int
        How many tiles are drawn at once.
    solids : int
        Size of the scene: large ones are drawn by processes, smaller ones by threads.
    view, origin, limits
        As for :func:`.drawn.drawn_tile`.
    """

    def __init__(self, threads: int, solids: int, view: View, origin: np.ndarray, limits: Tolerance) -> None:
        self._how = (view, origin, limits)
        self._workers = started(threads - 1) if solids >= LEAST else []
        self._others = 0 if self._workers else threads - 1

    def __enter__(self) -> Hands:
        return self

    def __exit__(self, *error: object) -> None:
        for worker in self._workers:
            worker.close()

    def all_of(self, count: int, work: Work, say: Progress) -> list[Part]:
        """
        Work off all tiles.

        Parameters
        ----------
        count : int
            How many there are.
        work : callable
            Called as ``work(number, draw)`` in any thread: cuts out a tile, has it drawn by
            ``draw(piece)``, and returns the part.
        say : callable
            Called as ``say("tiles", share)`` in this thread; it may raise to stop all.

        Returns
        -------
        list of Part
            In the order of the tiles.

        Raises
        ------
        CancelledError
            In other threads, when this one is stopped.
        """
        board = _Board(count)
        helpers = [Thread(target=board.help, args=(work, draw), daemon=True) for draw in self._draws(board)]
        try:
            for helper in helpers:
                helper.start()
            board.work_off(work, lambda piece: drawn_tile(piece, *self._how, board.saying(say)))
            for worker in self._workers:
                if not worker.ready:  # not worth waiting for any more
                    worker.stop()
            board.free.release()
            while not board.waited(PAUSE):
                say("tiles", board.share)
            return board.parts()
        except BaseException as error:
            raise board.fail(error) from None
        finally:
            for worker in self._workers:
                worker.stop()
            for helper in helpers:
                if helper.is_alive():  # an interrupt may come before the last of them has started
                    helper.join()

    def _draws(self, board: _Board) -> list[Draw]:
        """How each of the other threads draws a tile."""

        def here(piece: Piece) -> Part:
            return drawn_tile(piece, *self._how, board.go_on)

        def by(worker: Worker) -> Draw:
            def draw(piece: Piece) -> Part:
                with ExitStack() as place:
                    part = worker.draw(piece, *self._how, otherwise=lambda: board.lent(place))
                    return here(piece) if part is None else part

            return draw

        return [by(worker) for worker in self._workers for _ in range(2)] + [here] * self._others


class _Board:
    """Which tiles are waiting, which are drawn, and whether anything has gone wrong."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._begun = 0
        self._found: dict[int, Part] = {}
        self._error: BaseException | None = None
        self._change = Condition()
        self.free = Semaphore(0)  # threads that have nothing left to do

    @property
    def share(self) -> float:
        """Share of the tiles that are drawn, 0 to 1."""
        return len(self._found) / max(self._count, 1)

    def work_off(self, work: Work, draw: Draw) -> None:
        """Draw tiles until none is waiting."""
        while (number := self._next()) is not None:
            part = work(number, draw)
            with self._change:
                self._found[number] = part
                self._change.notify_all()

    def help(self, work: Work, draw: Draw) -> None:
        """The same in another thread, where what goes wrong is noted."""
        try:
            self.work_off(work, draw)
        except BaseException as error:
            self.fail(error)

    def _next(self) -> int | None:
        with self._change:
            if self._error is not None or self._begun >= self._count:
                return None
            self._begun += 1
            return self._begun - 1

    def fail(self, error: BaseException) -> BaseException:
        """Stop all at their next step, and return the error that was the first."""
        with self._change:
            self._error = self._error or error
            self._change.notify_all()
            return self._error

    def go_on(self, stage: str, share: float) -> None:
        """Raise if all are to stop."""
        if self._error is not None:
            raise CancelledError("Another tile, or the caller, has stopped the drawing.")

    def saying(self, say: Progress) -> Progress:
        """At every step within a tile, tell how far all are."""

        def step(stage: str, share: float) -> None:
            self.go_on(stage, share)
            say("tiles", self.share)

        return step

    def lent(self, place: ExitStack) -> bool:
        """Take the place of a thread that has nothing left to do, if there is one, and give it back later."""
        found = self.free.acquire(blocking=False)
        if found:
            place.callback(self.free.release)
        return found

    def waited(self, seconds: float) -> bool:
        """Wait for a change; whether all is done, or something has gone wrong."""
        with self._change:
            if not self._over():
                self._change.wait(seconds)
            return self._over()

    def _over(self) -> bool:
        return self._error is not None or len(self._found) == self._count

    def parts(self) -> list[Part]:
        """Return all parts in order, or raise what went wrong."""
        if self._error is not None:
            raise self._error
        return [self._found[number] for number in range(self._count)]
