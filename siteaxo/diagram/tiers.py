"""
Tiers: what is pulled apart in an exploded view, by theme, by terrace, or by anything of one's own.

A feature belongs to one tier whole; parts of a feature that share an id stay together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from ..checks import nearest
from ..errors import ViewError
from ..solids.scene import Scene
from ..solids.stack import Stack
from ..source.features import Features
from ..source.roles import ROLES, spoken
from ..units import length_words
from .terraces import levels_of, roles_of, terraces_of

THEMES: Final = ("ground", "surfaces", "structures", "planting", "notes")
"""Themes that are tiers, from the ground up; furniture goes with structures."""
PEOPLE: Final = "people"
REST: Final = "other"
"""Name of the tier of features that have no tier."""
SAME: Final = 0.01  # terraces whose levels differ by less lie in one tier [m]


@dataclass(frozen=True, kw_only=True)
class Tiers:
    """
    Tiers of a site, the lowest first.

    Parameters
    ----------
    names : tuple of str
        What each is called.
    feature : ndarray of int, shape (n,)
        Tier of each feature.
    people : int
        Tier of people; -1 where they stay with what they stand on.
    """

    names: tuple[str, ...]
    feature: np.ndarray
    people: int = -1

    def __len__(self) -> int:
        return len(self.names)


def tiers_by(
    stack: Stack,
    by: str | Mapping[str, str | Sequence[str]],
    *,
    people: bool = False,
    values: np.ndarray | None = None,
    unit: str = "m",
) -> Tiers:
    """
    Part the features of a site into tiers.

    Parameters
    ----------
    stack : Stack
        The site.
    by : str or mapping of str to names
        "theme", "terrace", "role" or "layer"; with *values*, the name of a field; or names of
        tiers, the lowest first, with the themes, roles or layers that belong to each.
    people : bool
        Whether people are shown; by theme they are a tier of their own.
    values : ndarray of object, shape (n,), optional
        Value of the field of each feature, "" where it has none.
    unit : {"m", "ft", "ft-us"}
        What names of terraces speak: "Level 12.00 m".

    Returns
    -------
    Tiers
        Those that have features.

    Raises
    ------
    ViewError
        If a name in a mapping is no theme, role or layer, or a layer is in none of them.
    """
    features = stack.features
    if isinstance(by, Mapping):
        tiers = _named(stack, by, people)
    elif values is not None:
        tiers = _by_values(features, values)
    elif by == "theme":
        theme = features.of_role("theme").astype(object)
        tiers = _by_names(np.where(theme == "furniture", "structures", theme), THEMES, people)
    elif by == "terrace":
        tiers = _by_terrace(stack, unit)
    elif by == "role":
        roles = roles_of(features)
        ordered = roles[np.argsort(features.order, kind="stable")]
        tiers = _by_names(roles, tuple(dict.fromkeys(map(str, ordered))), people)
    elif by == "layer":
        tiers = _by_names(_layers(features), tuple(key.name for key in features.layers), people)
    else:
        raise ViewError(
            f"Cannot pull apart by {by!r}: use 'theme', 'terrace', 'role', 'layer' or a field.",
            field="by",
            value=by,
        )
    return _without_empty(replace(tiers, feature=_together(features, tiers.feature)), stack)


def lifted(stack: Stack, tiers: Tiers, lift: np.ndarray) -> Stack:
    """
    Move every tier straight up.

    Parameters
    ----------
    stack : Stack
        The site.
    tiers : Tiers
        Its tiers.
    lift : ndarray, shape (t,)
        How far each goes up [m].

    Returns
    -------
    Stack
        The same solids with their levels shifted, so that one drawing of it shows all tiers
        with what is hidden between them.
    """
    features = stack.features
    by_feature = lift[tiers.feature]
    by_solid = by_feature[stack.solid_feature]
    return replace(
        stack,
        features=features.with_columns(base=features.base + by_feature, top=features.top + by_feature),
        scene=_raised(stack.scene, by_solid),
        panels=stack.panels.raised(by_feature),
    )


def _raised(scene: Scene, lift: np.ndarray) -> Scene:
    faces, edges = scene.faces, scene.edges
    xyz, start, end = faces.xyz.copy(), edges.start.copy(), edges.end.copy()
    xyz[:, 2] += lift[faces.solid][faces.vertex_face]
    start[:, 2] += lift[edges.solid]
    end[:, 2] += lift[edges.solid]
    return replace(scene, faces=replace(faces, xyz=xyz), edges=replace(edges, start=start, end=end))


def _layers(features: Features) -> np.ndarray:
    return np.array([key.name for key in features.layers], dtype=object)[features.layer]


def _by_names(word: np.ndarray, order: Sequence[str], people: bool) -> Tiers:
    """One tier for every word in its order, and one for people."""
    place = {name: number for number, name in enumerate(order)}
    said = [spoken(name) for name in order]
    names = (*(name.capitalize() if name.islower() else name for name in said), PEOPLE.capitalize())
    feature = np.array([place[str(one)] for one in word], dtype=np.int64)
    return Tiers(names=names, feature=feature, people=len(order) if people else -1)


def _by_values(features: Features, values: np.ndarray) -> Tiers:
    """One tier for every value, in the order of the mean base of their features; the rest lowest."""
    words = np.array([str(value).strip() or REST for value in values], dtype=object)
    names, place = np.unique(words.astype(str), return_inverse=True)
    base = np.nan_to_num(features.base, nan=0.0)
    mean = np.bincount(place, base, len(names)) / np.bincount(place, minlength=len(names))
    order = np.lexsort((mean, names != REST))
    return Tiers(names=tuple(str(names[k]) for k in order), feature=order.argsort()[place])


def _named(stack: Stack, by: Mapping[str, str | Sequence[str]], people: bool) -> Tiers:
    """Tiers as their author has named them; what has no solid needs none."""
    features, drawn = stack.features, np.zeros(len(stack.features), dtype=bool)
    drawn[stack.solid_feature] = True
    tier = groups_of(features, by)
    left = np.flatnonzero((tier < 0) & drawn)
    if len(left):
        layer = str(_layers(features)[left[0]])
        raise ViewError(
            f"Layer {layer!r} is in no tier; name it, its role or its theme in one of them.",
            layer=layer,
            field="by",
        )
    crowds = [
        k for k, names in enumerate(by.values()) if PEOPLE in ([names] if isinstance(names, str) else names)
    ]
    return Tiers(names=tuple(by), feature=np.maximum(tier, 0), people=crowds[0] if people and crowds else -1)


def groups_of(features: Features, by: Mapping[str, str | Sequence[str]]) -> np.ndarray:
    """
    Find the group that every feature belongs to.

    Parameters
    ----------
    features : Features
        The features of a site.
    by : mapping of str to names
        Groups, each with its themes, roles or layers; a layer says more than its role, and a
        role more than its theme.

    Returns
    -------
    ndarray of int, shape (n,)
        Number of the group; -1 where no group names it.

    Raises
    ------
    ViewError
        If a name is no theme, role or layer.
    """
    words = np.stack([features.of_role("theme").astype(object), roles_of(features), _layers(features)])
    every = {*THEMES, "furniture", *ROLES, *map(str, roles_of(features)), PEOPLE}
    every |= {key.name for key in features.layers}
    tier = np.full(len(features), -1, dtype=np.int64)
    rank = np.full(len(features), -1)
    for number, (name, members) in enumerate(by.items()):
        for member in [members] if isinstance(members, str) else members:
            if member not in every:
                raise ViewError(
                    f"{name!r}: {member!r} is no theme, role or layer. {nearest(str(member), every)}",
                    field="by",
                    value=member,
                )
            for kind in range(3):  # a layer says more than its role, a role more than its theme
                mine = (words[kind] == member) & (rank <= kind)
                tier[mine], rank[mine] = number, kind
    return tier


def _by_terrace(stack: Stack, unit: str) -> Tiers:
    """One tier for every level of ground or terraces, and what stands there with it."""
    home = terraces_of(stack)
    tops, uneven = levels_of(stack)
    grounds = np.unique(home[home >= 0])
    if not len(grounds):
        raise ViewError(
            "The site has neither ground nor terraces to be pulled apart by. Use by='theme'.",
            field="by",
            value="terrace",
        )
    order = grounds[np.argsort(tops[grounds], kind="stable")]
    step = np.concatenate([[0], np.cumsum(np.diff(tops[order]) > SAME)])
    tier = np.full(len(home), -1, dtype=np.int64)
    tier[order] = step
    words = [
        "Ground"
        if uneven[order[step == k]].any()
        else f"Level {length_words(float(tops[order[step == k]].max()), unit)}"
        for k in range(step[-1] + 1)
    ]
    return Tiers(names=tuple(words), feature=np.where(home >= 0, tier[home], 0))


def _together(features: Features, tier: np.ndarray) -> np.ndarray:
    """Parts of one feature go with its largest part."""
    keys = np.array([f"{a}\x1e{b}" for a, b in zip(features.layer, features.source_id, strict=True)])
    which = np.unique(keys, return_inverse=True)[1] if len(keys) else np.zeros(0, dtype=np.int64)
    largest = np.lexsort((shapely.area(features.geometry), which))
    of = np.empty(int(which.max(initial=-1)) + 1, dtype=np.int64)
    of[which[largest]] = tier[largest]  # the largest is written last
    return of[which]


def _without_empty(tiers: Tiers, stack: Stack) -> Tiers:
    """Leave out tiers without solids, unless they are for people."""
    there = np.zeros(len(tiers.names), dtype=bool)
    there[tiers.feature[stack.solid_feature]] = True
    if tiers.people >= 0:
        there[tiers.people] = True
    number = np.maximum(np.cumsum(there) - 1, 0)
    names = tuple(name for name, kept in zip(tiers.names, there, strict=True) if kept)
    people = int(number[tiers.people]) if tiers.people >= 0 else -1
    return Tiers(names=names, feature=number[tiers.feature], people=people)
