"""Who is where: density, flow, seats, spacing, levels, repeatability."""

import courtyard
import numpy as np
import pytest
import shapely

from siteaxo.craft.crowd import Crowd, place_people
from siteaxo.craft.figures import NAMES, figures
from siteaxo.craft.walkable import walkable
from siteaxo.errors import SheetError

RIGHT = np.array([1.0, 0.0])
KEPT_CLEAR = [courtyard.POND, courtyard.PLANTER, courtyard.WALL, courtyard.HOUSE, courtyard.LOW_ROOF]


def populate(site, crowd, right=RIGHT):
    model = site.stack()
    ground = walkable(model.stack, headroom=crowd.headroom, clearance=crowd.clearance)
    return model, ground, place_people(model.stack, model.gathered.features, ground, right, crowd)


def seated(people):
    return np.isin(people.figure, [NAMES.index("seated"), NAMES.index("seated front")])


@pytest.mark.parametrize("seed", range(4))
def test_nobody_stands_where_nobody_can(seed):
    crowd = Crowd(density=0.25, seed=seed)
    model, _, people = populate(courtyard.court(), crowd)
    standing = people.take(np.flatnonzero(~seated(people)))
    points = shapely.points(standing.xyz[:, :2])
    assert len(standing) > 40
    for taken in KEPT_CLEAR:
        assert shapely.distance(points, taken).min() > 0.28
    assert shapely.distance(points, courtyard.BENCH).min() > 0.28
    on_deck = shapely.intersects(points, courtyard.DECK)
    assert on_deck.any()
    assert standing.xyz[on_deck, 2] == pytest.approx(11.0)
    assert standing.xyz[~on_deck, 2] == pytest.approx(10.0)
    roles = np.array([key.role.name for key in model.stack.features.layers])
    assert set(roles[model.stack.features.layer[standing.feature]]) == {"terrace", "lawn", "deck"}


