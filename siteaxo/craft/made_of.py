"""
What each face is toned as: gables like the walls below them, what fills planters like soil.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

GABLES: Final = ("roof", "side", "structure", "")
FILLS: Final = ("planter", "floor", "planter", "soil")


def toned_as(faces: Any) -> tuple[np.ndarray, np.ndarray]:
    """
    Role and material that give each face its tone.

    Parameters
    ----------
    faces : GeoDataFrame
        With the columns role, material and part.

    Returns
    -------
    role, material : ndarray of object, shape (n,)
        Those of its feature, but for faces that are made of something else: the upright ends
        of a roof belong to the walls below, and the floor of a planter is soil.

    Examples
    --------
    >>> import pandas as pd
    >>> columns = {"role": ["roof", "roof"], "part": ["side", "roof"], "material": ["slate", "slate"]}
    >>> [one.tolist() for one in toned_as(pd.DataFrame(columns))]
    [['structure', 'roof'], ['', 'slate']]
    """
    role, part, material = (np.asarray(faces[name], dtype=object) for name in ("role", "part", "material"))
    own_role, own_material = role.copy(), material.copy()
    for of_role, of_part, as_role, as_material in (GABLES, FILLS):
        rows = (role == of_role) & (part == of_part)
        own_role[rows], own_material[rows] = as_role, as_material
    return own_role, own_material
