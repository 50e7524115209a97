"""
What makers of solids are given and what they give back.

A maker takes a job and the rows of the features that have its form, and makes their
solids. ``forms.FORMS`` names the makers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
import shapely

from ..errors import Finding
from ..source.features import Features
from .faces import PART_CODE, Faces, join, take
from .panels import Panels
from .prism import Slope, prisms
from .surfaces import Surfaces
from .tin import Tin
from .walks import Walks


@dataclass(frozen=True, kw_only=True)
class Job:
    """
    What makers of solids work from.

    Parameters
    ----------
    features : Features
        With all levels settled; footprints as polygons, trees as points [m].
    drawn : ndarray of object, shape (n,)
        Their geometry as drawn: centre lines are still lines.
    whole : ndarray of object, shape (n,)
        Their footprints before they were cut open.
    support : ndarray of int, shape (n,)
        What each stands on, -1 where its base was stated.
    sunken : ndarray of bool, shape (n,)
        Whether it cut something open.
    surfaces : Surfaces
        Level surfaces around.
    walks : Walks
        Flights and ramps.
    laid : ndarray of bool, shape (n,)
        Whether it lies on something that slopes, as even as a sheet.
    whole_ground, ground : Tin or None
        The ground with its banks, and opened up where something stands in it; None where
        the site gives it no levels.
    """

    features: Features
    drawn: np.ndarray
    whole: np.ndarray
    support: np.ndarray
    sunken: np.ndarray
    surfaces: Surfaces
    walks: Walks
    laid: np.ndarray
    whole_ground: Tin | None = None
    ground: Tin | None = None

    def polygons(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Single polygons of the footprints of rows, and the row of each."""
        parts, owner = shapely.get_parts(self.features.geometry[rows], return_index=True)
        area = (shapely.get_dimensions(parts) == 2) & ~shapely.is_empty(parts)
        return parts[area], rows[owner[area]]


@dataclass(frozen=True, kw_only=True)
class Made:
    """
    Solids made of features.

    Parameters
    ----------
    faces : Faces
        Their solids are numbered from 0.
    row : ndarray of int, shape (s,)
        The feature each solid comes from.
    top : mapping of int to float
        New tops of features, where the solid has another one [m].
    findings : tuple of Finding
        What was noticed.
    panels : Panels
        Translucent ones; they are none of the solids.
    """

    faces: Faces
    row: np.ndarray
    top: Mapping[int, float] = field(default_factory=lambda: MappingProxyType({}))
    findings: tuple[Finding, ...] = ()
    panels: Panels = field(default_factory=Panels.nothing)


Maker = Callable[[Job, np.ndarray], Made]


def together(parts: Sequence[Made]) -> Made:
    """Put made solids one after another, their faces in the same order."""
    shift = np.cumsum([0] + [len(part.row) for part in parts])
    faces = join([replace(p.faces, solid=p.faces.solid + s) for p, s in zip(parts, shift, strict=False)])
    return Made(
        faces=take(faces, np.argsort(faces.solid, kind="stable")),
        row=np.concatenate([np.zeros(0, dtype=np.int64)] + [part.row for part in parts]),
        top=MappingProxyType({row: level for part in parts for row, level in part.top.items()}),
        findings=tuple(finding for part in parts for finding in part.findings),
        panels=Panels.together([part.panels for part in parts]),
    )


def as_prisms(job: Job, rows: np.ndarray) -> Made:
    """Raise footprints from base to top."""
    parts, row = job.polygons(rows)
    features = job.features
    part = np.where(job.sunken[row], PART_CODE["floor"], PART_CODE["top"])
    part[features.of_role("form")[row] == "roof"] = PART_CODE["roof"]
    slope = Slope(
        rise=np.column_stack([features.slope_x[row], features.slope_y[row]]),
        high=np.column_stack([features.high_x[row], features.high_y[row]]),
        parallel=job.laid[row],
    )
    height = np.where(job.laid, features.height, features.top - features.base)[row]
    top = features.top[row]
    faces = prisms(parts, top - height, top, solid=np.arange(len(row)), top_part=part, slope=slope)
    return Made(faces=faces, row=row)
