"""
Parts of a drawing as arrays that can be kept, and the key of a tile.

Every solid has a name that follows from its faces and edges alone, and the key of a tile follows from
the names of its solids, so that it is the same wherever they stand in the scene, and a tile that is
kept need not even be cut out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any, Final, TypeVar, cast

import numpy as np

from ..keeping import Arrays, digest, pack, unpack
from ..ragged import spread
from ..solids.faces import take
from ..solids.scene import Scene
from .balance import Balance
from .dashes import Dashes, Doubles, PageEdges
from .finishing import Part
from .hidden import VisibleFaces
from .overlay import Redone
from .projection import View
from .tiles import Index, edges_at, index_of
from .tolerance import Tolerance

T = TypeVar("T")

_NAME: Final = 32  # bytes of a hash
_TABLES: Final[dict[str, Callable[..., Any]]] = {
    "edges": PageEdges,
    "dashes": Dashes,
    "hidden": Dashes,
    "double": Doubles,
}
_OF_FACES: Final = ("face", "area", "warp")
_OF_LINES: Final = ("kind", "hidden_seam")


@dataclass(frozen=True, kw_only=True)
class Named:
    """
    A scene whose solids have names.

    Parameters
    ----------
    scene : Scene
        The scene.
    index : Index
        Its index.
    name : ndarray of uint8, shape (s, 32)
        A hash of the faces and edges of each solid, in their order.
    """

    scene: Scene
    index: Index
    name: np.ndarray


def named(scene: Scene) -> Named:
    """Name the solids of a scene by what they are."""
    index = index_of(scene)
    return Named(scene=scene, index=index, name=_names(scene, index))


def _names(scene: Scene, index: Index) -> np.ndarray:
    """Hash all that is said of each solid; faces are numbered from its first."""
    faces, edges = take(scene.faces, index.face_order), edges_at(scene.edges, index.edge_order)
    first = np.repeat(index.face_start[:-1], np.diff(index.edge_start))[edges.member_edge]
    place = index.face_place[edges.face] - first
    at = [index.face_start, faces.face_start[index.face_start], faces.vertex_start[index.face_start]]
    at += [index.edge_start, edges.member_start[index.edge_start]]
    many = np.column_stack([np.diff(start) for start in at])
    each = np.arange(len(many) + 1)
    start, words = _side_by_side(
        [
            (_words(many), each),
            (_words(np.diff(edges.member_start), edges.smooth), index.edge_start),
            (_words(np.diff(faces.face_start), faces.part, faces.two_sided), at[0]),
            (_words(np.diff(faces.ring_start)), at[1]),
            (faces.xyz.view(np.int64), at[2]),
            (np.hstack([edges.start, edges.end]).view(np.int64), at[3]),
            (_words(place, edges.forward), at[4]),
        ]
    )
    content = memoryview(words.tobytes())
    spans = pairwise((start * words.itemsize).tolist())
    names = [hashlib.sha256(content[begin:end]).digest() for begin, end in spans]
    return np.frombuffer(b"".join(names), dtype=np.uint8).reshape(-1, _NAME)


def _words(*columns: np.ndarray) -> np.ndarray:
    """Whole numbers beside one another, shape (n, k)."""
    return np.column_stack(columns).astype(np.int64, copy=False)


def _side_by_side(tables: list[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """
    Words of tables whose rows are sorted by solid: all those of the first solid, of the next, and so on.

    Each table comes with where the rows of each solid start; so do the words.
    """
    begins = [table.shape[1] * start for table, start in tables]
    words = np.empty(sum(table.size for table, _ in tables), dtype=np.int64)
    start = np.sum(begins, axis=0)
    place = start[:-1].copy()
    for (table, _), begin in zip(tables, begins, strict=True):
        many = np.diff(begin)
        words[spread(place, many)] = table.ravel()
        place += many
    return start, words


def tile_key(
    whole: Named, core: np.ndarray, halo: np.ndarray, view: View, origin: np.ndarray, limits: Tolerance
) -> str:
    """Hash all that the drawing of a tile follows from; ranks and groups only compare."""
    solids = np.union1d(core, halo)
    rank, group = (
        np.unique(of[solids], return_inverse=True)[1] for of in (whole.scene.rank, whole.scene.group)
    )
    told = [whole.name[solids], np.isin(solids, core), rank, group]
    return digest("tile", *told, np.asarray(view.matrix), np.asarray(origin), limits.length)


def flat(part: Part) -> Arrays:
    """Write a part of a drawing as arrays."""
    visible, redone = part.visible, part.visible.redone
    arrays: Arrays = {
        **pack(visible.polygon, "visible"),
        "visible_hidden_area": visible.hidden_area,
        "visible_redone": np.array([redone.checked, redone.redone, redone.worst], dtype=float),
    }
    for name in _TABLES:
        arrays |= columns(getattr(part, name), name)
    for name in (*_OF_FACES, *_OF_LINES):
        arrays[name] = getattr(part, name)
    return arrays | {
        "balance": np.array(list(vars(part.balance).values())),
        "pairs": np.array(part.pairs),
    }


def raised(arrays: Arrays, faces: np.ndarray | None = None) -> Part:
    """Read what :func:`flat` wrote; all faces, or those of some rows."""
    rows = slice(None) if faces is None else faces
    checked, redone, worst = arrays["visible_redone"].tolist()
    sums = zip(fields(Balance), arrays["balance"].tolist(), strict=True)
    own: dict[str, Any] = {name: table(kind, arrays, name) for name, kind in _TABLES.items()}
    own |= {name: arrays[name][rows] for name in _OF_FACES} | {name: arrays[name] for name in _OF_LINES}
    return Part(
        **own,
        visible=VisibleFaces(
            polygon=unpack(arrays, "visible", faces),
            hidden_area=arrays["visible_hidden_area"][rows],
            redone=Redone(checked=int(checked), redone=int(redone), worst=float(worst)),
        ),
        balance=Balance(**{field.name: value for field, value in sums}),
        pairs=int(arrays["pairs"]),
    )


def columns(table: Any, name: str) -> Arrays:
    """The columns of a table, named after it and themselves."""
    return {f"{name}_{field.name}": getattr(table, field.name) for field in fields(table)}


def table(kind: Callable[..., T], arrays: Arrays, name: str) -> T:
    """
    Read what :func:`columns` wrote.

    Examples
    --------
    >>> dashes = Dashes(edge=np.array([4]), begin=np.array([0.0]), end=np.array([0.5]))
    >>> list(columns(dashes, "some")), table(Dashes, columns(dashes, "some"), "some").end.tolist()
    (['some_edge', 'some_begin', 'some_end'], [0.5])
    """
    return kind(**{field.name: arrays[f"{name}_{field.name}"] for field in fields(cast(Any, kind))})
