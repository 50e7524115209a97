"""
Planters: blocks with a rim, the soil within it a little lower.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from .faces import join
from .making import Job, Made
from .prism import prisms
from .tray import trays

RIM: Final = 0.1  # width of the rim, where none is given [m]
DROP: Final = 0.05  # depth of the soil below the rim, where none is given [m]


def make_planters(job: Job, rows: np.ndarray) -> Made:
    """
    Make planters.

    Where neither a rim nor a drop is given they are blocks, whose levels are all that is
    known; given one of the two, the other has its usual size. Those with a rim or a drop
    of 0, and those too narrow for their rim, are blocks too.
    """
    parts, row = job.polygons(rows)
    features = job.features
    base, top = features.base[row], features.top[row]
    rim, drop = features.rim[row], features.drop[row]
    plain = np.isnan(rim) & np.isnan(drop)
    rim = np.where(plain, 0.0, np.where(np.isnan(rim), RIM, rim))
    drop = np.where(np.isnan(drop), DROP, drop)
    number = np.arange(len(row))
    faces, built = trays(parts, base, top, rim=rim, floor=top - drop, solid=number)
    block = number[~built]
    whole = prisms(parts[block], base[block], top[block], solid=block)
    return Made(faces=join([faces, whole]), row=row)
