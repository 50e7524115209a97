"""
Borders of planes: directed edges between numbered nodes, traced into rings.
"""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np


def rings_of(border: Counter[tuple[int, int]]) -> list[list[int]]:
    """
    Trace borders into rings; one that comes back to a node is parted there.

    Examples
    --------
    >>> rings_of(Counter({(0, 1): 1, (1, 2): 1, (2, 0): 1}))
    [[0, 1, 2]]
    """
    leaving: defaultdict[int, list[int]] = defaultdict(list)
    for (a, b), count in border.items():
        leaving[a] += [b] * count
    rings = []
    while any(leaving.values()):
        at = next(a for a, out in leaving.items() if out)
        path = [at]
        while leaving[at]:
            at = leaving[at].pop()
            if at in path:
                cut = path.index(at)
                rings.append(path[cut:])
                path = path[: cut + 1]
            else:
                path.append(at)
    return [ring for ring in rings if len(ring) > 2]


def without_straight(ring: list[int], node: np.ndarray, bare: set[int]) -> list[int]:
    """Leave out those of the *bare* nodes of a ring at which it goes straight on."""
    kept = []
    for before, k, after in zip([ring[-1], *ring[:-1]], ring, [*ring[1:], ring[0]], strict=True):
        into, out = node[k] - node[before], node[after] - node[k]
        bend = np.linalg.norm(np.cross(into, out))
        straight = bend <= 1e-6 * np.linalg.norm(into) * np.linalg.norm(out) and into @ out > 0
        if not (k in bare and straight):
            kept.append(k)
    return kept
