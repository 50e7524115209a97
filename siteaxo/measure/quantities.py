"""
Quantities: how much there is, per feature, role, material and terrace.

Areas and lengths are those of the features as settled, in the local plane; the plan area
of a feature is that of its row in the ``plan`` table of a diagram. Where terraces lie over
one another, or lawns, water, paving and paths are laid over one another, the place counts for the
upper one alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..checks import one_of
from ..craft.style import Style
from ..diagram.tables import table
from ..diagram.terraces import terraces_of
from ..errors import LayerError
from ..solids.cutting import is_area
from ..solids.faces import PART_CODE, areas, normals
from ..solids.stack import Stack
from ..solids.widths import CLIMBING
from .covered import uncovered
from .exposure import exposure
from .grouping import distinct, places, summed, united
from .levelling import Levelling, levelling
from .paved import Open, laid_units, open_areas

LEANING: Final = 1e-3  # a side whose unit normal rises by more leans, and shows from above [-]
BY: Final = ("role", "material", "terrace", "feature")
SUMS: Final = (
    "features",
    "plan_area_m2",
    "open_area_m2",
    "true_area_m2",
    "edge_m",
    "side_area_m2",
    "side_length_m",
    "flights",
    "risers",
    "treads",
    "paving_units",
    "whole_units",
    "cut_units",
    "trees",
    "crown_cover_m2",
    "cut_m3",
    "fill_m3",
)
"""Columns of figures, in their order."""
COUNTS: Final = ("features", "flights", "risers", "treads", "whole_units", "cut_units", "trees")
"""Columns of whole numbers."""
UNCOUNTED: Final = "\x00not counted"
"""Stands for what is no quantity: notes, and areas for people."""
FOOTPRINTS: Final = ("plan_area_m2", "true_area_m2", "edge_m")
"""Columns that are those of the terrace itself where rows are terraces."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """Figures of every row of the features, shape (n,) each."""

    columns: dict[str, np.ndarray]
    geometry: np.ndarray
    crown: np.ndarray
    open: Open

    def of_terraces(self, rows: np.ndarray, home: np.ndarray) -> Measured:
        """The same, with footprints of terraces only, and what is open within these."""
        own = {name: np.where(rows, self.columns[name], 0.0) for name in FOOTPRINTS}
        own["open_area_m2"] = self.open.within(self.geometry, home)
        return replace(self, columns={**self.columns, **own}, geometry=_only(rows, self.geometry))


def quantities(
    stack: Stack,
    *,
    by: str = "role",
    style: Style | None = None,
    crs: Any = None,
    drawn_ground: np.ndarray | None = None,
    base_line: float = 0.0,
    known: Measured | None = None,
) -> Any:
    """
    Measure a site.

    Parameters
    ----------
    stack : Stack
        The solids.
    by : {"role", "material", "terrace", "feature"}
        What the rows are. A feature belongs to the terrace, or else the ground, that it
        stands on; pieces of ground of one layer are one row.
    style : Style, optional
        Sizes of paving units by material; the muted style's when left out.
    crs : optional
        CRS of the local plane, for the geometries.
    drawn_ground : ndarray of object, shape (g,), optional
        See :func:`~siteaxo.measure.levelling.levelling`.
    base_line : float
        Direction of the base line, along which paving is laid [degrees anticlockwise].
    known : Measured, optional
        What :func:`measured` has found already, with the same style, ground and base line.

    Returns
    -------
    geopandas.GeoDataFrame
        One row each, with the footprints as geometry and

        - ``plan_area_m2``: footprints in plan, crowns of trees as circles; terraces without
          what higher ones cover, lawns, water, paving and paths without what of these is laid over
          them, and of two at one level the one that is seen;
        - ``open_area_m2``: what of them is seen from straight above once trees, roofs,
          canopies and rails are lifted off, in plan;
        - ``true_area_m2``: all faces that look upward, along their slope;
        - ``edge_m``: outlines of the footprints;
        - ``side_area_m2``, ``side_length_m``: upright sides as far as they stand free, and
          their length in plan; risers are not among them;
        - ``flights``, ``risers``, ``treads`` of steps, each riser that arrives included;
        - ``paving_units``: open area by units to the square metre of the material,
          joints included in their size, as if cut pieces came together to whole units;
        - ``whole_units``, ``cut_units``: units of the pattern as it is drawn that lie whole in
          the open area, in plan, and units that have to be cut at its sides;
        - ``trees``, ``crown_cover_m2``: crowns in plan, overlaps counted once in each row;
        - ``cut_m3``, ``fill_m3``: between the ground and the levels of terraces; NaN where
          nothing tells the ground.

        Notes and areas for people are left out. Rows of terraces have the plan area, true
        area, edges and geometry of the terrace itself, the open area of what belongs to it as far
        as it lies within that plan area, so that it is never larger, and all else of everything
        that belongs to it. A pool let into a terrace is in neither area.

    Raises
    ------
    LayerError
        If *by* is unknown.
    """
    one_of(by, BY, "kind of quantities", LayerError)
    earth = stack.features.of_role("theme") == "ground"
    found = known or measured(stack, style=style, drawn_ground=drawn_ground, base_line=base_line)
    keys = _keys(stack, by)
    if by == "terrace":
        found = found.of_terraces(earth, terraces_of(stack, nearest=False))
    names = list(keys)
    counted = stack.features.of_role("theme") != "notes"
    text = np.stack([np.where(counted, keys[name].astype(str), UNCOUNTED) for name in names])
    key, number = np.unique(text, axis=1, return_inverse=True)
    count = key.shape[1]
    order = np.argsort(places(stack, number.ravel(), count), kind="stable")
    columns: dict[str, Any] = {name: key[k][order].astype(object) for k, name in enumerate(names)}
    for name in SUMS:
        columns[name] = summed(found.columns[name], number.ravel(), count)[order]
    covered = united(found.crown, number.ravel(), count)
    columns["crown_cover_m2"] = shapely.area(covered)[order]
    if by != "feature":
        columns["features"] = distinct(stack, number.ravel(), count)[order]
    shapes = united(found.geometry, number.ravel(), count)[order]
    frame = table(columns, [*names, *SUMS], shapes)
    frame = frame[frame[names[0]] != UNCOUNTED].reset_index(drop=True)
    frame[list(COUNTS)] = frame[list(COUNTS)].astype(int)
    return frame if crs is None else frame.set_crs(crs)


def _keys(stack: Stack, by: str) -> dict[str, np.ndarray]:
    """Columns that tell rows apart."""
    features = stack.features
    layer = np.array([key.name for key in features.layers], dtype=object)[features.layer]
    role = features.of_role("name").astype(object)
    if by == "role":
        return {"role": role}
    if by == "material":
        return {"role": role, "material": features.material}
    terrace = terraces_of(stack, nearest=False)
    names = np.where(role == "ground", layer, layer + " " + features.source_id.astype(str).astype(object))
    on = np.where(terrace >= 0, names[terrace], "")
    if by == "terrace":
        return {"terrace": on}
    ids = features.source_id
    return {"layer": layer, "source_id": ids, "role": role, "material": features.material, "terrace": on}


def measured(
    stack: Stack,
    *,
    style: Style | None = None,
    drawn_ground: np.ndarray | None = None,
    base_line: float = 0.0,
) -> Measured:
    """Measure every row of the features; parameters as for :func:`quantities`."""
    earth = levelling(stack, drawn_ground)
    features, faces = stack.features, stack.scene.faces
    count, row = len(features), stack.solid_feature[faces.solid]
    size, upward = areas(faces), normals(faces)[:, 2]
    footprint = footprints(stack)
    bare = exposure(stack)
    wall = faces.part[bare.face] != PART_CODE["riser"]
    tree = features.of_role("form") == "tree"
    crown = _only(tree, footprint)
    open_ = open_areas(stack)
    upper = np.bincount(row, np.where(_looks_up(faces.part, upward) & ~tree[row], size, 0.0), count)
    columns = {
        "features": _first_of_feature(stack).astype(float),
        "plan_area_m2": shapely.area(footprint),
        "open_area_m2": open_.area,
        "true_area_m2": upper * _bare_share(features.geometry, footprint, tree),
        "edge_m": shapely.length(footprint),
        "side_area_m2": np.bincount(row[bare.face], np.where(wall, bare.area, 0.0), count),
        "side_length_m": np.bincount(row[bare.face], np.where(wall, bare.length, 0.0), count),
        **_steps(stack),
        **laid_units(stack, style or Style(), open_.area, open_.paved, base_line),
        "trees": tree.astype(float),
        "crown_cover_m2": np.where(tree, shapely.area(footprint), 0.0),
        **_earth(earth, count),
    }
    return Measured(columns=columns, geometry=footprint, crown=crown, open=open_)


def _only(rows: np.ndarray, shapes: np.ndarray) -> np.ndarray:
    """Shapes of some rows, None elsewhere."""
    found = np.full(len(shapes), None, dtype=object)
    found[rows] = shapes[rows]
    return found


def _looks_up(part: np.ndarray, upward: np.ndarray) -> np.ndarray:
    """Faces that are walked on, planted or roofed, leaning sides too; crowns and undersides are not."""
    no = np.isin(part, [PART_CODE[name] for name in ("crown", "soffit", "riser")])
    return (upward > np.where(part == PART_CODE["side"], LEANING, 1e-9)) & ~no


def footprints(stack: Stack) -> np.ndarray:
    """
    Footprints of features, shape (n,).

    Trees as the circles of their crowns; of terraces what no higher one covers, of surfaces what no
    other that is laid on them does.
    """
    features = stack.features
    shapes = features.geometry.copy()
    terrace = np.flatnonzero((features.of_role("name") == "terrace") & is_area(shapes))
    shapes[terrace] = uncovered(features, terrace)
    ground = None if stack.terrain is None else stack.terrain.tin
    level = (features.of_role("theme") == "surfaces") & ~np.isin(features.of_role("form"), CLIMBING)
    surface = np.flatnonzero(level & is_area(shapes))
    surface = surface[np.argsort(features.order[surface], kind="stable")]
    shapes[surface] = uncovered(features, surface, laid=True, ground=ground)
    crown = np.flatnonzero(features.of_role("form") == "tree")
    shapes[crown] = shapely.buffer(shapely.centroid(shapes[crown]), features.diameter[crown] / 2)
    return shapes


def _bare_share(whole: np.ndarray, bare: np.ndarray, tree: np.ndarray) -> np.ndarray:
    """Share of footprints that is counted: of terraces and surfaces what nothing like them covers."""
    size = shapely.area(whole)
    return np.where(tree | (size <= 0), 1.0, shapely.area(bare) / np.where(size > 0, size, 1.0))


def _steps(stack: Stack) -> dict[str, np.ndarray]:
    """Flights, risers and treads; the last riser leads onto what the flight arrives at."""
    count = len(stack.features)
    walks, faces = stack.walks, stack.scene.faces
    flights = np.zeros(count)
    risers = np.zeros(count)
    if walks.flights is not None:
        feature = walks.feature[: walks.flight_count]
        np.add.at(flights, feature, 1)
        np.add.at(risers, feature, walks.flights.risers)
    tread = faces.part == PART_CODE["tread"]
    own = stack.solid_feature[faces.solid[tread]]
    treads = np.bincount(own, minlength=count).astype(float)
    return {"flights": flights, "risers": risers, "treads": treads}


def _earth(earth: Levelling | None, count: int) -> dict[str, np.ndarray]:
    if earth is None:
        return {"cut_m3": np.full(count, np.nan), "fill_m3": np.full(count, np.nan)}
    return {"cut_m3": earth.cut, "fill_m3": earth.fill}


def _first_of_feature(stack: Stack) -> np.ndarray:
    """Whether each row is the first part of its feature."""
    features = stack.features
    key = pd.MultiIndex.from_arrays([features.layer, features.source_id.astype(str)])
    return ~np.asarray(key.duplicated())
