"""
Drawings made again: what is amended has the bytes of what is made anew.
"""

from __future__ import annotations

import numpy as np
import pytest
from jumbles import changed, jumble, site_of

import siteaxo
from siteaxo.craft import amended as amended_module
from siteaxo.craft.trace import Trace
from siteaxo.operations.handing import export
from siteaxo.verbs import drawn as drawn_module
from siteaxo.verbs.amending import AmendedDiagram
from siteaxo.view import renewed as renewed_module
from siteaxo.view import resolve as resolve_module
from siteaxo.view.resolve import resolve

VIEWS = (
    siteaxo.planometric(turn=30),
    siteaxo.planometric(turn=45, height_factor=0.7),
    siteaxo.isometric(),
)


@pytest.fixture(autouse=True)
def small_sites_too(monkeypatch):
    """Amend small sites as well, whatever the share that has changed, so that many cases take little time."""
    monkeypatch.setattr(drawn_module, "LEAST", 1)
    monkeypatch.setattr(resolve_module, "LEAST", 1)
    monkeypatch.setattr(renewed_module, "MOST", 0.6)
    monkeypatch.setattr(amended_module, "MOST", 1.0)


class Case:
    """A site drawn again and again with one store."""

    def __init__(self, folder, view=VIEWS[0], scale=200.0):
        self.folder, self.view, self.scale = folder, view, scale
        self.store = siteaxo.FolderStore(folder / "kept")

    def drawn(self, frames, store=True):
        model = site_of(frames).stack()
        return model.draw(self.view, scale=self.scale, store=self.store if store else None)

    def again(self, frames):
        """Draw and write again; return the drawing, and whether the file is that of a fresh drawing."""
        diagram = self.drawn(frames)
        export(diagram, self.folder / "again.gpkg", store=self.store)
        self.drawn(frames, store=False).to_gpkg(self.folder / "fresh.gpkg")
        pair = (self.folder / name for name in ("again.gpkg", "fresh.gpkg"))
        return diagram, len({file.read_bytes() for file in pair}) == 1


def at_hand(diagram):
    """Whether only what has changed was made of a drawing."""
    return isinstance(diagram, AmendedDiagram) and "faces" not in vars(diagram)


@pytest.mark.parametrize("seed", range(6))
def test_a_file_written_again_has_the_bytes_of_a_fresh_one(tmp_path, seed):
    rng = np.random.default_rng(seed)
    case = Case(tmp_path, VIEWS[seed % 3], float(rng.choice([100, 200, 500, 1000])))
    frames, amended = jumble(rng, 60), 0
    for _ in range(5):
        diagram, same = case.again(frames)
        assert same
        amended += at_hand(diagram)
        frames = changed(rng, frames)
    assert amended > 0


def test_tables_made_later_are_those_of_a_fresh_drawing(tmp_path):
    rng = np.random.default_rng(11)
    case, frames = Case(tmp_path), jumble(rng, 60)
    case.drawn(frames)
    frames["houses"].loc[3, "height"] += 1
    again, fresh = case.drawn(frames), case.drawn(frames, store=False)
    assert at_hand(again)
    assert again.scale == fresh.scale
    assert again.findings.equals(fresh.findings)
    for name in ("faces", "edges", "hidden_edges", "plan"):
        assert getattr(again, name).equals(getattr(fresh, name))
    assert again.bounds == fresh.bounds
    assert repr(again) == repr(fresh)
    assert not hasattr(again, "other")


def test_one_of_two_with_the_same_id_gets_another(tmp_path):
    """They were dressed as one thing, so that the other, far away, is dressed otherwise now."""
    rng = np.random.default_rng(5)
    case, frames = Case(tmp_path, scale=500.0), jumble(rng, 90)
    frames["houses"].loc[[2, 9], "id"] = "twins"
    frames["houses"].loc[[2], "geometry"] = frames["houses"].loc[[2]].scale(0.05, 0.05).to_numpy()
    assert case.again(frames)[1]
    frames["houses"].loc[9, "id"] = "one"
    diagram, same = case.again(frames)
    assert same
    assert at_hand(diagram)


