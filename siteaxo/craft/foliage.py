"""
Foliage on crowns and hedges: strokes where the light does not reach, fewer where it does.

Strokes lie on the surface of a crown, evenly on the page, whatever stands before it;
what is hidden is cut away at the end. So a tree looks the same however much of it is
seen, and the same tree looks the same in every drawing in one view.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from ..solids.faces import Faces, take
from ..solids.scene import Scene
from ..view.page import PageFaces, onto_page
from ..view.projection import View
from ..view.silhouettes import silhouettes
from ..view.tolerance import Tolerance
from .crowns import Plants
from .repeatable import numbers_for
from .scatter import Scattered, scatter
from .strokes import STROKES

APART_MM: Final = 1.4  # least distance of strokes on paper [mm]
APART: Final = {"deciduous": 0.38, "conifer": 0.34, "columnar": 0.34, "shrub": 0.28, "hedge": 0.33}
"""Least distance of strokes at full size [m]."""
WIDTH: Final = {"deciduous": 1.15, "conifer": 0.62, "columnar": 0.70, "shrub": 0.95, "hedge": 0.72}
"""Size of strokes, as a share of their distance [-]."""
BARE: Final = 0.5  # what is turned to the light by more than this sine has few strokes [-]


@dataclass(frozen=True, kw_only=True)
class Strokes:
    """
    Strokes of foliage.

    Parameters
    ----------
    line : ndarray of LineString, shape (n,)
        On the page [m].
    plant : ndarray of int, shape (n,)
        The plant of each, as a row of the plants.
    """

    line: np.ndarray
    plant: np.ndarray


def foliage(
    plants: Plants,
    scene: Scene,
    view: View,
    *,
    origin: np.ndarray,
    towards_light: np.ndarray,
    scale: float,
    seed: int = 0,
) -> Strokes:
    """
    Draw foliage on whole plants, as if nothing stood before them.

    Parameters
    ----------
    plants : Plants
        The plants; palms are passed over.
    scene : Scene
        Their solids.
    view : View
        The view.
    origin : ndarray, shape (3,)
        Site point at the page's origin [m].
    towards_light : ndarray, shape (3,)
        Unit vector towards the light.
    scale : float
        The x of 1:x; strokes keep a distance on paper.
    seed : int
        Another seed gives other strokes.

    Returns
    -------
    Strokes
    """
    lines, owners = [np.empty(0, dtype=object)], [np.zeros(0, dtype=np.int64)]
    for kind in STROKES:
        rows = np.flatnonzero(plants.kind == kind)
        if len(rows):
            apart = max(APART[kind], APART_MM * scale / 1000)
            line, owner = _of_kind(kind, plants.take(rows), scene, view, origin, towards_light, apart, seed)
            lines.append(line)
            owners.append(rows[owner])
    return Strokes(line=np.concatenate(lines), plant=np.concatenate(owners))


def _of_kind(
    kind: str,
    plants: Plants,
    scene: Scene,
    view: View,
    origin: np.ndarray,
    towards_light: np.ndarray,
    apart: float,
    seed: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Strokes of the plants of one kind, and the plant of each."""
    page = onto_page(_faces_of(plants, scene), view, origin, Tolerance())
    shown = np.flatnonzero(np.isin(plants.solid, page.faces.solid))
    if not len(shown):  # nothing of them is wide enough to be seen
        return np.empty(0, dtype=object), shown
    plants = plants.take(shown)
    face, plant, xy = _places(plants, page, apart, by_face=kind == "hedge", seed=seed)
    count = np.bincount(plant, minlength=len(plants))
    chance = numbers_for(6 * count, plants.name, "stroke", kind, seed).reshape(-1, 6)
    lit = page.normal[face] @ towards_light
    dark = np.clip((BARE - lit) / (BARE + 0.5), 0.0, 1.0)
    kept = np.flatnonzero(chance[:, 0] < 0.12 + 0.88 * dark)
    face, plant, xy, chance = face[kept], plant[kept], xy[kept], chance[kept]
    direction = (
        _outward(page, plant, plants, xy) if kind in ("deciduous", "shrub") else _fall(page, face, view)
    )
    size = apart * WIDTH[kind] * (0.8 + 0.4 * chance[:, 1])
    strokes = STROKES[kind](xy, direction, size, chance[:, 2:])
    return shapely.linestrings(strokes) if len(strokes) else np.empty(0, dtype=object), shown[plant]


def _faces_of(plants: Plants, scene: Scene) -> Faces:
    return take(scene.faces, np.flatnonzero(np.isin(scene.faces.solid, plants.solid)))


def _places(
    plants: Plants, page: PageFaces, apart: float, *, by_face: bool, seed: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Places of strokes: face, plant and page point, sorted by plant.

    Plants are set side by side on a shelf, so that none keeps its distance from another.
    """
    owner = np.searchsorted(plants.solid, page.faces.solid)
    area = page.polygon if by_face else silhouettes(page, plants.solid).polygons()
    item = owner if by_face else np.arange(len(plants))
    wide = float((page.box[:, 2] - page.box[:, 0]).max(initial=0.0)) * 8 + apart
    slot = np.arange(len(area)) if by_face else item
    inner = shapely.buffer(area, -0.45 * apart)
    left = shapely.bounds(area)[:, 0]
    shift = slot * wide - left
    names = (
        np.array([f"{plants.name[p]}\x1e{k}" for k, p in enumerate(item)], dtype=object)
        if by_face
        else plants.name
    )
    found = scatter(_shifted(inner, shift), spacing=apart, key=("foliage", seed), names=names)
    found = found.take(np.argsort(item[found.owner], kind="stable"))
    if by_face:
        face = found.owner
    else:
        found, face = _under(found, _shifted(page.polygon, shift[owner]))
    xy = found.xy - np.column_stack([shift[found.owner], np.zeros(len(found))])
    return face, item[found.owner], xy


def _under(found: Scattered, faces: np.ndarray) -> tuple[Scattered, np.ndarray]:
    """The face each point lies on; points between faces are left out."""
    row, face = shapely.STRtree(faces).query(shapely.points(found.xy), predicate="intersects")
    first = np.unique(row, return_index=True)[1]
    return found.take(row[first]), face[first]


def _shifted(geometry: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """Geometries moved to the right, each by its own amount."""
    xy, owner = shapely.get_coordinates(geometry, return_index=True)
    xy[:, 0] += shift[owner]
    return shapely.set_coordinates(geometry.copy(), xy)


def _outward(page: PageFaces, plant: np.ndarray, plants: Plants, xy: np.ndarray) -> np.ndarray:
    """Unit direction on the page away from the middle of each crown."""
    owner = np.searchsorted(plants.solid, page.faces.solid)
    low, high = np.full((len(plants), 2), np.inf), np.full((len(plants), 2), -np.inf)
    np.minimum.at(low, owner, page.box[:, :2])
    np.maximum.at(high, owner, page.box[:, 2:])
    away = (xy - ((low + high) / 2)[plant]) / np.maximum((high - low)[plant], 1e-9)
    return away / np.maximum(np.hypot(*away.T), 1e-9)[:, None]


def _fall(page: PageFaces, face: np.ndarray, view: View) -> np.ndarray:
    """Unit direction on the page in which a face falls; down the page where it is level."""
    normal = page.normal[face]
    steepest = normal * normal[:, 2:] - [0.0, 0.0, 1.0]
    there = view.to_page(steepest)[:, :2]
    length = np.hypot(*there.T)
    level = length < 1e-6
    there[level] = [0.0, -1.0]
    return there / np.where(level, 1.0, length)[:, None]
