"""
Reading a drawing back: from places on the page to the site.

A page point is a line of sight. With a level it is one point of the site; without, it is
the point where that line meets the face that is seen there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..angles import cos_deg, sin_deg
from ..checks import one_of
from ..diagram.layers import PLANE_COLUMNS, DiagramLayers, ViewRecord
from ..errors import ViewError
from ..source.plane import LocalPlane

AXES: Final = ("x", "y", "height")
OFF_AXIS: Final = 0.02  # points farther beside an axis than this share of their distance are not on it [-]
SMALL: Final = 0.02  # nor is that said of points so near to it [m]
LEVEL_SLACK: Final = 1e-9  # faces whose levels differ by no more are level [m]


@dataclass(frozen=True, kw_only=True)
class FeatureAt:
    """
    What a place on the page shows.

    Parameters
    ----------
    layer, source_id, role, part, material : str
        The feature and the part of it.
    level : float
        Level of the place [m].
    x, y : float
        Easting and northing in the local plane [m].
    crs : str
        CRS of the feature's own layer, "" where it is not known.
    source_x, source_y : float
        The place in that CRS, in its own unit, x before y; NaN where it is not known.
    tier : str
        Tier of an exploded view, "" in others.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> drawing = siteaxo.Site(name="Yard", layers=[layer]).stack().draw(siteaxo.planometric(turn=30))
    >>> drawing.feature_at((0.0, 1.5)).level
    1.5
    """

    layer: str
    source_id: str
    role: str
    part: str
    material: str
    level: float
    x: float
    y: float
    crs: str = ""
    source_x: float = float("nan")
    source_y: float = float("nan")
    tier: str = ""

    def __repr__(self) -> str:
        made = f" of {self.material}" if self.material else ""
        place = f"{self.x:.3f}, {self.y:.3f} on the local plane"
        if self.crs:
            digits = 7 if abs(self.source_x) <= 360 and abs(self.source_y) <= 90 else 3
            place += f"; {self.source_x:.{digits}f}, {self.source_y:.{digits}f} in {self.crs}"
        where = f"{self.part} of {self.role}{made} at level {self.level:.3f} m"
        return f"<FeatureAt {self.layer}, {self.source_id}: {where}; {place}>"


def site_points(
    diagram: DiagramLayers, points: ArrayLike, *, level: ArrayLike | None = None, crs: Any = None
) -> np.ndarray:
    """
    Bring page points back to the site.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    points : array_like, shape (n, 2)
        Page right and page up at full size [m].
    level : float or array_like, shape (n,), optional
        Levels of the points [m]; those of what is seen there when left out. In an exploded
        view these are levels on the site, of the tier that is seen there.
    crs : optional
        CRS of the result: anything pyproj takes; the local plane when left out.

    Returns
    -------
    ndarray, shape (n, 3)
        x, y and level [m, or the unit of *crs* for x and y]; NaN where no level is given
        and nothing is seen.

    Raises
    ------
    ViewError
        If *points* is not (n, 2), or the plan is seen edge-on.
    """
    page = _page_points(points)
    rows = _faces_at(diagram, page)
    if level is None:
        xyz = _on_faces(diagram, rows, page)
    else:
        heights = np.broadcast_to(np.asarray(level, dtype=float), len(page))
        lifted = heights + np.where(rows >= 0, _lifts(diagram)[rows], 0.0)
        xyz = np.column_stack([_plan_at(diagram.view, page, lifted), heights])
    if crs is not None:
        xyz = np.column_stack([plane_of(diagram.view).from_plane(xyz[:, :2], crs), xyz[:, 2]])
    return xyz


def feature_at(
    diagram: DiagramLayers, point: ArrayLike, *, source_crs: Mapping[str, Any] | None = None
) -> FeatureAt | None:
    """
    Say what is seen at a place on the page.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing.
    point : array_like, shape (2,)
        Page right and page up at full size [m].
    source_crs : mapping of str to Any, optional
        CRS of each layer.

    Returns
    -------
    FeatureAt or None
        None where nothing is drawn.

    Raises
    ------
    ViewError
        If *point* is not two numbers.
    """
    page = _page_points(np.reshape(point, (1, -1)))
    row = int(_faces_at(diagram, page)[0])
    if row < 0:
        return None
    x, y, level = (float(one) for one in _on_faces(diagram, np.array([row]), page)[0])
    face = diagram.faces.iloc[row]
    own: dict[str, Any] = {
        name: str(face[name]) if name in face.index else ""
        for name in ("layer", "source_id", "role", "part", "material", "tier")
    }
    crs = (source_crs or {}).get(own["layer"])
    if crs is None:
        return FeatureAt(level=level, x=x, y=y, **own)
    there = plane_of(diagram.view).from_plane(np.array([[x, y]]), crs)[0]
    name = str(getattr(crs, "name", crs))
    return FeatureAt(
        level=level, x=x, y=y, crs=name, source_x=float(there[0]), source_y=float(there[1]), **own
    )


def length_along(view: ViewRecord, start: ArrayLike, end: ArrayLike, *, along: str) -> float:
    """
    Length between two page points of a line along one of the three axes.

    Parameters
    ----------
    view : ViewRecord
        The view.
    start, end : array_like, shape (2,)
        Page points at full size [m].
    along : {"x", "y", "height"}
        Along the base line, across it in plan, or upright.

    Returns
    -------
    float
        True length [m], never negative.

    Raises
    ------
    ViewError
        If the axis is unknown, is seen end-on, or the points do not lie along it.
    """
    one_of(along, AXES, "axis", ViewError)
    if along != "height" and not math.isfinite(view.base_line):
        raise ViewError(
            f"The base line of this {view.kind} view is not known, so nothing can be measured along {along}.",
            field="along",
            value=along,
        )
    line = view.base_line if along != "height" else 0.0
    c, s = cos_deg(line), sin_deg(line)
    axis = {"x": (c, s, 0.0), "y": (-s, c, 0.0), "height": (0.0, 0.0, 1.0)}[along]
    image = view.matrix[:2] @ np.array(axis)
    size = float(np.hypot(*image))
    if size < LEVEL_SLACK:
        raise ViewError(
            f"The {along} axis is seen end-on in this view; nothing can be measured along it.",
            field="along",
            value=along,
        )
    way = np.subtract(*(_page_points(np.reshape(one, (1, -1)))[0] for one in (end, start)))
    on = float(way @ image) / size
    beside = float(abs(way[0] * image[1] - way[1] * image[0])) / size
    if beside > max(OFF_AXIS * abs(on), SMALL):
        raise ViewError(
            f"These points do not lie along the {along} axis: the second is {beside:.3f} m beside the line "
            f"through the first. Choose another axis, or read both with to_site.",
            field="along",
            value=along,
        )
    return abs(on) / size


def plane_of(view: ViewRecord) -> LocalPlane:
    """The local plane of a drawing."""
    plane = LocalPlane.from_crs(view.plane_wkt)
    lon, lat = (float(one) for one in plane.to_lonlat(view.origin_x, view.origin_y))
    return LocalPlane.from_crs(view.plane_wkt, area=(lon, lat, lon, lat))


def _page_points(points: ArrayLike) -> np.ndarray:
    try:
        page = np.asarray(points, dtype=float)
    except (TypeError, ValueError):
        said = f"Page points must be numbers, not {points!r}."
        raise ViewError(said, field="points", value=points) from None
    if page.ndim != 2 or page.shape[1] != 2:
        raise ViewError(
            f"Page points must be shaped (n, 2), not {page.shape}.", field="points", value=page.shape
        )
    return page


def _origin(view: ViewRecord) -> np.ndarray:
    return np.array([view.origin_x, view.origin_y, view.drawn_in_place])


def _plan_at(view: ViewRecord, page: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Plan places of page points at levels, shape (n, 2)."""
    plan, rise = view.matrix[:2, :2], view.matrix[:2, 2]
    if abs(np.linalg.det(plan)) < LEVEL_SLACK:
        raise ViewError(
            f"A {view.kind} view shows the plan edge-on: a level does not give a place.",
            field="view",
            value=view.kind,
        )
    shifted = page - (level - view.drawn_in_place)[:, None] * rise
    return np.linalg.solve(plan, shifted.T).T + _origin(view)[:2]


