import numpy as np
import pytest
import shapely

from siteaxo.craft.bonds import BONDS, Joints, joint_length, joints_of, units_per_area

WIDTH = 0.1


def box_of(family, size: float) -> np.ndarray:
    """Box of a square [0, size]² in the family's axes."""
    turn = np.radians(family.angle)
    axes = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corners = np.array([[0, 0], [size, 0], [size, size], [0, size]]) @ axes
    return np.concatenate([corners.min(axis=0), corners.max(axis=0)])[None]


def joints(bond, size: float) -> shapely.Geometry:
    """All joints in a square, in one network."""
    ends = np.concatenate([joints_of(family, box_of(family, size)).ab for family in bond])
    return shapely.intersection(shapely.union_all(shapely.linestrings(ends)), shapely.box(0, 0, size, size))


@pytest.mark.parametrize("name", BONDS)
@pytest.mark.parametrize("ratio", [2, 3])
def test_joint_length_per_area(name, ratio):
    """(w + l)/(w·l) per area for stack, running bond, basket weave and herringbone (derived)."""
    length = ratio * WIDTH
    side = 2 * ratio * length * (np.sqrt(2) if "45" in name else 1)  # a whole number of repeats
    bond = BONDS[name](length, WIDTH)
    shifted = [(1e-4 * 3, 1e-4 * 7)]  # so that no joint runs along the edge of the square
    window = shapely.box(*shifted[0], shifted[0][0] + side, shifted[0][1] + side)
    network = shapely.intersection(joints(bond, side * 1.5), window)
    expected = joint_length(length, WIDTH)
    assert network.length / side**2 == pytest.approx(expected, rel=0.02 if "45" in name else 1e-6)


def test_known_joint_length():
    """15.0 m/m² at 0.1 × 0.2 m."""
    assert joint_length(0.2, 0.1) == pytest.approx(15.0)


@pytest.mark.parametrize("name", BONDS)
@pytest.mark.parametrize("ratio", [2, 3])
def test_joints_enclose_units_of_one_size(name, ratio):
    """Every face of the network that lies whole in the window is one unit, length by width."""
    length = ratio * WIDTH
    network = joints(BONDS[name](length, WIDTH), 3.0)
    snapped = shapely.set_precision(network, 1e-7)
    cells = shapely.get_parts(shapely.polygonize([shapely.unary_union(snapped)]))
    inner = [cell for cell in cells if shapely.box(0.5, 0.5, 2.5, 2.5).contains(cell)]
    assert len(inner) > 80
    for cell in inner:
        assert cell.area == pytest.approx(length * WIDTH, rel=1e-4)
        box = shapely.minimum_rotated_rectangle(cell)
        sides = np.hypot(*np.diff(shapely.get_coordinates(box), axis=0).T)
        assert sorted(sides[:2]) == pytest.approx([WIDTH, length], rel=1e-4)


def test_herringbone_is_the_tiling_of_the_plane():
    """Bricks [0,2]×[0,1] and [0,1]×[1,3] on the lattice (1,1), (2,−2) cover the plane exactly (derived)."""
    network = joints(BONDS["herringbone"](2.0, 1.0), 14.0)
    i, j = (one.ravel() for one in np.meshgrid(np.arange(-20, 21), np.arange(-20, 21)))
    x, y = i + 2 * j, i - 2 * j
    bricks = np.concatenate([shapely.box(x, y, x + 2, y + 1), shapely.box(x, y + 1, x + 1, y + 3)])
    outlines = shapely.union_all(shapely.boundary(bricks))
    window = shapely.box(0.5, 0.5, 13.5, 13.5)
    apart = shapely.symmetric_difference(
        shapely.intersection(outlines, window), shapely.intersection(network, window)
    )
    assert apart.length < 1e-9


def test_nominal_pavers():
    """Masonry, April 1995, Table 1: nominal 4 × 8 in pavers, 4.5 to the square foot, 48.44 to the m²."""
    per_area = units_per_area(8 * 0.0254, 4 * 0.0254)
    assert per_area * 0.3048**2 == pytest.approx(4.5)
    assert per_area == pytest.approx(48.44, abs=0.005)


def test_running_bond_shifts_every_second_course_by_half_a_unit():
    _, perpends = BONDS["running bond"](0.2, 0.1)
    ab = joints_of(perpends, box_of(perpends, 1.0)).ab
    course = np.round(ab[:, :, 1].min(axis=1) / 0.1).astype(int)
    place = np.round(ab[:, 0, 0] / 0.1).astype(int)
    assert ((course + place) % 2 == (course[0] + place[0]) % 2).all()


def test_several_boxes_keep_their_faces():
    (family, _) = BONDS["stack bond"](0.5, 0.5)
    boxes = np.array([[0, 0, 1, 1.0], [5, 5, 7, 5.9], [0, 0.1, 1, 0.4]])
    found = joints_of(family, boxes)
    assert np.bincount(found.face, minlength=3).tolist() == [3, 2, 0]
    second = found.ab[found.face == 1]
    assert second[:, :, 0].min() == 5
    assert second[:, :, 0].max() == 7
    assert sorted(second[:, 0, 1]) == [5.0, 5.5]


def test_nothing_joined_is_nothing():
    assert Joints.joined([]).ab.shape == (0, 2, 2)
