"""
View studies: which view of a site shows most of what matters.

Shares are those of :mod:`siteaxo.measure.shares`. The *size* is how large what is seen is
drawn: page area by true area, 1 where surfaces are drawn as large as they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from ..angles import sin_deg
from ..checks import finite, nearest
from ..errors import ViewError
from ..solids.stack import Stack
from ..source.roles import in_order
from ..view.choices import Candidate
from ..view.selection import Selection
from ..view.study import Look
from .recommending import Recommendation, recommended
from .shares import Sums, feature_table

AVOID: Final = 0.2
"""Views with a larger share of plan edges that fall on one another are set aside [-]."""
SIZE_WEIGHT: Final = 0.5
COINCIDENCE_WEIGHT: Final = 1.0
_ALIKE: Final = 1e-9  # scores that differ by less are equal [-]


@dataclass(frozen=True, kw_only=True, eq=False)
class StudyTables:
    """
    What a set of views shows of a site.

    Parameters
    ----------
    name : str
        Name of the site.
    stack : Stack
        The solids.
    candidates : tuple of Candidate
        The views as asked for.
    looks : tuple of Look
        What each shows of every face.
    table : pandas.DataFrame
        One row a view, the best first: view, kind, turn, height_factor, mirrored, score,
        share and surface share of everything ("all"), of every target ("target: ...") and
        role ("role: ..."), size, coincidence, set_aside.
    roles, targets, features : pandas.DataFrame
        One row for each view and role, target or feature: facing_m2 and visible_m2 on the
        page, share, surface_m2, seen_m2, surface_share.
    target_rows : mapping of str to ndarray of int
        Features of each target.
    best : Recommendation
        The view that scores highest among those not set aside.
    """

    name: str
    stack: Stack
    candidates: tuple[Candidate, ...]
    looks: tuple[Look, ...]
    table: pd.DataFrame
    roles: pd.DataFrame
    targets: pd.DataFrame
    features: pd.DataFrame
    target_rows: Mapping[str, np.ndarray]
    best: Recommendation


def study_tables(
    stack: Stack,
    candidates: Sequence[Candidate],
    looks: Sequence[Look],
    *,
    name: str,
    targets: Mapping[str, Any] | None = None,
    weights: Mapping[str, float] | None = None,
    avoid: float = AVOID,
) -> dict[str, Any]:
    """
    Judge views by what they show.

    Parameters
    ----------
    stack : Stack
        The solids.
    candidates : sequence of Candidate
        The views.
    looks : sequence of Look
        What each shows.
    name : str
        Name of the site.
    targets : mapping of str to Selection, mapping or str, optional
        What matters: a selection, its keys, or the name of a layer or role.
    weights : mapping of str to float, optional
        Weight of the surface share of "all", of targets and of roles, of the "size", and of
        the "coincidence" of plan edges, which counts against a view. Left out: 1 for every
        target, or for "all" where there is none; 0.5 for size, 1 for coincidence.
    avoid : float
        Views with a greater coincidence are set aside, and planometric views turned by
        0°, 90°, 180° or 270° in any case [0 to 1].

    Returns
    -------
    dict
        The parameters of :class:`StudyTables`.

    Raises
    ------
    ViewError
        If a target has nothing that could be seen, or a weight is unknown or negative.
    LayerError
        If a target is not there.
    """
    sums = Sums.of(stack, looks)
    rows = _target_rows(stack, targets or {}, sums)
    role_rows = _role_rows(stack, sums)
    groups = {
        "all": np.arange(len(stack.features)),
        **{f"target: {key}": one for key, one in rows.items()},
        **{f"role: {key}": one for key, one in role_rows.items()},
    }
    columns = {key: sums.over(one) for key, one in groups.items()}
    scales = _weights(weights, rows, role_rows)
    table = _table(candidates, looks, columns, scales, avoid)
    names = [one.name for one in candidates]
    return {
        "name": name,
        "stack": stack,
        "candidates": tuple(candidates),
        "looks": tuple(looks),
        "table": table,
        "roles": _long(names, "role", {key: columns[f"role: {key}"] for key in role_rows}),
        "targets": _long(names, "target", {key: columns[f"target: {key}"] for key in rows}),
        "features": feature_table(stack, names, sums),
        "target_rows": rows,
        "best": recommended(table, candidates, scales),
    }


def _target_rows(stack: Stack, targets: Mapping[str, Any], sums: Sums) -> dict[str, np.ndarray]:
    found = {}
    for name, given in targets.items():
        rows = Selection.of(given, stack.features).rows(stack.features)
        if not sums.surface[rows].sum() > 0:
            raise ViewError(
                f"Target {name!r} has no surface that a view could show. Choose other features.",
                field="targets",
                value=name,
            )
        found[str(name)] = rows
    return found


def _role_rows(stack: Stack, sums: Sums) -> dict[str, np.ndarray]:
    names = stack.features.of_role("name")
    there = {role: np.flatnonzero(names == role) for role in in_order(names)}
    return {role: rows for role, rows in there.items() if sums.surface[rows].sum() > 0}


def _weights(
    asked: Mapping[str, float] | None, targets: Mapping[str, Any], roles: Mapping[str, Any]
) -> dict[str, float]:
    """Weight of every column that counts."""
    known = {"all": "all", **{key: f"role: {key}" for key in roles}}
    known |= {key: f"target: {key}" for key in targets} | {"size": "size", "coincidence": "coincidence"}
    found = {"size": SIZE_WEIGHT, "coincidence": COINCIDENCE_WEIGHT}
    for key, weight in (asked or {}).items():
        if key not in known:
            raise ViewError(
                f"There is no weight {key!r}. {nearest(str(key), known)}", field="weights", value=key
            )
        found[known[key]] = finite(weight, f"weight of {key!r}", ViewError, least=0.0)
    if not set(found) - {"size", "coincidence"}:
        found |= {f"target: {key}": 1.0 for key in targets} or {"all": 1.0}
    return found


def _table(
    candidates: Sequence[Candidate],
    looks: Sequence[Look],
    columns: Mapping[str, Mapping[str, np.ndarray]],
    weights: Mapping[str, float],
    avoid: float,
) -> pd.DataFrame:
    scored = {key: weight for key, weight in weights.items() if key in columns}
    seen = sum(columns[key]["seen_m2"] for key in scored)
    drawn = sum(columns[key]["visible_m2"] for key in scored)
    size = np.where(seen > 0, drawn / np.where(seen > 0, seen, 1.0), 0.0)
    coincidence = np.array([look.coincidence for look in looks])
    shares = sum(weight * columns[key]["surface_share"] for key, weight in scored.items())
    whole = sum(scored.values()) + weights["size"]
    score = (shares + weights["size"] * np.minimum(size, 1.0)) / (whole if whole > 0 else 1.0)
    views = [one.view for one in candidates]
    square = [view.kind == "planometric" and abs(sin_deg(2 * view.turn)) < 1e-9 for view in views]
    frame = pd.DataFrame(
        {
            "view": [one.name for one in candidates],
            "kind": [view.kind for view in views],
            "turn": [view.turn for view in views],
            "height_factor": [view.height_factor for view in views],
            "mirrored": [one.mirrored for one in candidates],
            "score": score - weights["coincidence"] * coincidence,
            **{key: one["surface_share"] for key, one in columns.items()},
            **{f"{key}, facing": one["share"] for key, one in columns.items()},
            "size": size,
            "coincidence": coincidence,
            "set_aside": (coincidence > avoid) | np.array(square),
        }
    )
    order = np.lexsort((np.arange(len(frame)), -np.round(frame["score"] / _ALIKE), frame["set_aside"]))
    return frame.iloc[order].rename_axis("candidate").reset_index()


def _long(names: list[str], what: str, groups: Mapping[str, Mapping[str, np.ndarray]]) -> pd.DataFrame:
    """One row for each view and group."""
    parts = [pd.DataFrame({"view": names, what: key, **columns}) for key, columns in groups.items()]
    columns = ["view", what, "facing_m2", "visible_m2", "share", "surface_m2", "seen_m2", "surface_share"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)
