"""
siteaxo: plan-oblique site diagrams with exact hidden-line removal.

Georeferenced layers with levels go in; a diagram GeoPackage and figures at a true
drawing scale come out.

    site = siteaxo.read_site("site.toml")
    diagram = site.stack().draw(siteaxo.planometric(turn=60))
    diagram.to_gpkg("diagram.gpkg")
    diagram.figure(sheet="A3", scale=200).savefig("diagram.pdf")
"""

from __future__ import annotations

import importlib
import logging
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .chains import read_recipe, run_recipe
    from .craft.crowd import Crowd
    from .craft.style import Style
    from .errors import Finding, SiteaxoError
    from .export.pages import write_pages
    from .limits import Limits
    from .measure.reading import FeatureAt
    from .measure.thresholds import CautionLimits
    from .process.chain import Run
    from .process.describing import operation
    from .process.marks import FieldOf, Reads, Within, Writes
    from .process.operation import Operation
    from .process.recipe import Recipe
    from .process.store import FolderStore
    from .registry import describe, known_operations, run
    from .sheet.layout import Layout
    from .source.layers import Layer
    from .source.plane import LocalPlane
    from .source.roles import Role
    from .source.site import SheetSettings, ViewSettings
    from .verbs.boards import board
    from .verbs.comparing import Comparison, compare
    from .verbs.drawings import Diagram
    from .verbs.models import Model
    from .verbs.readback import read_drawing
    from .verbs.sites import Site, read_site
    from .verbs.studied import ViewStudy
    from .view.projection import (
        View,
        cabinet,
        cavalier,
        dimetric,
        isometric,
        planometric,
        trimetric,
    )
    from .view.selection import Selection
    from .view.sun import Sun
    from .view.tolerance import Tolerance

__version__ = "0.1.0"

logging.getLogger(__name__).addHandler(logging.NullHandler())

_HOMES = {
    "CautionLimits": "measure.thresholds",
    "Comparison": "verbs.comparing",
    "Crowd": "craft.crowd",
    "Diagram": "verbs.drawings",
    "FeatureAt": "measure.reading",
    "FieldOf": "process.marks",
    "Finding": "errors",
    "FolderStore": "process.store",
    "Label": "sheet.callouts",
    "Layer": "source.layers",
    "Layout": "sheet.layout",
    "Limits": "limits",
    "LocalPlane": "source.plane",
    "Model": "verbs.models",
    "Operation": "process.operation",
    "Reads": "process.marks",
    "Recipe": "process.recipe",
    "Role": "source.roles",
    "Run": "process.chain",
    "Selection": "view.selection",
    "SheetSettings": "source.site",
    "Site": "verbs.sites",
    "SiteaxoError": "errors",
    "Style": "craft.style",
    "Sun": "view.sun",
    "Tolerance": "view.tolerance",
    "View": "view.projection",
    "ViewSettings": "source.site",
    "ViewStudy": "verbs.studied",
    "Within": "process.marks",
    "Writes": "process.marks",
    "board": "verbs.boards",
    "cabinet": "view.projection",
    "cavalier": "view.projection",
    "compare": "verbs.comparing",
    "describe": "registry",
    "dimetric": "view.projection",
    "isometric": "view.projection",
    "known_operations": "registry",
    "operation": "process.describing",
    "planometric": "view.projection",
    "read_drawing": "verbs.readback",
    "read_recipe": "chains",
    "read_site": "verbs.sites",
    "read_style": "craft.stylefile",
    "run": "registry",
    "run_recipe": "chains",
    "side_by_side": "verbs.boards",
    "trimetric": "view.projection",
    "write_pages": "export.pages",
}

__all__ = [
    "CautionLimits",
    "Comparison",
    "Crowd",
    "Diagram",
    "FeatureAt",
    "FieldOf",
    "Finding",
    "FolderStore",
    "Label",
    "Layer",
    "Layout",
    "Limits",
    "LocalPlane",
    "Model",
    "Operation",
    "Reads",
    "Recipe",
    "Role",
    "Run",
    "Selection",
    "SheetSettings",
    "Site",
    "SiteaxoError",
    "Style",
    "Sun",
    "Tolerance",
    "View",
    "ViewSettings",
    "ViewStudy",
    "Within",
    "Writes",
    "board",
    "cabinet",
    "cavalier",
    "compare",
    "describe",
    "dimetric",
    "isometric",
    "known_operations",
    "operation",
    "planometric",
    "read_drawing",
    "read_recipe",
    "read_site",
    "read_style",
    "run",
    "run_recipe",
    "side_by_side",
    "trimetric",
    "write_pages",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'siteaxo' has no attribute {name!r}")
    value = getattr(importlib.import_module(f".{home}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
