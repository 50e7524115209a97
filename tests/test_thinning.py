"""ISO 128-20 §4.4: parallel lines at least twice the wider width, and at least 0.7 mm, apart."""

import numpy as np
import pytest
import shapely

from siteaxo.craft.thinning import far_enough


def flight(count: int, going: float, *, turn: float = 0.0) -> np.ndarray:
    """Level lines 4 m long, one above the other."""
    y = going * np.arange(count)
    ends = np.stack(
        [np.column_stack([np.zeros(count), y]), np.column_stack([np.full(count, 4.0), y])], axis=1
    )
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return ends @ np.array([[c, s], [-s, c]])


@pytest.mark.parametrize("turn", [0.0, 9.9, 30.0, 60.0, 90.0, 135.0, 179.0])
@pytest.mark.parametrize(("going", "every"), [(0.36, 1), (0.349, 2), (0.2, 2), (0.12, 3), (0.1, 4)])
def test_a_flight_of_steps_keeps_evenly_spaced_lines(turn, going, every):
    """At 1:500, 0.7 mm are 0.35 m."""
    stays = far_enough(flight(13, going, turn=turn), np.full(13, 0.18), np.zeros(13), scale=500)
    kept = np.flatnonzero(stays)
    assert (np.diff(kept) == every).all()
    assert len(kept) == -(-13 // every)


@pytest.mark.parametrize("scale", [100, 200, 500, 1000])
def test_what_stays_lies_far_enough_apart(scale):
    rng = np.random.default_rng(3)
    middle = rng.uniform(0, 20, (400, 2))
    turn = np.radians(rng.choice([0, 90, 37], 400))
    half = rng.uniform(0.5, 3, 400)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    ends = np.stack([middle - half, middle + half], axis=1)
    width = rng.choice([0.13, 0.25, 0.5], 400)
    stays = far_enough(ends, width, np.zeros(400), scale=scale)
    assert 0 < stays.sum() < 400
    index, beside = np.flatnonzero(stays), []
    for i in index:  # checked one by one, by plain geometry
        along = (ends[i, 1] - ends[i, 0]) / np.linalg.norm(ends[i, 1] - ends[i, 0])
        for j in index:
            if i == j or turn[i] != turn[j]:
                continue
            t = (ends[j] - ends[i, 0]) @ along
            overlap = min(t.max(), 2 * np.linalg.norm(half[i])) - max(t.min(), 0)
            away = abs((ends[j, 0] - ends[i, 0]) @ [-along[1], along[0]])
            reach = max(2 * max(width[i], width[j]), 0.7) * scale / 1000
            lesser = (width[i], -middle[i, 1]) < (width[j], -middle[j, 1])
            if lesser and overlap >= np.linalg.norm(half[i]) * 2 * 0.5 and away < reach * (1 - 1e-6):
                beside.append((i, j))
    again = {i for i, _ in beside}  # what has come back, and what stayed as something else had given way
    assert len(again) < 0.25 * len(index)
    assert all(j in again or reaches_farther(ends, width, i, index, scale) for i, j in beside)


def reaches_farther(ends, width, one, index, scale) -> bool:
    """Whether there is a part of a line for which no stronger one that stays stands."""
    up = ends[:, :, 1].mean(axis=1)
    left = shapely.LineString(ends[one])
    for k in index:
        if (-width[k], up[k]) < (-width[one], up[one]):
            left = left - stands_for(ends[k], max(2 * max(width[k], width[one]), 0.7) * scale / 1000)
    return not left.is_empty


def test_the_wider_stays():
    lines = flight(2, 0.1)
    assert far_enough(lines, [0.18, 0.35], [0, 0], scale=500).tolist() == [False, True]


def test_of_equals_the_greater_rank_stays_and_then_the_lower_on_the_sheet():
    lines = flight(2, 0.1)
    assert far_enough(lines, [0.18, 0.18], [0, 1], scale=500).tolist() == [False, True]
    assert far_enough(lines, [0.18, 0.18], [1, 1], scale=500).tolist() == [True, False]


def test_twice_the_wider_width_counts_where_it_is_more():
    """Two lines of 0.7 mm lie 1.4 mm apart or more; 1.2 mm at 1:100 are 0.12 m."""
    lines = flight(2, 0.12)
    assert far_enough(lines, [0.7, 0.7], [0, 0], scale=100).tolist() == [True, False]
    assert far_enough(lines, [0.35, 0.35], [0, 0], scale=100).tolist() == [True, True]


@pytest.mark.parametrize(
    ("other", "gives_way"),
    [
        ([[0, 0.1], [2.1, 0.1]], True),  # the short one runs beside the long one as a whole
        ([[2.0, 0.1], [9.0, 0.1]], False),  # less than half of it does
        ([[0, 0.1], [2, 1.4]], False),  # not parallel
        ([[4.05, 0.0], [8, 0.0]], False),  # one after the other
        ([[0, 0.1], [4, 0.3]], True),  # 3° off, 0.2 m on average, 0.3 m at most
        ([[0, 0.1], [4, 0.4]], False),  # its end lies 0.4 m off: nothing would stand for it there
    ],
)
def test_lines_give_way_only_beside_one_another(other, gives_way):
    lines = np.array([[[0, 0], [4, 0]], other])
    assert far_enough(lines, [0.35, 0.18], [0, 0], scale=500).tolist() == [True, not gives_way]


def test_at_a_large_scale_all_stay():
    assert far_enough(flight(20, 0.15), np.full(20, 0.35), np.zeros(20), scale=50).all()


def test_points_and_nothing_are_no_trouble():
    assert far_enough(np.zeros((0, 2, 2)), [], [], scale=100).shape == (0,)
    assert far_enough([[[1, 1], [1, 1]], [[1, 1], [1, 1]]], [0.5, 0.5], [0, 0], scale=500).all()


def test_the_answer_does_not_depend_on_the_order_of_the_lines():
    rng = np.random.default_rng(5)
    lines = flight(40, 0.13, turn=33.0) + rng.normal(0, 1e-3, (40, 2, 2))
    width = rng.choice([0.13, 0.18], 40)
    stays = far_enough(lines, width, np.zeros(40), scale=500)
    order = rng.permutation(40)
    again = far_enough(lines[order], width[order], np.zeros(40), scale=500)
    assert (again == stays[order]).all()


def test_a_post_cut_by_a_rail_is_one_line():
    """A post of 1.05 m at 1:500: its whole side stays, and the bits of the other, 0.9 mm and shorter, go."""
    post = [[[0, 0], [0, 0.455]], [[0, 0.5], [0, 0.905]], [[0.07, 0], [0.07, 1.05]]]
    assert far_enough(post, [0.13] * 3, [0] * 3, scale=500).tolist() == [False, False, True]


def stands_for(line, reach):
    """Where a line stands for others: so far to its sides, and past its ends a fifth of that."""
    past = 0.2 * reach * (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    return shapely.LineString([line[0] - past, line[1] + past]).buffer(reach, cap_style="flat")


def by_hand(lines, width, rank, scale):
    """
    The rule line by line: the stronger first, each held against all that have stayed.

    Then again those of which there is a part for which none that has stayed stands.
    """
    bit = np.hypot(*(lines[:, 1] - lines[:, 0]).T) * 1000 / scale < 1.4
    order = sorted(
        range(len(lines)),
        key=lambda k: (-width[k], -rank[k], bit[k], round(lines[k, :, 1].mean(), 3), lines[k, :, 0].mean()),
    )
    stayed = []
    for k in order:
        start, along = lines[k, 0], lines[k, 1] - lines[k, 0]
        length = np.hypot(*along)
        unit = along / length
        gives_way = False
        for other in stayed:
            step = lines[other, 1] - lines[other, 0]
            turned = np.degrees(np.arccos(min(abs(step @ unit) / np.hypot(*step), 1.0)))
            place = (lines[other] - start) @ unit
            begin, end = max(min(place), 0.0), min(max(place), length)
            if turned > 10 or end - begin < length / 2:
                continue
            middle = lines[other, 0] + step * ((begin + end) / 2 - place[0]) / (place[1] - place[0])
            away = abs(np.cross([*unit, 0], [*(middle - start), 0])[2])
            gives_way |= away < max(2 * width[k], 2 * width[other], 0.7) * scale / 1000
        if not gives_way:
            stayed.append(k)
    for k in order:
        left = shapely.LineString(lines[k])
        for other in stayed:
            reach = max(2 * width[k], 2 * width[other], 0.7) * scale / 1000
            left = left - stands_for(lines[other], reach)
        if left.length > 0.05 * max(2 * width[k], 0.7) * scale / 1000:
            stayed.append(k)
    return [k in stayed for k in range(len(lines))]


@pytest.mark.parametrize("scale", [200, 2000, 10_000])
def test_the_rule_line_by_line(scale):
    """Lines far shorter than what keeps them apart, at all bearings, in a crowd."""
    rng = np.random.default_rng(scale)
    count, spread = 250, 0.06 * scale**0.75
    middle, bearing = rng.uniform(0, spread, (count, 2)), rng.uniform(0, np.pi, count)
    half = rng.uniform(0.2, 3.0, (count, 1)) * np.column_stack([np.cos(bearing), np.sin(bearing)])
    lines = np.stack([middle - half, middle + half], axis=1)
    width, rank = rng.choice([0.13, 0.25, 0.5], count), rng.integers(0, 3, count)
    stay = far_enough(lines, width, rank, scale=scale)
    assert stay.tolist() == by_hand(lines, width, rank, scale)
    assert 0.1 < stay.mean() < 0.95


def arc(radius: float, *, pieces: int = 16) -> np.ndarray:
    """A quarter of a circle in straight pieces."""
    turn = np.linspace(0, np.pi / 2, pieces + 1)
    points = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.stack([points[:-1], points[1:]], axis=1)


@pytest.mark.parametrize("near", [3, 7, 9, 13, 16])
def test_a_curve_stays_as_a_whole_or_gives_way_as_far_as_something_lies_beside_it(near):
    """A rail of 16 pieces along a coping that comes nearer than 0.35 m beside some of them, at 1:500."""
    coping = np.concatenate([arc(5.2)[:near], arc(5.6)[near:]])
    lines = np.concatenate([arc(5.0), coping])
    width, owner = np.repeat([0.13, 0.35], 16), np.repeat([0, 1], 16)
    alone = far_enough(lines, width, np.zeros(32), scale=500)
    assert alone[:16].tolist() == [False] * near + [True] * (16 - near)
    together = far_enough(lines, width, np.zeros(32), scale=500, owner=owner)
    assert together.tolist() == [near < 8] * near + [True] * (16 - near) + [True] * 16


def test_curved_steps_keep_every_second_line():
    """Goings of 0.2 m at 1:500, where 0.35 m are wanted: each tread is a line by itself."""
    lines = np.concatenate([arc(4 + 0.2 * k) for k in range(7)])
    stays = far_enough(
        lines, np.full(len(lines), 0.18), np.zeros(len(lines)), scale=500, owner=np.zeros(len(lines))
    )
    steps = stays.reshape(7, 16)
    assert (steps.all(axis=1) | ~steps.any(axis=1)).all()
    assert (steps[:, 0] ^ np.roll(steps[:, 0], 1))[1:].all()


def test_straight_pieces_and_corners_are_decided_one_by_one():
    """Half of a straight line, and one side of a square, run beside something wider."""
    beside = [[[0, 0.1], [4, 0.1]]]
    straight = [[[0, 0], [4, 0]], [[4, 0], [8, 0]]]
    square = [[[0, 0], [4, 0]], [[4, 0], [4, -4]], [[4, -4], [0, -4]], [[0, -4], [0, 0]]]
    for pieces in (straight, square):
        lines, count = np.array([*pieces, *beside]), len(pieces)
        stays = far_enough(
            lines, [*[0.18] * count, 0.35], np.zeros(count + 1), scale=500, owner=[*[0] * count, 1]
        )
        assert stays.tolist() == [False, *[True] * count]


def ring(corners) -> list:
    """The sides of an outline."""
    return [[a, b] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]


def turned(lines, turn: float) -> np.ndarray:
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return np.array(lines, dtype=float) @ np.array([[c, s], [-s, c]])


def box(left, low, right, high) -> list:
    return [(left, low), (right, low), (right, high), (left, high)]


@pytest.mark.parametrize("scale", [200, 500, 1000])
@pytest.mark.parametrize("turn", [0.0, 30.0, 97.0])
def test_marks_of_a_pitch_are_single_lines_all_along(scale, turn):
    """Strips of 0.1 m about a pitch and across its middle: one outline of 60 × 28 m, two within it."""
    outer = ring(box(0, 0, 60, 28))
    within = [*ring(box(0.1, 0.1, 29.95, 27.9)), *ring(box(30.05, 0.1, 59.9, 27.9))]
    lines = turned([*outer, *within], turn)
    stays = far_enough(lines, np.full(12, 0.18), np.zeros(12), scale=scale, owner=np.zeros(12))
    assert stays[:4].all()
    assert stays[4:].sum() == 1  # one of the two lines along the middle
    assert stays[5] or stays[11]


@pytest.mark.parametrize("turn", [0.0, 33.0, 90.0, 172.0])
def test_of_two_lines_along_a_kerb_one_stays_all_along(turn):
    """A kerb 0.1 m wide, whose lines are hidden and crossed at other places each."""
    cuts = [[0, 9, 11, 30, 36, 37, 60], [0, 14, 17, 22, 22.4, 41, 43, 60]]
    lines, side = [], []
    for k, at in enumerate(cuts):
        pieces = zip(at[::2], at[1::2], strict=False)
        rows = [[(a, 0.1 * k), (b, 0.1 * k)] for a, b in pieces]
        lines += rows
        side += [k] * len(rows)
    ends, side = turned(lines, turn), np.array(side)
    count = len(side)
    stays = far_enough(ends, np.full(count, 0.18), np.zeros(count), scale=500, owner=np.zeros(count))
    by_side = [stays[side == k].all() for k in (0, 1)]
    assert sorted(by_side) == [False, True]
    gone = stays[side == int(not by_side[1])] if by_side[0] else stays[side == 0]
    for piece, drawn in zip(ends[side == (1 if by_side[0] else 0)], gone, strict=True):
        left = shapely.LineString(piece)
        for other in ends[side == (0 if by_side[0] else 1)]:
            left = left - stands_for(other, 0.35)
        assert drawn == (left.length > 0.05 * 0.35)  # only where the other side of the kerb is hidden


def test_half_the_length_is_measured_over_the_whole_of_the_other_line():
    """Two halves with a gap of 0.1 m lie lower than one line of 60 m and stand for it together."""
    lines = np.array([[[0, 0], [29.95, 0]], [[30.05, 0], [60, 0]], [[0, 0.1], [60, 0.1]]])
    how = {"scale": 500, "owner": [0, 0, 0]}
    assert far_enough(lines, [0.18] * 3, [0] * 3, **how).tolist() == [True, True, False]


def test_the_answer_does_not_depend_on_the_order_of_pieces_nor_on_their_directions():
    rng = np.random.default_rng(11)
    outer, inner = ring(box(0, 0, 60, 28)), ring(box(0.12, 0.12, 59.88, 27.88))
    share = np.sort(rng.uniform(0, 1, (8, 4)), axis=1)
    lines = np.array([*outer, *inner], dtype=float)
    step = lines[:, 1] - lines[:, 0]
    pieces = lines[:, None, 0] + share[..., None] * step[:, None]
    ends = turned(np.stack([pieces[:, ::2], pieces[:, 1::2]], axis=2).reshape(-1, 2, 2), 41.0)
    count = len(ends)
    stays = far_enough(ends, np.full(count, 0.18), np.zeros(count), scale=500, owner=np.zeros(count))
    order = rng.permutation(count)
    other = np.where(rng.integers(0, 2, count)[:, None, None] == 1, ends[order, ::-1], ends[order])
    again = far_enough(other, np.full(count, 0.18), np.zeros(count), scale=500, owner=np.zeros(count))
    assert (again == stays[order]).all()
    assert 0 < stays.sum() < count
