"""
Forms that plug-ins add: functions of footprints and levels that give the faces of closed solids.

A form is called with arrays, one item for each footprint::

    faces, row = form(footprint, base, top)

*footprint* holds valid polygons in the local plane [m], *base* and *top* their levels [m]. It
gives polygons with Z, each planar and anticlockwise as seen from outside, and the number of
the footprint that each belongs to. A form that takes sizes of a layer, or its shape, has
parameters of these names after a ``*``.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import partial
from typing import Any, Final

import numpy as np
import shapely

from ..errors import some_ids
from ..plugins import PlugInError, PlugIns, plug_ins
from ..source.keys import FALLS, RATIOS, SIZES
from .edges import edges_of
from .faces import PART_CODE, Faces, newell
from .making import Job, Made, Maker

Form = Callable[..., tuple[np.ndarray, np.ndarray]]

ASKABLE: Final = (*(size for size in SIZES if size not in (*RATIOS, *FALLS)), "shape")
"""What a form may take beside footprints and levels."""
UPRIGHT: Final = 1e-6  # a face whose unit normal falls by less is none that is seen from below [-]
LEVEL: Final = 1e-9  # one whose unit normal leaves the vertical by less lies level [-]


def added_forms() -> PlugIns:
    """Forms of plug-ins."""
    return plug_ins("siteaxo.forms", _fits)


def form_maker(name: str) -> Maker:
    """
    Return the maker of a plug-in's form.

    It raises a PlugInError that names layer and role if the form is not installed or broken, and
    the package too if the form fails or gives what is no closed solid.
    """
    return partial(_made, name)


def _fits(name: str, value: Any) -> Form:
    """Check that a form takes footprints and levels, and beside them only what a layer has."""
    if not callable(value):
        raise PlugInError("its entry point must name a function of footprint, base and top", field=name)
    parameters = inspect.signature(value).parameters.values()
    own = [one.name for one in parameters if one.kind is one.KEYWORD_ONLY]
    plain = [one.name for one in parameters if one.kind is not one.KEYWORD_ONLY]
    unknown = [word for word in own if word not in ASKABLE]
    if plain != ["footprint", "base", "top"] or unknown:
        raise PlugInError(
            f"a form takes (footprint, base, top), and after a * any of {', '.join(ASKABLE)}; "
            f"not {', '.join(unknown or plain) or 'nothing'}",
            field=name,
        )
    form: Form = value
    return form


def _made(name: str, job: Job, rows: np.ndarray) -> Made:
    """Call a form, and take over its solids once they are known to be sound."""
    footprint, row = job.polygons(rows)
    features, forms = job.features, added_forms()
    key = features.layers[features.layer[rows[0]]]
    try:
        form: Form = forms.get(name, "form")
        origin = forms.found[name].origin
    except PlugInError as problem:
        raise problem.within(f"Layer {key.name!r}, role {key.role.name!r}", layer=key.name) from None
    own = [word for word in inspect.signature(form).parameters if word in ASKABLE]
    asked = {word: getattr(features, word)[row] for word in own}
    who = [features.name_of(int(one)) for one in row]
    try:
        given = form(footprint, features.base[row], features.top[row], **asked)
        faces = _faces(*given, count=len(row))
    except Exception as problem:
        said = (
            f"The form {name!r} of {origin} failed ({type(problem).__name__}: {problem}), asked for role "
            f"{key.role.name!r} by {some_ids(who, most=2)}. This is a fault of {form.__module__}, not of "
            "siteaxo or of your data: tell whoever made it."
        )
        ids = features.source_id[row]
        raise PlugInError(said, layer=key.name, source_ids=ids, field=name) from problem
    _check(name, origin, faces, who)
    return Made(faces=faces, row=row)


def _faces(polygon: np.ndarray, row: np.ndarray, *, count: int) -> Faces:
    """Polygons with Z as a table of faces, their parts told from the way they look."""
    polygon, row = np.asarray(polygon, dtype=object), np.asarray(row, dtype=np.int64)
    _refuse(polygon, row, count)
    _, xyz, (ring_start, face_start) = shapely.to_ragged_array(polygon, include_z=True)
    last = np.zeros(len(xyz), dtype=bool)
    last[ring_start[1:] - 1] = True
    faces = Faces(
        xyz=xyz[~last],
        ring_start=np.asarray(ring_start - np.arange(len(ring_start)), dtype=np.int64),
        face_start=np.asarray(face_start, dtype=np.int64),
        solid=row,
        part=np.zeros(len(row), dtype=np.int8),
        two_sided=np.zeros(len(row), dtype=bool),
    )
    faces.part[:] = _parts(faces)
    return faces


def _refuse(polygon: np.ndarray, row: np.ndarray, count: int) -> None:
    """Refuse what a form gives where it is no list of faces with their footprints."""
    if polygon.shape != row.shape or polygon.ndim != 1:
        raise ValueError(f"{polygon.shape} polygons have {row.shape} numbers of footprints")
    if not ((shapely.get_type_id(polygon) == shapely.GeometryType.POLYGON) & shapely.has_z(polygon)).all():
        raise ValueError("every face must be a polygon with Z")
    if not np.isfinite(shapely.get_coordinates(polygon, include_z=True)).all():
        raise ValueError("coordinates must be finite")
    if not np.array_equal(np.unique(row), np.arange(count)):
        raise ValueError(f"there must be faces for each of the {count} footprints, and for no other")


def _parts(faces: Faces) -> np.ndarray:
    """Tops lie level and look up, soffits look down; all else are sides, whose facets may be one curve."""
    normal = newell(faces, faces.xyz)[1]
    size = np.sqrt((normal**2).sum(axis=1))
    up = normal[:, 2] / np.where(size > 0, size, 1.0)
    return np.select(
        [up > 1 - LEVEL, up >= -UPRIGHT], [PART_CODE["top"], PART_CODE["side"]], PART_CODE["soffit"]
    )


def _check(name: str, origin: str, faces: Faces, who: list[str]) -> None:
    """Refuse solids that are open, or inside out."""
    edges = edges_of(faces)
    count = np.diff(edges.member_start)
    ways = np.bincount(edges.member_edge, np.where(edges.forward, 1, -1), len(edges))
    loose = edges.solid[(count != 2) | (ways != 0)]
    if len(loose):
        raise PlugInError(
            f"The form {name!r} of {origin} leaves the solid of {who[loose[0]]} open: {len(loose)} "
            "edges do not have one face on either side. Neighbours must share their corners to the last "
            "digit, and run along their common edge in opposite directions.",
            field=name,
        )
    mean, normal = newell(faces, faces.xyz)
    volume = np.bincount(faces.solid, (mean * normal).sum(axis=1) / 6, len(who))
    if (volume <= 0).any():
        raise PlugInError(
            f"The form {name!r} of {origin} turns the solid of {who[int(np.argmin(volume))]} inside out. "
            "The corners of each face must run anticlockwise as seen from outside.",
            field=name,
        )
