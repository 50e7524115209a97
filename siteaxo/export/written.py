"""
Diagram GeoPackages read back: what was drawn, and the view it was drawn in.
"""

from __future__ import annotations

import json
import os
from typing import Any

import numpy as np
import pyogrio

from ..diagram.layers import ViewRecord
from ..errors import OutputError


def read_written(path: str | os.PathLike[str]) -> tuple[Any, ViewRecord]:
    """
    Read the faces and the view of a diagram GeoPackage.

    Parameters
    ----------
    path : path
        The file, in the sheet frame.

    Returns
    -------
    faces : GeoDataFrame
        The table ``faces``, in page metres, without a CRS.
    view : ViewRecord
        The view; its base line is known for planometric views only (NaN for others), and its
        north is that of the local plane.

    Raises
    ------
    OutputError
        If it cannot be read, is no diagram, or is in the map frame.
    """
    try:
        faces = pyogrio.read_dataframe(path, layer="faces")
        row = pyogrio.read_dataframe(path, layer="view", read_geometry=False).iloc[0]
        matrix = np.array(json.loads(row["matrix"]), dtype=float)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, KeyError, IndexError) as problem:
        raise OutputError(
            f"Cannot read {str(path)!r} as a diagram GeoPackage: {problem}. It needs the tables faces and "
            "view, as `to_gpkg` writes them.",
            value=path,
        ) from None
    if faces.crs is not None and faces.crs.is_projected:
        raise OutputError(
            f"{str(path)!r} is in the map frame, which has no page. Read one written with frame='sheet'.",
            value=path,
        )
    return faces.set_crs(None, allow_override=True), _record(row, matrix)


def _record(row: Any, matrix: np.ndarray) -> ViewRecord:
    """The view as it was, as far as the table tells."""
    north = matrix[:2, 1]
    turned = float(np.degrees(np.arctan2(matrix[1, 0], matrix[0, 0])))
    base_line = (float(row["turn"]) - turned + 180.0) % 360.0 - 180.0
    return ViewRecord(
        kind=str(row["kind"]),
        turn=float(row["turn"]),
        height_factor=float(row["height_factor"]),
        matrix=matrix,
        plane_wkt=str(row["plane_wkt"]),
        origin_x=float(row["origin_x"]),
        origin_y=float(row["origin_y"]),
        drawn_in_place=float(row["drawn_in_place"]),
        north_angle=float(np.degrees(np.arctan2(north[1], north[0]))),
        base_line=base_line if row["kind"] == "planometric" else float("nan"),
    )
