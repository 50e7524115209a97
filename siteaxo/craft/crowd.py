"""
Who is on a site: on seats, along paths, in groups near seats, and at ease elsewhere.

Every place and every figure follows from the seed and from the names of features, so
that a drawing made again shows the same people.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..checks import finite
from ..errors import SheetError
from ..saying import unusual
from ..solids.stack import Stack
from ..source.features import Features
from .figures import AT_EASE, NAMES, NEAR_SEATS, ON_PATHS, figures
from .people import People, statures
from .peopled import Peopled, peopled
from .repeatable import numbers, numbers_each
from .scatter import directions, first_come, scatter, strew_along
from .sitting import Places, seat_places
from .walkable import Ground

SPEED: Final = 4800.0  # walking speed for figuring a flow as a density [m per hour], common practice
BESIDE_SEATS: Final = (0.7, 1.9)  # where groups near seats stand, from the seat's edge [m]
STILL: Final = NAMES.index("standing")


@dataclass(frozen=True, kw_only=True)
class Crowd:
    """
    How many people a site shows, and where.

    Parameters
    ----------
    density : float
        Figures on ground that people stand on, where its layer does not say [per m²].
    flow : float
        People who pass along each path, where its layer does not say [per hour].
    seated : float
        Share of places on seats that are taken, 0 to 1.
    groups : float
        Share of seats that have a group near them, 0 to 1.
    spacing : float
        Least distance between two figures [m].
    headroom : float
        Free height that people need [m].
    clearance : float
        Distance they keep from drops, walls and whatever stands there [m].
    seed : int
        Another seed gives other people in other places.

    Raises
    ------
    SheetError
        If one of these is not what it should be.

    Examples
    --------
    >>> Crowd(density=0.05, seed=3)
    <Crowd: 0.05 to the m², 60 an hour along each path, seed 3>
    """

    density: float = 0.03
    flow: float = 60.0
    seated: float = 0.3
    groups: float = 0.3
    spacing: float = 1.2
    headroom: float = 2.1
    clearance: float = 0.3
    seed: int = 0

    def __post_init__(self) -> None:
        for name in ("density", "flow", "headroom", "clearance", "seated", "groups"):
            finite(getattr(self, name), name, SheetError, least=0.0)
        for name in ("seated", "groups"):
            if getattr(self, name) > 1:
                raise SheetError(
                    f"{name} is {getattr(self, name):g}; it is a share, from 0 to 1.",
                    field=name,
                    value=getattr(self, name),
                )
        if finite(self.spacing, "spacing", SheetError) < 0.5:
            raise SheetError(
                f"spacing is {self.spacing:g} m; people stand at least 0.5 m apart.",
                field="spacing",
                value=self.spacing,
            )

    def __repr__(self) -> str:
        usual = replace(self, density=Crowd.density, flow=Crowd.flow)
        told = [f"{self.density:g} to the m²", f"{self.flow:g} an hour along each path", *unusual(usual)]
        return f"<Crowd: {', '.join(told)}>"


@dataclass(frozen=True, kw_only=True)
class _Standing:
    """Stand points, relative to the ground's origin, and who may stand there."""

    xy: np.ndarray
    name: np.ndarray
    choice: np.ndarray
    ahead: np.ndarray

    def take(self, rows: np.ndarray) -> _Standing:
        return _Standing(**{name: column[rows] for name, column in vars(self).items()})


CHOICES: Final[tuple[Mapping[str, float], ...]] = (ON_PATHS, NEAR_SEATS, AT_EASE)


def place_people(stack: Stack, as_read: Features, ground: Ground, right: np.ndarray, crowd: Crowd) -> People:
    """
    Find places for people.

    Parameters
    ----------
    stack : Stack
        The solids of the site.
    as_read : Features
        The same features with the centre lines of paths as they were read.
    ground : Ground
        Where people can stand, for the headroom and clearance of *crowd*.
    right : ndarray, shape (2,)
        Direction in plan that is seen level on the page, to the right.
    crowd : Crowd
        How many, and where.

    Returns
    -------
    People
        Those on seats first. Where the site has areas for people, all others are in them.
    """
    allowed = peopled(stack.features, ground)
    places = seat_places(stack, ground, right)
    sitting = _sitters(places, ground, crowd)
    first = [_on_paths(as_read, ground, right, crowd), _near_seats(stack, ground, allowed, crowd)]
    early = _joined(first)
    early = early.take(allowed.holds(early.xy))
    early = early.take(first_come(early.xy, crowd.spacing, keep_off=sitting.xyz[:, :2] - ground.origin))
    rest = _at_ease(
        stack, ground, allowed, crowd, np.concatenate([early.xy, sitting.xyz[:, :2] - ground.origin])
    )
    return _people(sitting, _joined([early, rest]), ground, crowd)