@pytest.mark.parametrize("seed", range(4))
def test_spacing_is_kept(seed):
    crowd = Crowd(density=0.3, spacing=1.5, seed=seed)
    _, _, people = populate(courtyard.court(), crowd)
    apart = np.hypot(*(people.xyz[:, None, :2] - people.xyz[None, :, :2]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    sitting = seated(people)
    assert apart[~sitting][:, ~sitting].min() > 1.5
    assert apart[~sitting][:, sitting].min() > 1.5
    assert apart[sitting][:, sitting].min() > 0.6


def test_figures_have_room():
    _, ground, people = populate(courtyard.court(), Crowd(density=0.3, clearance=0.3))
    standing = people.take(np.flatnonzero(~seated(people)))
    local = standing.xyz[:, :2] - ground.origin
    room = ground.room(ground.at(local), local)
    reach = np.array([figures()[k].reach for k in standing.figure]) * standing.height
    still = standing.figure == NAMES.index("standing")  # who stands still fits anywhere
    assert (reach <= room + 0.02)[~still].all()
    assert (~still).sum() > 20


def test_density_is_that_of_the_ground():
    quiet, busy = (populate(courtyard.court(), Crowd(density=d, seated=0, groups=0))[1:] for d in (0.02, 0.1))
    for (ground, people), density in ((quiet, 0.02), (busy, 0.1)):
        expected = density * shapely.area(ground.polygon).sum()
        assert abs(len(people) - expected) <= len(ground) + 1  # rounded piece by piece
    assert len(populate(courtyard.court(), Crowd(density=0, seated=0, groups=0))[2]) == 0


def test_people_keep_to_the_areas_for_people():
    area = courtyard.box(9, 13, 16.5, 20)
    site = courtyard.court(extra=[courtyard.layer("plaza", "people", area, base="below")])
    _, _, people = populate(site, Crowd(density=0.5, seated=0))
    assert len(people) >= 3
    assert shapely.distance(shapely.points(people.xyz[:, :2]), area).max() < 1e-6


def test_areas_for_people_have_their_own_density():
    # 6 × 8 m at 0.25 people a square metre are 12; the other area shows nobody.
    busy, calm = courtyard.box(14, 20, 12, 18), courtyard.box(7, 12, 12, 19)
    frame = courtyard.gpd.GeoDataFrame({"people": [0.25, 0.0]}, geometry=[busy, calm], crs=courtyard.CRS)
    areas = courtyard.siteaxo.Layer(name="areas", role="people", source=frame, density="people")
    crowd = Crowd(density=0.5, seated=0, groups=0, spacing=0.8, clearance=0.0)
    _, _, people = populate(courtyard.court(extra=[areas]), crowd)
    points = shapely.points(people.xyz[:, :2])
    assert shapely.distance(points, busy).max() < 1e-6
    assert len(people) in (8, 9)  # 0.25 × 36 m²


def test_where_areas_overlap_the_later_counts():
    whole, inner = courtyard.box(14, 20, 12, 18), courtyard.box(14, 20, 12, 15)
    layers = [
        courtyard.layer("all", "people", whole, density=0.5),
        courtyard.layer("calm", "people", inner, density=0.0),
    ]
    crowd = Crowd(seated=0, groups=0, spacing=0.8, clearance=0.0)
    _, _, people = populate(courtyard.court(extra=layers), crowd)
    assert len(people) in (8, 9)  # 0.5 × 18 m²
    assert shapely.distance(shapely.points(people.xyz[:, :2]), courtyard.box(14, 20, 15, 18)).max() < 1e-6


def test_a_path_has_its_own_flow():
    # As below: 2400 an hour is one every two metres of 58 m; the crowd's own flow is none.
    _, _, people = populate(path_site(flow=2400), Crowd(density=0, flow=0, spacing=1.0))
    assert 25 <= len(people) <= 30


def path_site(**fields):
    line = courtyard.here(shapely.LineString([(1, 5), (59, 5)]))
    return courtyard.siteaxo.Site(
        layers=[
            courtyard.layer("yard", "terrace", courtyard.box(0, 60, 0, 10), base=0.0, top=1.0),
            courtyard.layer("walk", "path", line, base="below", width=2.0, **fields),
        ],
        plane_crs=courtyard.CRS,
        base_line=90.0,
    )


def test_flow_along_a_path():
    # Pedestrians per metre are flow over speed: 2400 an hour at 4800 m an hour is one every
    # two metres, 29 on 58 m.
    _, _, people = populate(path_site(), Crowd(density=0, flow=2400, spacing=1.0))
    assert 25 <= len(people) <= 30
    off = shapely.distance(
        courtyard.here(shapely.LineString([(1, 5), (59, 5)])), shapely.points(people.xyz[:, :2])
    )
    assert off.max() <= 0.7 + 1e-9  # half the width, less the clearance
    both = people.mirrored.mean()
    assert 0.1 < both < 0.9  # some come, some go
    assert len(populate(path_site(), Crowd(density=0, flow=0))[2]) == 0


@pytest.mark.parametrize(
    ("right", "figure", "leftward"),
    [
        ((1.0, 0.0), "seated", {True, False}),
        ((0.0, 1.0), "seated front", None),
        ((-1.0, 0.0), "seated", {True, False}),
    ],
)
def test_sitters_face_the_way_the_seat_does(right, figure, leftward):
    # The bench runs north and south, with the court on both sides: with east to the right its
    # sitters are seen from the side; with north to the right, those who face east, away from
    # the foot of the page or towards it, are seen from the front only where they face the viewer.
    crowd = Crowd(density=0, flow=0, groups=0, seated=1.0)
    _, _, people = populate(courtyard.court(), crowd, np.array(right))
    assert len(people) >= 4
    assert {NAMES[k] for k in people.figure} == {figure}
    if leftward is not None:
        assert set(people.mirrored.tolist()) == leftward
    hips = people.xyz[:, 2] + 0.258 * people.height
    tall = 0.255 * people.height > 0.45  # their feet stand on the ground, at 10 m
    assert hips[~tall] == pytest.approx(10.45, abs=0.01)
    assert people.xyz[tall, 2] == pytest.approx(10.0)
    assert (hips[tall] < 10.48).all()
    distance = shapely.distance(courtyard.BENCH, shapely.points(people.xyz[:, :2]))
    assert distance.max() < 0.05


def people_of(people):
    return people.xyz, people.height, people.figure, people.feature


@pytest.mark.parametrize("bearing", range(0, 360, 15))
def test_shins_of_sitters_hang_in_front_of_the_seat(bearing):
    """Of a seat 1.2 m wide, whichever way the page is turned, nothing is where shins are or hides them."""
    right = np.array([np.cos(np.radians(bearing)), np.sin(np.radians(bearing))])
    viewer = np.array([right[1], -right[0]])
    wide = courtyard.box(20.5, 21.7, 6.5, 12.5)
    seat = courtyard.layer("wide", "seat", wide, base=10.0, top=10.45)
    model, _, people = populate(
        courtyard.court(extra=[seat]), Crowd(density=0, flow=0, groups=0, seated=1.0), right
    )
    width = {NAMES.index("seated front"): (-0.108, -0.015, 0.016, 0.108), NAMES.index("seated"): ()}
    for xyz, height, figure, row in zip(*people_of(people), strict=True):
        for across in width[figure]:  # the sides of both legs of who is seen from the front
            leg = shapely.Point(xyz[:2] + across * height * right)
            assert not model.stack.features.geometry[row].intersects(leg)
    side = people.figure == NAMES.index("seated")
    sign = np.where(people.mirrored, -1.0, 1.0)[side]
    shin = people.xyz[side, :2] + (sign * 0.24 * people.height[side])[:, None] * right
    shapes = model.stack.features.geometry[people.feature[side]]
    for towards in np.arange(0.0, 0.4, 0.05):  # what is 0.45 m high hides what lies less behind it
        spot = shapely.points(shin + towards * viewer)
        assert not shapely.intersects(shapes, spot).any(), towards


def test_share_of_seats_taken():
    counts = [len(populate(courtyard.court(), Crowd(density=0, groups=0, seated=s))[2]) for s in (0, 0.5, 1)]
    assert counts[0] == 0
    assert counts[0] < counts[1] < counts[2]


def test_groups_gather_near_seats():
    crowd = Crowd(density=0, seated=0, groups=1.0)
    _, _, people = populate(courtyard.court(), crowd)
    assert len(people) == 1
    assert 0.7 <= shapely.distance(courtyard.BENCH, shapely.Point(people.xyz[0, :2])) <= 1.9


def test_same_seed_same_people():
    once, again, other = (populate(courtyard.court(), Crowd(seed=s))[2] for s in (3, 3, 4))
    for name, column in vars(once).items():
        assert np.array_equal(column, getattr(again, name)), name
    assert once.xyz.tolist() != other.xyz.tolist()
    assert once.persons >= len(once)


def test_people_elsewhere_stay_when_a_feature_is_added():
    crowd = Crowd(density=0.1)
    before = populate(courtyard.court(), crowd)[2]
    annex = courtyard.layer("annex", "terrace", courtyard.box(60, 70, 0, 10), base=9.0, top=10.0)
    after = populate(courtyard.court(extra=[annex]), crowd)[2]
    kept = {tuple(row) for row in before.xyz.round(6)} & {tuple(row) for row in after.xyz.round(6)}
    assert len(kept) == len(before)
    assert len(after) > len(before)


@pytest.mark.parametrize(
    "bad", [{"density": -1}, {"seated": 1.5}, {"groups": 2}, {"spacing": 0.2}, {"flow": float("nan")}]
)
def test_crowds_that_cannot_be(bad):
    with pytest.raises(SheetError, match=next(iter(bad))):
        Crowd(**bad)
