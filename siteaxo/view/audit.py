"""
A drawing audited from outside: what is seen must cover the page once, and no more.

Visible parts never overlap, and together they are the union of everything that was
projected. The union is computed by itself, so an occluder that was lost, a face that
vanished or one that was kept by mistake shows as an area.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..solids.scene import Scene
from .page import onto_page
from .projection import View
from .resolve import Drawing
from .tolerance import GRID, Tolerance


@dataclass(frozen=True, kw_only=True)
class Audit:
    """
    Two areas that must agree.

    Parameters
    ----------
    visible : float
        Sum of all visible parts [m²].
    covered : float
        Area of the union of all projected faces [m²].
    allowed : float
        How far rounding may part them [m²].
    """

    visible: float
    covered: float
    allowed: float

    @property
    def passed(self) -> bool:
        """Whether the two agree."""
        return abs(self.visible - self.covered) <= self.allowed


def audit(
    scene: Scene,
    view: View,
    drawing: Drawing,
    *,
    origin: np.ndarray,
    tolerance: Tolerance | None = None,
) -> Audit:
    """
    Compare the sum of visible parts with the union of all faces.

    Parameters
    ----------
    scene, view, origin, tolerance
        As the drawing was made.
    drawing : Drawing
        What is to be audited.

    Returns
    -------
    Audit
    """
    page = onto_page(scene.faces, view, origin, tolerance or Tolerance())
    covered = shapely.union_all(page.polygon, grid_size=GRID)
    outline = float(shapely.length(drawing.visible.polygon).sum())
    return Audit(
        visible=float(shapely.area(drawing.visible.polygon).sum()),
        covered=float(shapely.area(covered)),
        allowed=2 * GRID * outline + 1e-9,
    )
