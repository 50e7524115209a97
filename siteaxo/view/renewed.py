"""
The drawing kept last time, renewed only where something has changed.

A drawing that is kept whole stays as it is; what is drawn anew is kept beside it, until it is more than a
small share. So what is read, drawn and kept after a change is little more than what has changed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..keeping import Arrays, Store, digest
from ..solids.scene import Scene
from .earlier import Known, of_some, unmoved, written
from .finishing import Drawing, Part, finished, joined
from .kept import Named, named, table
from .resolve import How, drawing_key, tiled
from .tiles import measures

MOST: Final = 0.05
"""Where more than this share of the solids has been drawn anew since, the drawing is kept whole again [-]."""


@dataclass(frozen=True, kw_only=True)
class Renewed:
    """
    A scene of which the most part was drawn before.

    Parameters
    ----------
    whole : Named
        The scene.
    known, before : Known
        What its solids are told by, now and when it was last drawn.
    how : How
        How it is drawn.
    anew : ndarray of bool, shape (s,)
        Solids that are drawn anew: what has changed, and what meets it on the page.
    fresh : ndarray of bool, shape (s,)
        Solids that were drawn anew since the drawing was kept whole, and hold.
    base, since : dict of str to ndarray
        The drawing kept whole, and what was drawn anew since.
    tiles : list of Part
        What is drawn anew now.
    """

    whole: Named
    known: Known
    before: Known
    how: How
    anew: np.ndarray
    fresh: np.ndarray
    base: Arrays
    since: Arrays
    tiles: list[Part]

    @property
    def changed(self) -> np.ndarray:
        """Solids that are not what they were, shape (s,)."""
        return (self.before.name != self.known.name).any(axis=1)

    def drawing(self, wanted: np.ndarray) -> Drawing:
        """
        What is seen of some solids, among them all that are drawn anew.

        Parameters
        ----------
        wanted : ndarray of bool, shape (s,)
            Which.

        Returns
        -------
        Drawing
            As of a scene of nothing else: lines of solids that touch one left out may be double.
        """
        held = wanted & ~self.anew
        parts = [self._of(self.base, held & ~self.fresh), self._of(self.since, held & self.fresh)]
        limits = self.how.limits
        return finished(joined(self.whole.scene, [*parts, *self.tiles], limits), limits)

    def keep(self, store: Store) -> None:
        """Keep what is drawn anew for the next time."""
        scene, limits = self.whole.scene, self.how.limits
        fresh = joined(scene, [self._of(self.since, self.fresh), *self.tiles], limits)
        told = {"base": _state(self.base), "fresh": self.fresh | self.anew}
        store.put(_since_key(self.how), written(fresh, self.whole, self.known) | told)

    def _of(self, arrays: Arrays, solids: np.ndarray) -> Part:
        return of_some(arrays or self.base, self.whole, np.where(solids, np.arange(len(solids)), -1))


def renewed(scene: Scene, how: How, store: Store) -> Renewed | None:
    """
    Draw what has changed since the last time.

    Parameters
    ----------
    scene : Scene
        The solids.
    how : How
        How it is drawn.
    store : Store
        Where drawings are kept.

    Returns
    -------
    Renewed or None
        None where nothing is kept, solids have come or gone, or too many have changed.
    """
    base = store.get(drawing_key(how))
    if base is None or len(base["known_rank"]) != len(scene.rank):
        return None
    since = store.get(_since_key(how)) or {}
    if since and not np.array_equal(since["base"], _state(base)):
        since = {}
    whole = named(scene)
    known = Known.of(whole, measures(scene, whole.index, how.view, how.origin))
    before = table(Known, since or base, "known")
    now = unmoved(before, known, how.limits)
    anew = now < 0
    fresh = since["fresh"] & ~anew if since else np.zeros(len(anew), dtype=bool)
    if not _in_place(now) or np.count_nonzero(anew | fresh) > MOST * len(anew):
        return None
    tiles = tiled(scene, whole.index, replace(how, threads=1), only=anew) if anew.any() else []
    return Renewed(
        whole=whole, known=known, before=before, how=how, anew=anew, fresh=fresh, base=base, since=since,
        tiles=[tile.of_tile() for tile in tiles],
    )  # fmt: skip


def _in_place(now: np.ndarray) -> bool:
    """Whether solids that hold stand where they stood."""
    return bool((now[now >= 0] == np.flatnonzero(now >= 0)).all())


def kept_whole(how: How, store: Store) -> np.ndarray | None:
    """What tells the scene whose drawing is kept whole, as :attr:`.earlier.Known.state`; None if none is."""
    base = store.get(drawing_key(how))
    return None if base is None else _state(base)


def _state(arrays: Arrays) -> np.ndarray:
    return table(Known, arrays, "known").state


def _since_key(how: How) -> str:
    return digest("drawn since", drawing_key(how))
