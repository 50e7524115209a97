"""
The ground of a site as a surface, from the features that give its levels.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import shapely

from ..errors import Finding, GeometryError, LevelError, some_ids
from ..source.features import Features, LayerKey
from ..source.roles import ROLES
from .survey import Surface, Survey, surface_of
from .tin import Tin

FORM: Final = "terrain"
GROUND: Final = "ground"  # name of the ground where no layer draws it
_KINDS: Final = ("breakline", GROUND, "contour", "spot level")


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """
    The ground of a site.

    Parameters
    ----------
    tin : Tin
        Its surface, with banks once they are made.
    surveyed : Tin
        Its surface as surveyed.
    source : str
        What it is made of, in words.
    findings : tuple of Finding
        What was noticed.
    """

    tin: Tin
    surveyed: Tin
    source: str
    findings: tuple[Finding, ...] = field(default=())


def read_ground(features: Features) -> tuple[Features, Terrain | None]:
    """
    Make a surface of the features that give the ground its levels.

    Contours, breaklines, spot levels and ground with its own Z make the surface; ground
    whose top is the survey says how far it reaches.

    Parameters
    ----------
    features : Features
        As read, in the local plane.

    Returns
    -------
    features : Features
        Without those that only give levels. Ground that the surface covers has the form
        "terrain", carries nothing and is not cut; a site without such ground gets one.
    terrain : Terrain or None
        None where nothing gives levels.

    Raises
    ------
    LevelError
        If ground is to take its levels from a survey, and there is none.
    GeometryError
        If the levels make no surface.
    """
    form = features.of_role("form")
    patch = ~shapely.is_missing(features.geometry_z) & (features.of_role("name") == GROUND)
    waiting = _on_survey(features) & ~patch
    gives = (form == "levels") | patch
    if not gives.any():
        _refuse_waiting(features, waiting)
        return features, None
    rows = [np.flatnonzero(gives & (features.of_role("name") == kind)) for kind in _KINDS]
    lines = [_with_z(features, row) for row in rows]
    survey = Survey(
        breaklines=lines[0],
        patches=lines[1],
        contours=lines[2],
        spots=shapely.get_coordinates(lines[3], include_z=True),
    )
    area = shapely.union_all(features.geometry[waiting]) if waiting.any() else None
    try:
        surface = surface_of(survey, area=area)
    except GeometryError as problem:
        names = _layer_names(features, np.concatenate(rows))
        said = f"The levels in {', '.join(map(repr, names))} make no ground: {problem}"
        raise problem.saying(said, layer=names[0]) from None
    if not len(surface.tin):
        raise GeometryError("Nothing of the ground's surface lies within the ground that is drawn.")
    source = _in_words(features, np.concatenate(rows))
    noticed = tuple(_noticed(features, np.concatenate(rows), surface))
    terrain = Terrain(tin=surface.tin, surveyed=surface.tin, source=source, findings=noticed)
    kept = np.flatnonzero(form != "levels")
    return _with_ground(features, waiting | patch, kept, terrain), terrain


def _on_survey(features: Features) -> np.ndarray:
    """Ground without a level of its own."""
    ground = features.of_role("name") == GROUND
    return ground & np.isnan(features.top) & np.isnan(features.height)


def _refuse_waiting(features: Features, waiting: np.ndarray) -> None:
    if waiting.any():
        name = features.layers[features.layer[np.flatnonzero(waiting)[0]]].name
        raise LevelError(
            f"Layer {name!r} takes its top from the survey, but no layer gives levels. Add one with role "
            "'contour', 'breakline' or 'spot level', or give it a top.",
            layer=name,
            field="top",
            value="survey",
        )


def _refuse_unlevelled(features: Features, rows: np.ndarray) -> None:
    """Refuse what is to give the ground its levels, and has only a height."""
    if len(rows):
        same = rows[features.layer[rows] == features.layer[rows[0]]]
        name = features.layers[features.layer[rows[0]]].name
        raise LevelError(
            f"Layer {name!r}: {len(same)} features give the ground its levels, and have no level of their "
            f"own (ids {some_ids(features.source_id[same])}). Give `top`, a number or a field, instead of a "
            "height alone; or say `top_z` where they have their own Z.",
            layer=name,
            source_ids=features.source_id[same],
            field="top",
        )


def _with_z(features: Features, rows: np.ndarray) -> np.ndarray:
    """Geometries with their own Z, or at the level of their feature."""
    own = ~shapely.is_missing(features.geometry_z[rows])
    _refuse_unlevelled(features, rows[~own & np.isnan(features.top[rows])])
    spatial = features.geometry_z[rows].copy()
    spatial[~own] = shapely.force_3d(features.geometry[rows[~own]], features.top[rows[~own]])
    return spatial


def _layer_names(features: Features, rows: np.ndarray) -> list[str]:
    return [features.layers[k].name for k in np.unique(features.layer[rows])]


def _in_words(features: Features, rows: np.ndarray) -> str:
    return f"surface of {' and '.join(_layer_names(features, rows))}"


def _with_ground(features: Features, ground: np.ndarray, kept: np.ndarray, terrain: Terrain) -> Features:
    """Settle the ground's levels, give its layers their form, and leave out what only gives levels."""
    covered = np.unique(features.layer[ground])
    layers = [_as_terrain(key) if k in covered else key for k, key in enumerate(features.layers)]
    low, high = float(terrain.tin.xyz[:, 2].min()), float(terrain.tin.xyz[:, 2].max())
    base, top = features.base.copy(), features.top.copy()
    base_from, top_from = features.base_from.copy(), features.top_from.copy()
    open_ = ground & ~(base <= low)
    base[open_], base_from[open_] = low, f"lowest of the {terrain.source}"
    top[ground], top_from[ground] = high, f"highest of the {terrain.source}"
    settled = features.with_columns(
        layers=tuple(layers),
        base=base,
        top=top,
        height=np.where(ground, top - base, features.height),
        below=features.below & ~ground,
        base_from=base_from,
        top_from=top_from,
    ).take(kept)
    return settled if ground.any() else _with_own_ground(settled, terrain, low, high)


