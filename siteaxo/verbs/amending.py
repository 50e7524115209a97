"""
Drawings made again: what has changed since the last time is at hand, the rest is made when it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final, Self, TypeVar

import numpy as np

from ..craft.amended import Amended, amended
from ..craft.dress import dress
from ..craft.shown import MAY_HAVE, Shown, by_solid, told_of
from ..craft.style import Style
from ..diagram.layers import DiagramLayers
from ..export.patching import Amendment
from ..keeping import Store, digest
from ..solids.stack import Stack
from ..view.renewed import Renewed, kept_whole, renewed
from ..view.resolve import Drawing, How
from .drawings import Diagram

LEAST: Final = 500
"""Drawings of so many solids and more are amended [-]."""
D = TypeVar("D", bound=DiagramLayers)
LATER: Final = ("faces", "edges", "hidden_edges", "plan", "report", "extra")
"""What is made when it is asked for."""


class AmendedDiagram(Diagram):
    """
    A drawing that is at hand as far as it differs from the one made last time.

    Its tables are made when they are asked for. What is written over the file of the last drawing needs
    only what differs.
    """

    make: Callable[[], Diagram]

    @classmethod
    def of(cls, make: Callable[[], Diagram], **fields: Any) -> Self:
        """Make one from what makes the whole, and from all fields of a diagram that are at hand."""
        diagram = object.__new__(cls)
        vars(diagram).update(fields, make=make)
        return diagram

    def __getattr__(self, name: str) -> Any:
        if name not in LATER or "make" not in vars(self):
            raise AttributeError(f"{type(self).__name__!r} object has no attribute {name!r}")
        whole = self.make()
        vars(self).update({field: getattr(whole, field) for field in LATER})
        return getattr(whole, name)


@dataclass(frozen=True, kw_only=True)
class Parts:
    """
    How a drawing is made in parts.

    Parameters
    ----------
    stack : Stack
        The solids.
    how : How
        How they are drawn.
    style : Style
        The look.
    scale : float
        The x of 1:x.
    told : str
        A hash of all else that a drawing follows from.
    bare : callable
        Makes the layers of what is seen of some solids, and of the plan of some features.
    whole : callable
        Makes the whole drawing, without line widths and tones.
    """

    stack: Stack
    how: How
    style: Style
    scale: float
    told: str
    bare: Callable[[Drawing, np.ndarray], DiagramLayers]
    whole: Callable[[], Diagram]

    def diagram(self, store: Store, fields: Mapping[str, Any]) -> Diagram:
        """Make the drawing: what is other than last time, or all."""
        key = digest("shown", self.told, self.style, self.scale)
        kept = store.get(key)
        renew = None if kept is None else renewed(self.stack.scene, self.how, store)
        found = None if kept is None or renew is None else self._amended(renew, Shown.read(kept))
        if renew is None or found is None:
            return self._anew(store, key)
        renew.keep(store)
        store.put(key, found.shown.arrays())
        return AmendedDiagram.of(
            lambda: dress(self.whole(), self.style, scale=self.scale),
            **fields,
            findings=found.layers.findings,
            state=found.shown.state,
            amendment=_amendment(found),
        )

    def _amended(self, renew: Renewed, before: Shown) -> Amended | None:
        make = partial(self._made, self.bare)
        return amended(self.stack, renew, before, make, scale=self.scale)

    def _made(self, bare: Callable[..., D], *some: np.ndarray | Drawing) -> D:
        return dress(bare(*some), self.style, scale=self.scale, traced=True)

    def _anew(self, store: Store, key: str) -> Diagram:
        made = self._made(self.whole)
        lines = {name: getattr(made, name).drop(columns="trace") for name in ("edges", "hidden_edges")}
        diagram, scene = replace(made, **lines), kept_whole(self.how, store)
        if scene is not None and MAY_HAVE.issuperset(made.extra) and by_solid(made):
            shown = Shown.of(self.stack, made, **told_of(self.stack.features), scene=scene)
            store.put(key, shown.arrays())
            vars(diagram)["state"] = shown.state
        return diagram


def _amendment(found: Amended) -> Amendment | None:
    """What is to be changed in a file that holds the drawing as it was."""
    replaced = found.replaced()
    if replaced is None:
        return None
    layers, gone = replaced
    return Amendment(before=found.before.state, layers=layers, gone=gone)