def test_a_file_touched_in_between_is_written_as_a_whole(tmp_path):
    rng = np.random.default_rng(1)
    case, frames = Case(tmp_path), jumble(rng, 60)
    case.again(frames)
    with (tmp_path / "again.gpkg").open("ab") as file:
        file.write(b"x")
    frames["houses"].loc[3, "height"] += 1
    assert case.again(frames)[1]


def test_another_drawing_in_the_file_is_not_amended(tmp_path):
    """The file holds marks that the drawing has not, and then the drawing of another time."""
    rng = np.random.default_rng(2)
    case, frames = Case(tmp_path), jumble(rng, 60)
    case.again(frames)
    model = site_of(frames).stack()
    marked = case.drawn(frames).with_cautions(model.cautions())
    export(marked, tmp_path / "again.gpkg", store=case.store)
    frames["houses"].loc[3, "height"] += 1
    assert case.again(frames)[1]
    frames["houses"].loc[4, "height"] += 1
    case.drawn(frames)  # and not written
    frames["houses"].loc[5, "height"] += 1
    assert case.again(frames)[1]


def test_a_run_that_was_stopped_half_way_leaves_nothing_stale(tmp_path):
    """What is seen was kept, what is shown was not."""
    rng = np.random.default_rng(3)
    case, frames = Case(tmp_path), jumble(rng, 60)
    case.again(frames)
    real, puts = case.store.put, []

    def stops(key, arrays):
        puts.append(key)
        if len(puts) == 2:
            raise KeyboardInterrupt
        real(key, arrays)

    frames["houses"].loc[3, "height"] += 1
    case.store.put = stops
    with pytest.raises(KeyboardInterrupt):
        case.drawn(frames)
    case.store.put = real
    frames["houses"].loc[8, "height"] += 1
    assert case.again(frames)[1]


def test_another_style_scale_or_view_is_drawn_anew(tmp_path):
    rng = np.random.default_rng(4)
    case, frames = Case(tmp_path), jumble(rng, 60)
    case.again(frames)
    case.scale = 500.0
    diagram, same = case.again(frames)
    assert same
    assert not isinstance(diagram, AmendedDiagram)
    case.view = VIEWS[2]
    assert case.again(frames)[1]


def test_features_that_come_and_go(tmp_path):
    rng = np.random.default_rng(6)
    case, frames = Case(tmp_path), jumble(rng, 60)
    case.again(frames)
    frames["houses"] = frames["houses"].drop(index=4)
    assert case.again(frames)[1]
    frames["lawns"] = frames["lawns"].drop(index=1)
    assert case.again(frames)[1]


@pytest.mark.parametrize("seed", [2, 13, 17, 47, 51, 52])
def test_tiles_give_the_kinds_of_lines_of_one_piece(seed):
    """Also of lines where faces of different tiles cross."""
    rng = np.random.default_rng(seed)
    model = site_of(jumble(rng, 60)).stack()
    view = VIEWS[1].after_turning(model.squaring)
    whole, tiled = (resolve(model.stack.scene, view, origin=model.origin, tile=size) for size in (None, 8))
    assert np.array_equal(whole.kind, tiled.kind)
    for name in ("edge", "begin", "end"):
        assert np.array_equal(getattr(whole.dashes, name), getattr(tiled.dashes, name))


def test_what_lines_go_through_is_told_apart():
    one, other, third = Trace(3), Trace(3), Trace(3)
    for trace, states in ((one, ([1, 0, 1], [2])), (other, ([1, 0, 1], [3])), (third, ([1, 1, 1], [2]))):
        trace.note(np.array(states[0]))
        trace.note(np.array(states[1]), np.array([2]))
    assert (one.code == other.code).tolist() == [True, True, False]
    assert (one.code == third.code).tolist() == [True, False, True]