def _as_terrain(key: LayerKey) -> LayerKey:
    return LayerKey(key.name, replace(key.role, form=FORM, supports=False, cuts=False))


def _with_own_ground(features: Features, terrain: Terrain, low: float, high: float) -> Features:
    """Add a ground as large as the surface."""
    names = {key.name for key in features.layers}
    name = GROUND if GROUND not in names else f"{GROUND} of the survey"
    own = {
        "layer": len(features.layers),
        "source_id": "survey",
        "geometry": terrain.tin.outline,
        "base": low,
        "top": high,
        "height": high - low,
        "base_from": f"lowest of the {terrain.source}",
        "top_from": f"highest of the {terrain.source}",
    }
    columns = {
        column: _appended(getattr(features, column), own.get(column))
        for column in Features.__dataclass_fields__
        if column != "layers"
    }
    key = _as_terrain(LayerKey(name, ROLES[GROUND]))
    return features.with_columns(layers=(*features.layers, key), **columns)


def _appended(column: np.ndarray, value: Any) -> np.ndarray:
    """A column with one more value; what stands for nothing in it where None."""
    longer = np.empty(len(column) + 1, dtype=column.dtype)
    longer[:-1] = column
    nothing = {"f": np.nan, "b": False, "i": 0, "O": ""}[column.dtype.kind]
    longer[-1] = nothing if value is None else value
    return longer


def _noticed(features: Features, rows: np.ndarray, surface: Surface) -> Iterable[Finding]:
    """Say where levels contradict each other, where there are none, and what was rounded off."""
    yield from _contradictions(features, rows, surface)
    area = surface.plateaus.area
    if len(area):
        contour = rows[features.of_role("name")[rows] == "contour"]
        yield Finding(
            severity="info",
            code="plateau",
            layer=features.layers[features.layer[contour[0]]].name,
            value=f"{area.sum():.4g} m²",
            message=(
                f"{len(area)} places inside last contours, {area.sum():.4g} m² in all, have no level of "
                "their own; they are rounded off by at most half a step of the contours. Add spot levels "
                "to be exact."
            ),
        )
    if surface.beyond > 0.01:
        yield Finding(
            severity="warning",
            code="beyond-levels",
            layer=_layer_names(features, rows)[0],
            value=f"{surface.beyond:.4g} m²",
            message=(
                f"{surface.beyond:.4g} m² of the ground lie beyond all levels; there it has the level of "
                "the nearest place that has one."
            ),
        )


def _contradictions(features: Features, rows: np.ndarray, surface: Surface) -> Iterable[Finding]:
    """One finding for each pair of features that give one place different levels, at the worst place."""
    clash = surface.conflict
    known = (clash.kept < len(rows)) & (clash.dropped < len(rows))
    kept, dropped = rows[clash.kept[known]], rows[clash.dropped[known]]
    level, other, xy = clash.kept_level[known], clash.dropped_level[known], clash.xy[known]
    worst = np.argsort(-np.abs(level - other), kind="stable")
    _, first = np.unique(np.column_stack([kept, dropped])[worst], axis=0, return_index=True)
    for k in worst[np.sort(first)]:
        yield Finding(
            severity="warning",
            code="ground-levels-differ",
            layer=features.layers[features.layer[dropped[k]]].name,
            source_id=str(features.source_id[dropped[k]]),
            value=f"{other[k]:.3f} m",
            message=(
                f"At {xy[k, 0]:.2f}, {xy[k, 1]:.2f} of the local plane it gives the ground {other[k]:.3f} m, "
                f"but {features.name_of(int(kept[k]))} gives {level[k]:.3f} m, which is kept."
            ),
            place=(float(xy[k, 0]), float(xy[k, 1])),
        )
