"""
The spatial index of a table packed full at once.

Boxes are sorted into strips and each strip into nodes, so that a node holds what lies together; nodes
are put into nodes in the same way up to the root. What is written are the tables that SQLite keeps an
R*-tree in.

References
----------
SQLite, The SQLite R*Tree Module, "Shadow tables"; the layout of a node as its source tells it (both from
memory): the depth of the tree in the root, the number of cells, cells of an id and four coordinates in
single precision, all with the high byte first.
Leutenegger, S. T., Lopez, M. A., Edgington, J. (1997): STR: a simple and efficient algorithm for R-tree
packing, ICDE (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

ROOT: Final = 1
_HEAD: Final = 4
_CELL: Final = np.dtype([("id", ">i8"), ("box", ">f4", (4,))])


@dataclass(frozen=True, kw_only=True)
class Nodes:
    """
    The nodes of a packed tree.

    Parameters
    ----------
    data : list of bytes
        The nodes, the root first; they are numbered from 1.
    parent : ndarray of int
        The node in which each one after the root is.
    home : ndarray of int, shape (n,)
        The node in which each box is.
    """

    data: list[bytes]
    parent: np.ndarray
    home: np.ndarray


def packed(box: np.ndarray, ids: np.ndarray, *, size: int) -> Nodes:
    """
    Pack boxes into a tree.

    Parameters
    ----------
    box : ndarray, shape (n, 4)
        Left, bottom, right, top.
    ids : ndarray of int, shape (n,)
        What each box stands for.
    size : int
        Bytes to a node.

    Returns
    -------
    Nodes

    Examples
    --------
    >>> tree = packed(np.array([[0, 0, 2, 1], [4, 0, 5, 1]]), np.array([7, 8]), size=1228)
    >>> len(tree.data), tree.home.tolist(), tree.data[0][:12].hex()
    (1, [1, 1], '000000020000000000000007')
    """
    most = (size - _HEAD) // _CELL.itemsize
    cells = np.zeros(len(ids), dtype=_CELL)
    cells["id"], cells["box"] = ids, _widened(box)
    levels: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    number = ROOT
    order = _by_strips(box, most)
    home = np.full(len(ids), ROOT)
    while len(cells) > most:
        start = _even(len(cells), most)
        nodes = number + 1 + np.arange(len(start) - 1)
        inside = np.repeat(nodes, np.diff(start))
        if not levels:
            home[order] = inside
            cells = cells[order]
        levels.append((cells, start, inside))
        cells = _around(cells, start, nodes)
        number = int(nodes[-1])
    root = (cells, np.array([0, len(cells)]), np.zeros(0, dtype=int))
    data = [_written(*level[:2], size) for level in (root, *levels)]
    data[0] = [len(levels).to_bytes(2, "big") + data[0][0][2:]]
    parent = [inside for _, _, inside in levels[1:]] + [np.full(len(cells), ROOT) if levels else root[2]]
    return Nodes(data=[node for level in data for node in level], parent=np.concatenate(parent), home=home)


def _widened(box: np.ndarray) -> np.ndarray:
    """Left, right, bottom, top in single precision, rounded outward."""
    low, high = box[:, :2].astype(np.float32), box[:, 2:].astype(np.float32)
    low = np.where(low > box[:, :2], np.nextafter(low, np.float32(-np.inf)), low)
    high = np.where(high < box[:, 2:], np.nextafter(high, np.float32(np.inf)), high)
    return np.column_stack([low[:, 0], high[:, 0], low[:, 1], high[:, 1]])


def _by_strips(box: np.ndarray, most: int) -> np.ndarray:
    """Order boxes from strip to strip, and upward within each."""
    right, up = box[:, 0] + box[:, 2], box[:, 1] + box[:, 3]
    strips = max(int(np.ceil(np.sqrt(len(box) / most))), 1)
    strip = np.empty(len(box), dtype=np.int16)  # sorts fast
    strip[np.argsort(right, kind="stable")] = np.arange(len(box)) * strips // max(len(box), 1)
    return np.lexsort((up, strip))


def _even(count: int, most: int) -> np.ndarray:
    """Where nodes begin that hold about as many each."""
    nodes = -(-count // most)
    return np.arange(nodes + 1) * count // nodes


def _around(cells: np.ndarray, start: np.ndarray, nodes: np.ndarray) -> np.ndarray:
    """One cell for each node, around all that it holds."""
    result = np.zeros(len(nodes), dtype=_CELL)
    result["id"] = nodes
    box = cells["box"].astype(np.float32)
    low, high = (ufunc.reduceat(box, start[:-1], axis=0) for ufunc in (np.minimum, np.maximum))
    result["box"] = np.column_stack([low[:, 0], high[:, 1], low[:, 2], high[:, 3]])
    return result


def _written(cells: np.ndarray, start: np.ndarray, size: int) -> list[bytes]:
    """Nodes as they are kept."""
    count = np.diff(start)
    most = (size - _HEAD) // _CELL.itemsize
    table = np.zeros(len(count), dtype=[("depth", ">u2"), ("count", ">u2"), ("cells", _CELL, (most,))])
    table["count"] = count
    row = np.repeat(np.arange(len(count)), count)
    table["cells"][row, np.arange(len(cells)) - start[row]] = cells
    rest = bytes(size - table.dtype.itemsize)
    return [bytes(one) + rest for one in table.view(f"V{table.dtype.itemsize}").tolist()]
