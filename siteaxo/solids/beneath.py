"""
Ground that goes on under what is lifted off it.

Where something stands in the ground its surface is cut open, so that it does not come up
through it. Once they are pulled apart, the surface beneath is seen whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from .cutting import is_area
from .earth import Relief, make_drapes, make_ground
from .faces import take
from .grounding import DRAPE
from .making import Job, Made, together
from .stack import Stack, relief_of, scene_of
from .surfaces import Surfaces
from .terrain import FORM

FOUNDED: Final = 0.5  # what reaches no deeper below the ground is founded in it; common practice [m]


def with_ground_beneath(stack: Stack, group: np.ndarray) -> Stack:
    """
    Let the ground, and what is draped over it, go on under what stands on it in another group.

    Under decks, structures, walls, flights and furniture it has the levels that the site gives
    it there. It stays open where something is let into it: terraces and surfaces with levels of
    their own, pools, and what reaches deeper than foundations, such as a basement.

    Parameters
    ----------
    stack : Stack
        The site.
    group : ndarray of int, shape (n,)
        Group of each feature.

    Returns
    -------
    Stack
        The same where the site gives no levels of the ground, or nothing stands on it.
    """
    standing = _standing(stack)
    form = stack.features.of_role("form")
    earth = np.flatnonzero(np.isin(form, (FORM, DRAPE)))
    if stack.terrain is None or all(not (standing & (group != g)).any() for g in np.unique(group[earth])):
        return stack
    made, reliefs = zip(*_earth(stack, group, standing), strict=True)
    old = stack.scene.faces
    kept = ~np.isin(form[stack.solid_feature], (FORM, DRAPE))
    faces = take(old, np.flatnonzero(kept[old.solid]))
    rest = replace(faces, solid=(np.cumsum(kept) - 1)[faces.solid])
    whole = together([Made(faces=rest, row=stack.solid_feature[kept]), *made])
    levels = np.unique(np.concatenate([one.levels for one in reliefs]))
    scene, contour = scene_of(stack.features, whole, replace(reliefs[0], levels=levels))
    return replace(stack, scene=scene, solid_feature=whole.row, contour=contour)


def _standing(stack: Stack) -> np.ndarray:
    """What stands on the ground, and is not let into it, shape (n,)."""
    features = stack.features
    on_it = is_area(features.geometry) & ~features.of_role("cuts").astype(bool)
    rows = np.flatnonzero(on_it)
    if stack.terrain is not None:
        low = stack.terrain.tin.levels_under(features.geometry[rows])[0]
        on_it[rows] = features.base[rows] >= low - FOUNDED
    return on_it


def _earth(stack: Stack, group: np.ndarray, standing: np.ndarray) -> Iterator[tuple[Made, Relief]]:
    """Ground and what is draped over it, anew for every group that has any, and its surface."""
    features, terrain = stack.features, stack.terrain
    assert terrain is not None
    form = features.of_role("form")
    job = Job(
        features=features,
        drawn=features.geometry,
        whole=features.geometry,
        support=stack.support,
        sunken=np.zeros(len(features), dtype=bool),
        surfaces=Surfaces.of(features),
        walks=stack.walks,
        laid=np.zeros(len(features), dtype=bool),
        whole_ground=terrain.tin,
    )
    ground, draped = (np.flatnonzero(form == word) for word in (FORM, DRAPE))
    for maker, every in ((make_ground, ground[:1]), (make_drapes, draped)):  # all ground is one solid
        for one in np.unique(group[every]):
            let_in = features.take(np.flatnonzero(~standing | (group == one)))
            relief = relief_of(let_in, terrain, stack.contour_interval)
            yield maker(replace(job, ground=relief.tin), every[group[every] == one]), relief
