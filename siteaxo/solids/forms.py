"""
The table of forms: how the features of a role become solids.

Adding a form is one file with its maker, and one row here; roles name it in the role
table.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from .canopy import make_canopies
from .climbing import make_ramps, make_steps
from .crown import make_trees
from .earth import make_drapes, make_ground
from .making import Maker, as_prisms
from .planter import make_planters
from .rail import make_rails
from .roof import make_roofs

FORMS: Final[Mapping[str, Maker]] = MappingProxyType(
    {
        "terrain": make_ground,
        "drape": make_drapes,
        "prism": as_prisms,
        "ramp": make_ramps,
        "steps": make_steps,
        "roof": make_roofs,
        "planter": make_planters,
        "rail": make_rails,
        "canopy": make_canopies,
        "tree": make_trees,
    }
)
