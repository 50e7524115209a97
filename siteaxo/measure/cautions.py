"""
Cautions: places of a site to look at before anyone builds or walks there.

Each names the rule that it comes from. None says that anything is allowed, safe or
sufficient: local codes govern.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pandas as pd

from ..diagram.tables import table
from ..solids.stack import Stack
from .climbs import ramp_cautions, step_cautions
from .falls import drainage_cautions, walk_cautions
from .noted import Caution
from .overhead import drop_cautions, headroom_cautions
from .thresholds import CautionLimits

COLUMNS: Final = (
    "number",
    "code",
    "subject",
    "layer",
    "source_id",
    "role",
    "value",
    "limit",
    "unit",
    "figure",
    "rule",
    "message",
    "level",
)
LOOKS: Final = (
    drop_cautions,
    ramp_cautions,
    step_cautions,
    headroom_cautions,
    walk_cautions,
    drainage_cautions,
)


def cautions(
    stack: Stack,
    *,
    limits: CautionLimits | None = None,
    crs: Any = None,
    progress: Callable[[str, float], None] | None = None,
) -> Any:
    """
    List the places of a site to look at.

    Parameters
    ----------
    stack : Stack
        The solids.
    limits : CautionLimits, optional
        Thresholds.
    crs : optional
        CRS of the local plane, for the geometries.
    progress : callable, optional
        Called as ``progress("cautions", share)``; it may raise to stop the work.

    Returns
    -------
    geopandas.GeoDataFrame
        One row each, with where it is (a point, or the stretch of an edge), the level
        there, what was measured, the limit and the rule it comes from. Places of one kind
        in one layer share a number. That a place is not listed does not mean that it is
        in order.

    References
    ----------
    2010 ADA Standards §403.3, §405.2, §405.6, §405.7, §504.2; International Building Code
    §1011.5.2 and §1015; common practice for 2R + T, short flights and drainage.
    """
    asked, say = limits or CautionLimits(), progress or (lambda stage, share: None)
    found: list[Caution] = []
    for number, look in enumerate(LOOKS):
        say("cautions", number / len(LOOKS))
        found += look(stack, asked)
    say("cautions", 1.0)
    rows = pd.DataFrame([one.columns(stack.features) for one in found], columns=list(COLUMNS[1:]))
    kind = pd.MultiIndex.from_frame(rows[["code", "layer"]])
    columns = {"number": pd.factorize(kind)[0] + 1, **{name: rows[name] for name in COLUMNS[1:]}}
    place = np.empty(len(found), dtype=object)
    place[:] = [one.place for one in found]
    frame = table(columns, COLUMNS, place)
    return frame if crs is None else frame.set_crs(crs)
