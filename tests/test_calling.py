"""Call-outs about things that lie close: those that stand already make way, and no leader crosses another."""

import itertools

import numpy as np
import pytest
import shapely

from siteaxo.craft.style import Style
from siteaxo.sheet import calling
from siteaxo.sheet.callouts import Target
from siteaxo.sheet.label_rows import LabelRows
from siteaxo.sheet.numbered import reaches_in
from siteaxo.sheet.page import Box
from siteaxo.sheet.placing import Room

SCALE = 200.0
MM = SCALE / 1000
REACHES = reaches_in(Box(left=0.0, bottom=0.0, width=150.0, height=150.0))


def called(seed):
    """Sixteen places in a round bed of 40 mm, whose names have room outside it only."""
    rng = np.random.default_rng(seed)
    away, turn = 20 * np.sqrt(rng.uniform(0, 1, 16)), rng.uniform(0, 2 * np.pi, 16)
    at = np.column_stack([away * np.cos(turn), away * np.sin(turn)]) * MM
    bed = shapely.Point(0, 0).buffer(22 * MM)
    room = Room(
        lines=np.array([bed.exterior], dtype=object),
        areas=np.array([bed], dtype=object),
        quiet=np.zeros(1, dtype=bool),
        window=(-60 * MM, -45 * MM, 60 * MM, 45 * MM),
        gap=0.8 * MM,
    )
    rows = LabelRows(
        scale=SCALE, style=Style(), fills=np.array(["#ffffff"], dtype=object), small_mm=1.8, usual_mm=2.5
    )
    targets = [
        Target(text=f"Rose {k}", point=place, region=None, layer="", source_id="", role="", fill="")
        for k, place in enumerate(at)
    ]
    lost = calling.place_callouts(rows, room, targets, {}, REACHES)
    return room, rows, lost


def crossings(room):
    lines = shapely.linestrings(np.array(room.leaders))
    return sum(one.intersects(other) for one, other in itertools.combinations(lines, 2))


@pytest.mark.parametrize("seed", range(6))
def test_no_leader_crosses_another_where_one_can_make_way(seed):
    room, rows, lost = called(seed)
    assert not lost
    assert len(room.leaders) == 16
    assert crossings(room) == 0
    boxes = shapely.box(*np.array(room.taken).T)
    assert not any(one.overlaps(other) for one, other in itertools.combinations(boxes, 2))
    lines = shapely.linestrings(np.array(room.leaders))
    assert not shapely.intersects(lines[:, None], boxes)[~np.eye(16, dtype=bool)].any()
    said = {one["words"] or one["text"] for one in rows.columns if one["text"]}
    assert said == {f"Rose {k}" for k in range(16)}


def test_places_one_after_another_would_cross(monkeypatch):
    """What the first test owes to those that make way."""
    monkeypatch.setattr(calling, "_in_exchange", lambda *_: False)
    assert sum(crossings(called(seed)[0]) for seed in range(6)) > 6


def test_a_box_that_is_dropped_is_free_again():
    room = called(0)[0]
    box, leader = room.taken[3], room.leaders[3]
    assert not room.free(box[None])[0]
    room.drop(box, leader)
    assert room.free(box[None])[0]
    assert (len(room.taken), len(room.leaders)) == (15, 15)