def _faces_at(diagram: DiagramLayers, page: np.ndarray) -> np.ndarray:
    """Row of the face seen at each page point, shape (n,); -1 for none; of neighbours the first."""
    rows = np.full(len(page), -1)
    if len(diagram.faces):
        shapes = np.asarray(diagram.faces.geometry.array, dtype=object)
        point, face = shapely.STRtree(shapes).query(shapely.points(page), predicate="intersects")
        order = np.lexsort((-face, point))
        rows[point[order]] = face[order]
    return rows


def _lifts(diagram: DiagramLayers) -> np.ndarray:
    """How far each face is lifted in an exploded view, shape (f + 1,) with 0 at the end [m]."""
    faces = diagram.faces
    lift = faces["lift_m"].to_numpy(dtype=float) if "lift_m" in faces else np.zeros(len(faces))
    return np.append(lift, 0.0)


def _on_faces(diagram: DiagramLayers, rows: np.ndarray, page: np.ndarray) -> np.ndarray:
    """Where lines of sight meet faces, shape (n, 3), levels as on the site; NaN for no face."""
    faces, view = diagram.faces, diagram.view
    found = np.full((len(page), 3), np.nan)
    there = np.flatnonzero(rows >= 0)
    if not len(there):
        return found
    some, lift = faces.iloc[rows[there]], _lifts(diagram)[rows[there]]
    if all(name in faces for name in PLANE_COLUMNS):
        normal = some[list(PLANE_COLUMNS[:3])].to_numpy(dtype=float)
        right = np.column_stack([page[there], some["offset"].to_numpy(dtype=float)])
        sides = np.concatenate(
            [np.broadcast_to(view.matrix[:2], (len(there), 2, 3)), normal[:, None]], axis=1
        )
        found[there] = np.linalg.solve(sides, right[:, :, None])[:, :, 0] + _origin(view)
        found[there, 2] -= lift
        return found
    low, high = (some[name].to_numpy(dtype=float) for name in ("level_min", "level_max"))
    flat = high - low <= LEVEL_SLACK
    rows_flat = there[flat]
    found[rows_flat, :2] = _plan_at(view, page[rows_flat], low[flat] + lift[flat])
    found[rows_flat, 2] = low[flat]
    return found