def _joined(tables: list[_Standing]) -> _Standing:
    return _Standing(**{name: np.concatenate([getattr(t, name) for t in tables]) for name in vars(tables[0])})


def _sitters(places: Places, ground: Ground, crowd: Crowd) -> People:
    """People on some of the places to sit."""
    chance = numbers_each(2, places.name, "seat", crowd.seed)
    rows = np.flatnonzero(chance[:, 0] < crowd.seated)
    seated, front = NAMES.index("seated"), NAMES.index("seated front")
    figure = np.where(places.front[rows], front, seated)
    height = statures(figure, places.name[rows], crowd.seed)
    base = np.maximum(places.seat_level[rows] - HIPS * height, places.floor[rows])
    return People(
        xyz=np.column_stack([places.xy[rows] + ground.origin, base]),
        figure=figure,
        height=height,
        mirrored=np.where(places.front[rows], chance[rows, 1] < 0.5, places.leftward[rows]),
        feature=places.feature[rows],
        name=places.name[rows],
    )


HIPS: Final = 0.255  # height of the seat just under a seated figure, by the metre of its height [-]


def _on_paths(as_read: Features, ground: Ground, right: np.ndarray, crowd: Crowd) -> _Standing:
    """People who walk along paths that are given by their centre lines."""
    roles = np.array([key.role.name for key in as_read.layers], dtype=object)[as_read.layer]
    row = np.flatnonzero((roles == "path") & (shapely.get_dimensions(as_read.geometry) == 1))
    lines = shapely.transform(as_read.geometry[row], lambda xy: xy - ground.origin)
    given = as_read.of_role("width")[row].astype(float)
    width = np.where(np.isnan(as_read.width[row]), given, as_read.width[row])
    names = _names(as_read, row)
    flow = np.where(np.isnan(as_read.flow[row]), crowd.flow, as_read.flow[row])
    expected = flow * shapely.length(lines) / SPEED
    wanted = np.floor(expected + numbers_each(1, names, "flow", crowd.seed)[:, 0])
    reach = np.maximum(width / 2 - crowd.clearance, 0.0)
    strewn = strew_along(lines, spacing=crowd.spacing, wanted=wanted, reach=reach, key=("walk", crowd.seed))
    along = shapely.line_locate_point(lines[strewn.owner], shapely.points(strewn.xy))
    ahead = directions(lines[strewn.owner], along) @ right
    other_way = numbers(len(strewn), "way", crowd.seed) < 0.5
    return _standing(strewn.xy, names[strewn.owner], 0, np.where(other_way, -ahead, ahead))


def _near_seats(stack: Stack, ground: Ground, allowed: Peopled, crowd: Crowd) -> _Standing:
    """Groups who stand near some of the seats."""
    features = stack.features
    roles = np.array([key.role.name for key in features.layers], dtype=object)[features.layer]
    row = np.flatnonzero((roles == "seat") & (shapely.get_dimensions(features.geometry) == 2))
    names = _names(features, row)
    row = row[numbers_each(1, names, "near", crowd.seed)[:, 0] < crowd.groups]
    seat = shapely.transform(features.geometry[row], lambda xy: xy - ground.origin)
    band = shapely.difference(*(shapely.buffer(seat, d) for d in reversed(BESIDE_SEATS)))
    own, place = shapely.STRtree(allowed.polygon).query(band, predicate="intersects")
    level = np.abs(ground.plane[allowed.piece[place], 2] - features.base[row[own]]) < 0.3
    own, place = own[level], place[level]
    free = shapely.intersection(band[own], allowed.polygon[place])
    best = np.lexsort((shapely.area(free), own))
    last = best[np.flatnonzero(np.diff(own[best], append=-1))]  # the largest piece of each band
    names = _names(features, row[own[last]])
    found = scatter(
        free[last], spacing=crowd.spacing, wanted=np.ones(len(last), dtype=np.int64),
        key=("near", crowd.seed), names=names,
    )  # fmt: skip
    return _standing(found.xy, names[found.owner], 1, np.zeros(len(found)))


