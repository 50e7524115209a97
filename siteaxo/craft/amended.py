"""
A dressed drawing amended where something has changed, instead of made anew.

How a line is drawn follows, step by step, from itself and from what lies near it: nothing reaches farther
than ``NEAR_MM`` on paper, or beyond the feature that it belongs to. So what has changed is drawn and dressed
together with what lies around it, and that is held against what it was. Features whose rows, or what
their lines went through (:mod:`.trace`), are others than before are amended, if they hang together with
what has changed; those that differ for another reason, since not all around them was dressed, are not.
Where neighbours of the neighbours of all that is amended were dressed too, the result is that of a fresh
drawing to the last bit; otherwise nothing is amended.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ..diagram.layers import GROUP, NUMBER, DiagramLayers
from ..diagram.numbers import first_numbers
from ..ragged import ragged
from ..solids.stack import Stack
from ..view.renewed import Renewed
from ..view.resolve import Drawing
from .around import Around
from .gaps import LOCAL_MM
from .shown import MAY_HAVE, TABLES, Shown, told_of

NEAR_MM: Final = LOCAL_MM
"""Nothing farther away on paper has a say in how a line is drawn [mm]."""
MARGIN: Final = 0.05  # and nothing farther away than this where the paper is larger [m]
MOST: Final = 0.25  # share of solids beyond which nothing is gained [-]


@dataclass(frozen=True, kw_only=True)
class Amended:
    """
    What of a drawing is to be amended.

    Parameters
    ----------
    solids : ndarray of bool, shape (s,)
        Those whose rows are others now.
    layers : DiagramLayers
        Rows of these solids and of others around them, dressed, and of features on the plan that are others.
    before, shown : Shown
        What the drawing showed, and what it shows now.
    """

    solids: np.ndarray
    layers: DiagramLayers
    before: Shown
    shown: Shown

    def replaced(self) -> tuple[DiagramLayers, dict[str, np.ndarray]] | None:
        """
        Rows that come, with the numbers they have in the whole drawing, and the numbers of those that go.

        Returns
        -------
        layers, gone : DiagramLayers and dict of str to ndarray, or None
            None where rows that stay would have other numbers.
        """
        if not np.array_equal(self.before.planned, self.shown.planned):
            return None
        frames, gone = {}, {}
        groups = np.tile(self.solids, 2)
        for k, name in enumerate(TABLES):
            first = [first_numbers(one.rows[k], one.room(k)) for one in (self.before, self.shown)]
            stays = ~groups & (self.shown.rows[k] > 0)
            if not np.array_equal(first[0][stays], first[1][stays]):
                return None
            frame = _of(getattr(self.layers, name), groups)
            own, place = ragged(np.where(groups, self.shown.rows[k], 0))
            frames[name] = frame.assign(**{NUMBER: first[1][own] + place})
            own, place = ragged(np.where(groups, self.before.rows[k], 0))
            gone[name] = first[0][own] + place
        other = (self.before.feature != self.shown.feature).any(axis=0) & self.shown.planned
        gone["plan"] = np.cumsum(self.shown.planned)[other]
        frames["plan"] = self.layers.plan.assign(**{NUMBER: gone["plan"]})
        gone["patterns"] = gone["faces"]  # a pattern has the number of its face
        extra = {}
        if "patterns" in self.layers.extra:
            there = _of(self.layers.faces, groups)[NUMBER].to_numpy()
            marks = _of(self.layers.extra["patterns"], groups)
            face = np.searchsorted(there, marks[NUMBER].to_numpy())
            extra["patterns"] = marks.assign(**{NUMBER: frames["faces"][NUMBER].to_numpy()[face]})
        return replace(self.layers, **frames, extra=extra), gone


def _of(frame: Any, groups: np.ndarray) -> Any:
    """Rows of some groups."""
    return frame[groups[frame[GROUP].to_numpy()]]


def amended(
    stack: Stack,
    renewed: Renewed,
    before: Shown,
    dressed: Callable[[Drawing, np.ndarray], DiagramLayers],
    *,
    scale: float,
) -> Amended | None:
    """
    Find what of a drawing is other than before.

    Parameters
    ----------
    stack : Stack
        The solids, of n features.
    renewed : Renewed
        The scene as far as it is drawn anew.
    before : Shown
        What the drawing showed last time.
    dressed : callable
        Makes the layers of a part of the drawing, and of the plan of some features (bool, shape (n,)),
        and dresses them with traces.
    scale : float
        The x of 1:x.

    Returns
    -------
    Amended or None
        None where so much has to be looked at that a drawing is made anew.
    """
    if before.feature.shape[1] != len(stack.features) or not np.array_equal(
        before.scene, renewed.before.state
    ):
        return None
    told = told_of(stack.features)
    of_feature = np.unique(told["owner"], return_inverse=True)[1].ravel()
    unit, count = of_feature[stack.solid_feature], int(of_feature.max(initial=-1)) + 1
    changed = (told["feature"] != before.feature).any(axis=0)
    parted = np.isin(before.owner, before.owner[changed])  # what was one with a feature that has changed
    seeds = np.zeros(count, dtype=bool)
    seeds[of_feature[parted]] = seeds[unit[renewed.anew]] = True
    around = Around.of(renewed.known.sides[:4], unit, count, max(NEAR_MM * scale / 1000, MARGIN))
    gone = around.of_boxes(renewed.before.sides[:4, renewed.changed])
    touched, wanted, layers = seeds, np.zeros_like(seeds), None
    reach = around.grown(touched, 2) | around.grown(gone, 1)
    while layers is None or (reach & ~wanted).any():
        wanted = around.grown(reach, 1)
        if np.count_nonzero(wanted[unit]) > MOST * len(unit):
            return None
        shown = wanted[of_feature] | changed
        layers = dressed(renewed.drawing(wanted[unit]), shown)
        if not MAY_HAVE.issuperset(layers.extra):
            return None
        now = Shown.of(stack, layers, **told, scene=renewed.known.state)
        differs = np.bincount(unit, now.differs(before), minlength=count) > 0
        touched, reach = _hanging_together(seeds, wanted & differs, gone, around)
    solids = touched[unit]
    return Amended(
        solids=solids,
        layers=replace(layers, plan=layers.plan[changed[shown & now.planned]]),
        before=before,
        shown=replace(
            now,
            code=np.where(solids, now.code, before.code),
            rows=np.where(np.tile(solids, 2), now.rows, before.rows),
        ),
    )


def _hanging_together(
    seeds: np.ndarray, differs: np.ndarray, gone: np.ndarray, around: Around
) -> tuple[np.ndarray, np.ndarray]:
    """What has changed, and what differs near it, or near what is near it, and so on; and all near that."""
    touched, reach = seeds, around.grown(seeds, 2) | around.grown(gone, 1)
    while (more := touched | (differs & reach)).sum() > touched.sum():
        touched, reach = more, reach | around.grown(more, 2)
    return touched, reach
