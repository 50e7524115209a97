"""
Makers of flights and ramps; what could not be read as one becomes a block.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from ..angles import cos_deg
from ..errors import Finding
from . import limits
from .edges import CREASE, Edges
from .faces import PART_CODE, Faces, normals
from .making import Job, Made, as_prisms, together
from .notes import note

WINDING: Final = 5.0  # facets of a slope that meet at less than this wind up as one [degrees]


def wound_edges(edges: Edges, faces: Faces, solids: np.ndarray) -> Edges:
    """
    Let the facets of slopes that wind up a curve run into one another.

    Parameters
    ----------
    edges : Edges
        Edges of all solids.
    faces : Faces
        Their faces.
    solids : ndarray of int
        The solids that are flights or ramps.

    Returns
    -------
    Edges
        The same, smooth where two facets of a slope meet at less than WINDING, and two of a
        curved riser at less than CREASE.
    """
    if not len(solids):
        return edges
    first = edges.member_start[:-1]
    pair = np.flatnonzero((np.diff(edges.member_start) == 2) & np.isin(edges.solid, solids))
    one, other = edges.face[first[pair]], edges.face[first[pair] + 1]
    normal = normals(faces)
    turn = (normal[one] * normal[other]).sum(axis=1)
    same = faces.part[one] == faces.part[other]
    smooth = edges.smooth.copy()
    for part, most in (("slope", WINDING), ("riser", CREASE)):
        smooth[pair] |= same & (faces.part[one] == PART_CODE[part]) & (turn > cos_deg(most))
    return replace(edges, smooth=smooth)


def make_steps(job: Job, rows: np.ndarray) -> Made:
    """Make flights of steps with their cheek walls."""
    flown = job.walks.flights
    feature = job.walks.feature[: job.walks.flight_count]
    parts = [as_prisms(job, np.setdiff1d(rows, feature))]
    if flown is not None:
        parts.append(Made(faces=flown.climb.faces(np.arange(len(feature))), row=feature))
        walls = np.arange(len(flown.cheek_of))
        if len(walls):
            parts.append(Made(faces=flown.cheeks.faces(walls), row=feature[flown.cheek_of]))
    return together([*parts, _noted(_step_findings(job))])


def make_ramps(job: Job, rows: np.ndarray) -> Made:
    """Make ramps."""
    sloped = job.walks.ramps
    feature = job.walks.feature[job.walks.flight_count :]
    parts = [as_prisms(job, np.setdiff1d(rows, feature))]
    if sloped is not None:
        parts.append(Made(faces=sloped.climb.faces(np.arange(len(feature))), row=feature))
    return together([*parts, _noted(_ramp_findings(job))])


def _noted(findings: list[Finding]) -> Made:
    nothing = together([])
    return Made(faces=nothing.faces, row=nothing.row, findings=tuple(findings))


def _step_findings(job: Job) -> list[Finding]:
    """Say so where risers or treads are unusual."""
    flown, findings = job.walks.flights, []
    if flown is None:
        return []
    row = job.walks.feature
    odd = flown.riser < limits.RISER_LEAST - limits.KEPT
    odd |= flown.riser > limits.RISER_MOST + limits.KEPT
    for k in _once(row, odd):
        message = (
            f"Its {flown.risers[k]} risers are {flown.riser[k]:.3f} m high; "
            f"{limits.RISER_LEAST:.3f} to {limits.RISER_MOST:.3f} m are usual (2010 ADA Standards §504.2)."
        )
        findings.append(
            note(job.features, row[k], "riser-unusual", message, value=f"{flown.riser[k]:.3f} m", of="top")
        )
    for k in _once(row, flown.tread < limits.TREAD_LEAST - limits.KEPT):
        message = (
            f"Its treads are {flown.tread[k]:.3f} m deep; {limits.TREAD_LEAST:.3f} m at least are usual "
            "(2010 ADA Standards §504.2)."
        )
        findings.append(note(job.features, row[k], "tread-short", message, value=f"{flown.tread[k]:.3f} m"))
    return findings


def _once(feature: np.ndarray, odd: np.ndarray) -> np.ndarray:
    """Flights that are odd, one for each feature; a flight all round is two of them."""
    found = np.flatnonzero(odd)
    return np.sort(found[np.unique(feature[found], return_index=True)[1]])


def _ramp_findings(job: Job) -> list[Finding]:
    """Say so where ramps are steeper, or rise higher in one run, than is usual."""
    sloped, findings = job.walks.ramps, []
    if sloped is None:
        return []
    row = job.walks.feature[job.walks.flight_count :]
    for k in np.flatnonzero(sloped.slope > limits.RAMP_SLOPE_MOST * (1 + limits.KEPT)):
        message = (
            f"It slopes at 1:{1 / sloped.slope[k]:.1f}; 1:{1 / limits.RAMP_SLOPE_MOST:.0f} is the usual "
            "limit (2010 ADA Standards §405.2)."
        )
        findings.append(
            note(job.features, row[k], "ramp-steep", message, value=f"1:{1 / sloped.slope[k]:.1f}", of="top")
        )
    for k in np.flatnonzero(sloped.rise_per_run > limits.RAMP_RISE_MOST * (1 + limits.KEPT)):
        short = job.features.landing[row[k]] > 0
        cure = "It is too short for landings as long as its `landing`." if short else "Give it a `landing`."
        message = (
            f"One run rises {sloped.rise_per_run[k]:.3f} m; {limits.RAMP_RISE_MOST:.3f} m is the usual limit "
            f"between landings (2010 ADA Standards §405.6). {cure}"
        )
        findings.append(
            note(
                job.features,
                row[k],
                "ramp-run-high",
                message,
                value=f"{sloped.rise_per_run[k]:.3f} m",
                of="top",
            )
        )
    return findings
