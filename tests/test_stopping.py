"""Tiles in threads stop at their next step, whatever stops the one who waits for them."""

import sys
from pathlib import Path
from threading import current_thread, main_thread

import numpy as np
import pytest

from siteaxo.view import drawn, hands
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from districts import make


@pytest.mark.parametrize("threads", [2, 3])
@pytest.mark.parametrize("place", ["drawing", "waiting"])
def test_an_interrupt_lets_no_further_tile_begin(threads, place, monkeypatch):
    """As a signal does, the interrupt comes while the caller draws or waits, not in its progress."""
    scene, stopped, begun, own = make("open", 400), [], [], []
    project, work_off = drawn.onto_page, hands._Board.work_off

    def interrupted(*what):
        stopped.append(len(begun))
        raise KeyboardInterrupt

    def counted(*scene_and_view):
        begun.append(1)
        own.append(current_thread() is main_thread())
        if place == "drawing" and sum(own) == 3:
            interrupted()
        return project(*scene_and_view)

    def by_others(board, work, draw):
        if current_thread() is not main_thread():
            work_off(board, work, draw)

    if place == "waiting":
        monkeypatch.setattr(hands._Board, "work_off", by_others)
        monkeypatch.setattr(hands._Board, "waited", interrupted)
    monkeypatch.setattr(drawn, "onto_page", counted)
    with pytest.raises(KeyboardInterrupt):
        resolve(scene, planometric(30), origin=np.zeros(3), threads=threads, tile=10)
    assert len(stopped) == 1
    assert len(begun) <= stopped[0] + threads  # those that had passed the question already
    assert len(begun) < 40  # of the tiles that there are