def _at_ease(stack: Stack, ground: Ground, allowed: Peopled, crowd: Crowd, keep_off: np.ndarray) -> _Standing:
    """People anywhere else, as many as the density says."""
    names = _names(stack.features, ground.feature[allowed.piece])
    number = _count_before(names)
    names = np.array([f"{name}\x1e{k}" for name, k in zip(names, number, strict=True)], dtype=object)
    density = np.where(np.isnan(allowed.density), crowd.density, allowed.density)
    expected = density * shapely.area(allowed.polygon)
    wanted = np.floor(expected + numbers_each(1, names, "density", crowd.seed)[:, 0]).astype(np.int64)
    found = scatter(
        allowed.polygon,
        spacing=crowd.spacing,
        wanted=wanted,
        key=("ease", crowd.seed),
        keep_off=keep_off,
        names=names,
    )
    return _standing(found.xy, names[found.owner], 2, np.zeros(len(found)))


def _standing(xy: np.ndarray, owner: np.ndarray, choice: int, ahead: np.ndarray) -> _Standing:
    """Stand points named after what they stand on and their number there."""
    number = _count_before(owner)
    name = np.array([f"{own}\x1e{choice}\x1e{k}" for own, k in zip(owner, number, strict=True)], dtype=object)
    return _Standing(xy=xy, name=name, choice=np.full(len(xy), choice), ahead=ahead)


def _count_before(owner: np.ndarray) -> np.ndarray:
    """How many equal ones come before each, shape (n,)."""
    which = (
        np.unique(owner.astype(str), return_inverse=True)[1] if len(owner) else np.zeros(0, dtype=np.int64)
    )
    order = np.argsort(which, kind="stable")
    count = np.empty(len(owner), dtype=np.int64)
    count[order] = np.arange(len(owner)) - np.searchsorted(which[order], which[order])
    return count


def _names(features: Features, row: np.ndarray) -> np.ndarray:
    """Layer and id of features, as text."""
    layers = np.array([key.name for key in features.layers], dtype=object)[features.layer[row]]
    pairs = zip(layers, features.source_id[row], strict=True)
    return np.array([f"{layer}\x1e{source}" for layer, source in pairs], dtype=object)


def _people(sitting: People, standing: _Standing, ground: Ground, crowd: Crowd) -> People:
    """Give everyone who stands a figure that has room there, and a height."""
    piece = ground.at(standing.xy)
    there = np.flatnonzero(piece >= 0)
    piece, standing = piece[there], standing.take(there)
    chance = numbers_each(2, standing.name, "figure", crowd.seed)
    room = ground.room(piece, standing.xy)
    figure = np.full(len(piece), STILL)
    for choice, weights in enumerate(CHOICES):
        rows = np.flatnonzero(standing.choice == choice)
        figure[rows] = _picked(weights, chance[rows, 0], room[rows])
    level = ground.level(piece, standing.xy)
    turned = np.where(standing.ahead == 0, chance[:, 1] < 0.5, standing.ahead < 0)
    upright = People(
        xyz=np.column_stack([standing.xy + ground.origin, level]),
        figure=figure,
        height=statures(figure, standing.name, crowd.seed),
        mirrored=turned,
        feature=ground.feature[piece],
        name=standing.name,
    )
    return People(**{n: np.concatenate([c, getattr(upright, n)]) for n, c in vars(sitting).items()})


def _picked(weights: Mapping[str, float], chance: np.ndarray, room: np.ndarray) -> np.ndarray:
    """Pick a figure for each point among those that have room there, by their weights."""
    index = np.array([NAMES.index(name) for name in weights])
    widest = np.array([figures()[k].reach * max(s[0] for s in figures()[k].statures) for k in index])
    weight = np.array(list(weights.values()), dtype=float) * (widest <= room[:, None])
    total = np.cumsum(weight, axis=1)
    pick = (total <= (chance * total[:, -1])[:, None]).sum(axis=1)
    return np.where(total[:, -1] > 0, index[np.minimum(pick, len(index) - 1)], STILL)
