"""
What a drawing shows, told by hashes, so that it can be held against what it showed before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Self

import numpy as np
import shapely

from ..diagram.layers import EDGE_COLUMNS, EXTRA_COLUMNS, FACE_COLUMNS, GROUP, DiagramLayers
from ..diagram.told import codes_of, of_solids
from ..keeping import Arrays, digest
from ..mixing import folded, shapes_of, words_of
from ..solids.stack import Stack
from ..source.features import Features
from ..view.kept import columns, table

TABLES: Final = {
    "faces": FACE_COLUMNS,
    "edges": (*EDGE_COLUMNS, "trace"),
    "hidden_edges": (*EDGE_COLUMNS, "trace"),
}
PATTERNS: Final = (*EXTRA_COLUMNS, "units_per_m2")
MAY_HAVE: Final = frozenset({"patterns"})
"""Further tables of drawings that can be amended."""


@dataclass(frozen=True, kw_only=True)
class Shown:
    """
    What a drawing shows, as hashes.

    Parameters
    ----------
    feature : ndarray of uint64, shape (2, f)
        Of all that is said of each feature.
    owner : ndarray of uint64, shape (f,)
        Of its layer and id: features with the same are dressed as one.
    code : ndarray of uint64, shape (2, s)
        Of the rows of each solid in the tables of faces and lines.
    rows : ndarray of int, shape (3, 2 s)
        How many rows each group has in these.
    faces, edges : ndarray of int, shape (s,)
        How many faces and edges each solid has.
    planned : ndarray of bool, shape (f,)
        Which features the plan shows.
    scene : ndarray of uint8
        What tells the scene, as :attr:`.earlier.Known.state`.
    """

    feature: np.ndarray
    owner: np.ndarray
    code: np.ndarray
    rows: np.ndarray
    faces: np.ndarray
    edges: np.ndarray
    planned: np.ndarray
    scene: np.ndarray

    @property
    def state(self) -> str:
        """A hash of all that is shown."""
        return digest("shown", *vars(self).values())

    def room(self, table: int) -> np.ndarray:
        """How many faces or edges each group has that a table shows."""
        return np.append(self.faces, 0 * self.faces) if table == 0 else np.tile(self.edges, 2)

    @classmethod
    def of(cls, stack: Stack, layers: DiagramLayers, **columns: np.ndarray) -> Self:
        """Tell what a drawing dressed with traces shows; given are ``feature``, ``owner`` and ``scene``."""
        solids, parts, rows = len(stack.scene.rank), [], []
        for name, named in TABLES.items():
            frame = getattr(layers, name)
            group = frame[GROUP].to_numpy()
            parts.append(of_solids(codes_of(frame, named), group % max(solids, 1), solids))
            rows.append(np.bincount(group, minlength=2 * solids))
        if "patterns" in layers.extra:
            frame = layers.extra["patterns"]
            parts.append(of_solids(codes_of(frame, PATTERNS), frame[GROUP].to_numpy(), solids))
        else:
            none = np.zeros(0, dtype=np.int64)
            parts.append(of_solids(words_of(none), none, solids))
        return cls(
            code=folded(parts, solids),
            rows=np.array(rows),
            faces=np.bincount(stack.scene.faces.solid, minlength=solids),
            edges=np.bincount(stack.scene.edges.solid, minlength=solids),
            planned=~shapely.is_empty(stack.features.geometry),
            **columns,
        )

    def differs(self, other: Shown) -> np.ndarray:
        """Which solids have other rows, shape (s,)."""
        rows = (self.rows != other.rows).any(axis=0).reshape(2, -1).any(axis=0)
        return np.asarray((self.code != other.code).any(axis=0) | rows)

    def arrays(self) -> Arrays:
        """The same as arrays that can be kept."""
        return columns(self, "shown")

    @classmethod
    def read(cls, arrays: Arrays) -> Self:
        """Read what :meth:`arrays` gave."""
        return table(cls, arrays, "shown")


def told_of(features: Features) -> dict[str, np.ndarray]:
    """
    What tables say of features beside what their solids are, as hashes.

    Returns
    -------
    dict of str to ndarray
        Columns ``feature`` and ``owner`` of :class:`Shown`.
    """
    names = np.array([*(f"{key.name}\n{key.role.name}" for key in features.layers), ""], dtype=object)
    own = [words_of(names).take(features.layer, axis=1), words_of(features.source_id)]
    columns = (features.material, features.base, features.top, features.order)
    further = [*(words_of(np.asarray(column)) for column in columns), shapes_of(features.geometry)]
    many = len(features)
    return {"feature": folded([*own, *further], many), "owner": folded(own, many)[0]}


def by_solid(layers: DiagramLayers) -> bool:
    """Whether rows stand by solid in all tables."""
    return all(bool((np.diff(getattr(layers, name)[GROUP]) >= 0).all()) for name in TABLES)
