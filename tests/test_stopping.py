"""Tiles in threads stop at their next step, whatever stops the one who waits for them."""

import sys
from pathlib import Path

import numpy as np
import pytest

from siteaxo.view import resolve as module
from siteaxo.view.projection import planometric

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from districts import make


@pytest.mark.parametrize("threads", [2, 3])
def test_an_interrupt_while_waiting_lets_no_further_tile_begin(threads, monkeypatch):
    """As a signal does, the interrupt comes while the caller waits, not in its progress."""
    scene, stopped, begun = make("open", 400), [], []
    project, wait = module.onto_page, module.wait

    def interrupted(*running, **options):
        if begun:
            stopped.append(len(begun))
            raise KeyboardInterrupt
        return wait(*running, **options)

    def counted(*scene_and_view):
        begun.append(1)
        return project(*scene_and_view)

    monkeypatch.setattr(module, "wait", interrupted)
    monkeypatch.setattr(module, "onto_page", counted)
    with pytest.raises(KeyboardInterrupt):
        module.resolve(scene, planometric(30), origin=np.zeros(3), threads=threads, tile=10)
    assert len(stopped) == 1
    assert len(begun) <= stopped[0] + threads  # those that had passed the question already
