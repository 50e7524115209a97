"""
The frames that a diagram GeoPackage may be in: that of the page, and that of the local plane.

References
----------
ISO 19162:2019 (WKT 2, engineering CRS).
"""

from __future__ import annotations

import hashlib
import json
from typing import Final

import numpy as np

from ..diagram.layers import ViewRecord
from ..errors import ViewError

FRAMES: Final = ("sheet", "map")


def page_crs(view: ViewRecord) -> str:
    """
    CRS of the page as WKT 2: an engineering CRS in metres, right and up.

    The name of its datum carries a short hash of the view, so that drawings of different
    views are never taken to lie in one frame.

    Parameters
    ----------
    view : ViewRecord

    Returns
    -------
    str
        WKT 2, ``ENGCRS``.
    """
    numbers = (*view.matrix.ravel().tolist(), view.origin_x, view.origin_y, view.drawn_in_place)
    words = json.dumps([view.kind, view.plane_wkt, [float(number).hex() for number in numbers]])
    short = hashlib.sha256(words.encode("utf-8")).hexdigest()[:12]
    return (
        f'ENGCRS["Page of a site diagram",EDATUM["Page of view {short}"],CS[Cartesian,2],'
        'AXIS["right",unspecified,ORDER[1]],AXIS["up",unspecified,ORDER[2]],LENGTHUNIT["metre",1]]'
    )


def map_from_page(view: ViewRecord) -> np.ndarray:
    """
    Affine map from page coordinates to the local plane, at the level drawn in place.

    Parameters
    ----------
    view : ViewRecord
        A view that keeps the plan's true shape.

    Returns
    -------
    ndarray, shape (2, 3)
        Turn in the first two columns, shift in the last [m].

    Raises
    ------
    ViewError
        If the view does not keep the plan.
    """
    if not view.keeps_plan:
        raise ViewError(
            f"A view of kind {view.kind!r} has no map frame: it does not keep the plan's true shape. "
            "Use frame='sheet', or draw a planometric view.",
            field="frame",
            value="map",
        )
    turn = np.linalg.inv(view.matrix[:2, :2])
    return np.column_stack([turn, [view.origin_x, view.origin_y]])
