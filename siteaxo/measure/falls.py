"""
Cautions about slopes along and across walks, and about paving that does not drain.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from ..solids.faces import PART_CODE, areas, newell, normals
from ..solids.limits import KEPT, NOTICED
from ..solids.plausible import steepest_noticed
from ..solids.stack import Stack
from ..source.features import Features
from ..source.own_z import OWN_SURFACE
from .noted import Caution
from .thresholds import CautionLimits

WALKS: Final = ("path",)
PAVED: Final = ("paving", "path")


def walk_cautions(stack: Stack, limits: CautionLimits) -> Iterator[Caution]:
    """
    Look at slopes along and across paths.

    Parameters
    ----------
    stack : Stack
        The solids.
    limits : CautionLimits
        Thresholds.

    Yields
    ------
    Caution
    """
    facets = _Facets(stack, WALKS)
    graded = _level_across(stack.features)
    for row in np.unique(facets.row):  # paths of a site are few
        own = np.flatnonzero(facets.row == row)
        gradient = facets.gradient[own]
        steep = np.hypot(*gradient.T)[:, None]
        rises = gradient / np.where(steep > 0, steep, 1.0)
        way = rises if graded[row] else _ways(stack.features.geometry[row], facets.middle[own, :2])
        along = np.abs((gradient * way).sum(axis=1))
        across = np.abs(gradient[:, 0] * -way[:, 1] + gradient[:, 1] * way[:, 0])
        for slope, most, code, subject in (
            (along, limits.walk_slope_most, "walk-steep", "Walk, running slope"),
            (across, limits.cross_slope_most, "cross-slope", "Walk, cross slope"),
        ):
            steep = slope > most * (1 + KEPT)
            size = facets.size[own]
            if size[steep].sum() <= NOTICED * size.sum():
                continue
            most_of_it = steepest_noticed(slope, size)
            worst = own[int(np.argmin(np.abs(slope - most_of_it)))]
            what = "along it" if code == "walk-steep" else "across it"
            yield Caution(
                code=code,
                subject=subject,
                row=int(row),
                value=most_of_it,
                limit=most,
                unit="1:x",
                rule="2010 ADA Standards §403.3",
                message=(
                    f"Over {size[steep].sum():.3g} m² it slopes {what}, by up to 1:{1 / most_of_it:.1f}."
                ),
                place=shapely.Point(facets.middle[worst, :2]),
                level=float(facets.middle[worst, 2]),
            )


def drainage_cautions(stack: Stack, limits: CautionLimits) -> Iterator[Caution]:
    """
    Look at paving whose fall is too slight to drain, one caution for each layer.

    Parameters and yield are those of :func:`walk_cautions`; the place is the largest feature.
    """
    features, facets = stack.features, _Facets(stack, PAVED)
    slope = np.hypot(*facets.gradient.T)
    flat = slope < limits.paving_fall_least - KEPT
    flat &= ~(_level_across(features) & np.isnan(features.width))[facets.row]  # corners are level as made
    layer = features.layer[facets.row] if len(facets.row) else facets.row
    whole = np.bincount(facets.row, facets.size, len(features))
    for number in np.unique(layer[flat]):
        own = np.flatnonzero(flat & (layer == number))
        per = np.bincount(facets.row[own], facets.size[own], len(features))
        own = own[(per > NOTICED * whole)[facets.row[own]]]
        if not len(own):
            continue
        per[per <= NOTICED * whole] = 0.0
        row = int(per.argmax())
        mine = own[facets.row[own] == row]
        count = int((per > 0).sum())
        many = f"{count} features" if count > 1 else "One feature"
        fall, them = ("fall", "them") if count > 1 else ("falls", "it")
        yield Caution(
            code="little-fall",
            subject="Paving, fall",
            row=row,
            value=float(slope[own].max()),
            limit=limits.paving_fall_least,
            unit="%",
            rule="common practice, paving falls by 1 % at least",
            message=(
                f"{many} of its layer, {facets.size[own].sum():.4g} m², {fall} by "
                f"{100 * slope[own].max():.1f} % at most, as supplied; water would stand on {them}."
            ),
            place=shapely.point_on_surface(features.geometry[row]),
            level=float(facets.middle[mine, 2].mean()),
        )


def _level_across(features: Features) -> np.ndarray:
    """Which features are parts of a line that rises along itself alone; its corners have no width."""
    first = features.first_part
    many = np.bincount(first, minlength=len(features)) > 1
    lines = np.bincount(first, np.isfinite(features.width), len(features)) > 0
    own = np.array([str(words).startswith(OWN_SURFACE) for words in features.top_from], dtype=bool)
    return own & (many & lines)[first]


class _Facets:
    """Upward faces of the features of some roles: feature, plan area, middle and gradient of each."""

    def __init__(self, stack: Stack, roles: tuple[str, ...]) -> None:
        features, faces = stack.features, stack.scene.faces
        row, normal = stack.solid_feature[faces.solid], normals(faces)
        upward = np.isin(faces.part, (PART_CODE["top"], PART_CODE["slope"])) & (normal[:, 2] > 0.1)
        chosen = np.flatnonzero(upward & np.isin(features.of_role("name")[row], roles))
        self.row = row[chosen]
        self.gradient = -normal[chosen, :2] / normal[chosen, 2:]
        self.size = (areas(faces) * normal[:, 2])[chosen]
        self.middle = newell(faces, faces.xyz)[0][chosen]


def _ways(outline: shapely.Geometry, xy: np.ndarray) -> np.ndarray:
    """Directions of the nearest long side of a path's outline at points, shape (n, 2)."""
    ring = shapely.get_coordinates(shapely.get_exterior_ring(outline))
    step = np.diff(ring, axis=0)
    length = np.hypot(*step.T)
    long = np.flatnonzero(length >= 0.05 * length.max())
    side = shapely.linestrings(np.stack([ring[long], ring[long + 1]], axis=1))
    narrow = shapely.area(outline) / max(shapely.length(outline) / 2, 1e-9)
    away = shapely.distance(shapely.points(xy)[:, None], side[None])
    near = away - 0.5 * np.minimum(length[long], 4 * narrow)  # its ends are short, its sides are long
    best = near.argmin(axis=1)
    return step[long][best] / length[long][best][:, None]
