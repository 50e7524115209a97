"""
Levels at both ends of ramps and flights of steps, which come before those of other surfaces.

The rule
    Every end of a ramp or flight that is seen, and large enough on paper, has its level: on the ramp
    beside its arrow, or at the end of a leader. Ends of one level nearer than 12 mm to
    one another, as on either side of a landing, share it. An end without room for its level is counted
    on the sheet, and a finding says which it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from ..craft.surfaces import has_planes
from ..diagram.layers import PLANE_COLUMNS, DiagramLayers, ViewRecord
from ..errors import Finding
from ..units import length_words, level_words
from .label_rows import LabelRows
from .leaders import LEVEL_LEADERS_MM, with_leader
from .levels import SAME
from .placing import Room, pole
from .slopes import SlopeRegion, levels_on_page

LEAST_MM2: Final = 20.0  # what is seen of a smaller ramp or flight on paper has no levels [mm²]
SHARED_MM: Final = 12.0  # ends of one level so near to one another have one text [mm]
NEAR: Final = 0.02  # what differs from the level of an end by less lies at it [m]
MOST_RISER: Final = 0.5  # the last riser of a flight is lower [m]
CODE: Final = "level-left-out"  # of the findings about ends without room
_NOTHING: Final = np.zeros((0, 2, 2))


@dataclass(frozen=True, kw_only=True)
class End:
    """One end of a ramp or flight: its level [m], a place on the page, and whose it is."""

    level: float
    place: np.ndarray
    layer: str
    source_id: str
    role: str


def mark_ends(
    rows: LabelRows,
    room: Room,
    ends: Iterable[End],
    told: set[tuple[str, str, str]],
    tops: np.ndarray | None = None,
) -> list[End]:
    """
    Write the levels of ends that are not told yet.

    Parameters
    ----------
    rows : LabelRows
        Where they go.
    room : Room
        What they keep away from.
    ends : iterable of End
        The ends.
    told : set of tuple of str
        Layer, id and text of levels that are written already.
    tops : ndarray, optional
        Level of each of the room's first areas that lies level, else NaN: a level is not written on one
        of another level, for which it could be taken [m].

    Returns
    -------
    list of End
        Those without room.
    """
    lost, shared = [], SHARED_MM * rows.scale / 1000
    written: list[End] = []
    quiet = room.quiet
    for one in ends:
        text = level_words(one.level, rows.unit)
        near = (
            abs(one.level - other.level) < SAME and np.hypot(*(one.place - other.place)) < shared
            for other in written
        )
        if (one.layer, one.source_id, text) in told or any(near):
            continue
        what = {"layer": one.layer, "source_id": one.source_id, "role": one.role, "kind": "slope level"}
        if tops is not None:
            room.quiet = quiet.copy()
            room.quiet[: len(tops)] &= ~(np.abs(tops - one.level) >= SAME)
        if with_leader(
            rows, room, one.place[None], text, rows.small_mm, what, LEVEL_LEADERS_MM, mark=_NOTHING
        ):
            written.append(one)
        else:
            lost.append(one)
    room.quiet = quiet
    return lost


def ends_of_ramps(regions: Iterable[SlopeRegion], scale: float) -> Iterator[End]:
    """Both ends of what is seen of ramps, as far as they are seen."""
    for one in regions:
        if one.role != "ramp" or one.region.area < LEAST_MM2 * (scale / 1000) ** 2:
            continue
        for level in (one.high, one.low):
            place = _at_level(one.region, one.plane, level)
            if place is not None:
                yield End(level=level, place=place, layer=one.layer, source_id=one.source_id, role=one.role)


def ends_of_steps(diagram: DiagramLayers, scale: float) -> list[End]:
    """Upper and lower end of each flight of steps, as far as they are seen, in the order of the plan."""
    plan, faces = diagram.plan, diagram.faces
    flights = plan[(plan["role"] == "steps").to_numpy()]
    if not len(flights) or not has_planes(faces):
        return []
    own = faces[((faces["role"] == "steps") & faces["part"].isin(("tread", "riser"))).to_numpy()]
    seen = dict(iter(own.groupby([own["layer"].astype(str), own["source_id"].astype(str)], sort=False)))
    found: list[End] = []
    for layer, source_id, base, top in flights[["layer", "source_id", "base", "top"]].itertuples(index=False):
        rows = seen.get((str(layer), str(source_id)))
        if rows is None or shapely.area(rows.geometry.array).sum() < LEAST_MM2 * (scale / 1000) ** 2:
            continue
        for level in (float(top), float(base)):
            place = _end_of_flight(rows, level, diagram)
            if place is not None:
                what = {"layer": str(layer), "source_id": str(source_id), "role": "steps"}
                found.append(End(level=level, place=place, **what))
    return found


def _end_of_flight(rows: Any, level: float, diagram: DiagramLayers) -> np.ndarray | None:
    """A place on the tread at a level, or on the side of a riser that is there."""
    treads = rows[((rows["part"] == "tread") & ((rows["level_max"] - level).abs() < SAME)).to_numpy()]
    if len(treads):
        parts = shapely.get_parts(np.asarray(treads.geometry.array, dtype=object))
        return pole(parts[int(np.argmax(shapely.area(parts)))])
    risers = rows[(rows["part"] == "riser").to_numpy()]
    at = ((risers["level_min"] - level).abs() < SAME) | ((risers["level_max"] - level).abs() < SAME)
    for _, riser in risers[at.to_numpy()].iterrows():
        place = _at_level(riser.geometry, levels_on_page(riser, diagram.view), level)
        if place is not None:
            return place
    return _over_last_tread(rows, level, diagram.view)


def _over_last_tread(rows: Any, level: float, view: ViewRecord) -> np.ndarray | None:
    """Over the back of the last tread, where the last riser is a side of what a flight leads up to."""
    below = rows["level_max"].where((rows["part"] == "tread") & (rows["level_max"] < level)).max()
    if not level - below < MOST_RISER:
        return None
    at = ((rows["level_max"] - below).abs() < SAME).to_numpy()
    tread, riser = (rows[at & (rows["part"] == part).to_numpy()] for part in ("tread", "riser"))
    if not len(riser):
        return None
    up = view.matrix[:2, :2] @ -riser[list(PLANE_COLUMNS[:2])].to_numpy(dtype=float).mean(axis=0)
    xy = shapely.get_coordinates(np.asarray(tread.geometry.array, dtype=object))
    away = xy @ up / max(float(np.hypot(*up)), 1e-12)
    return np.asarray(_middle(xy[away > away.max() - NEAR]) + (level - below) * view.matrix[:2, 2])


def _at_level(area: shapely.Geometry, plane: np.ndarray, level: float) -> np.ndarray | None:
    """The middle of that side of an area in a plane which lies at a level."""
    xy = shapely.get_coordinates(area)
    side = xy[np.abs(plane[0] + xy @ plane[1:] - level) < NEAR]
    return _middle(side) if len(side) > 1 else None


def _middle(side: np.ndarray) -> np.ndarray:
    """Halfway between the two points that lie farthest apart, nearly."""
    far = side[np.argmax(np.hypot(*(side - side[0]).T))]
    other = side[np.argmax(np.hypot(*(side - far).T))]
    return np.asarray((far + other) / 2)


def no_room(ends: Iterable[End], unit: str) -> tuple[Finding, ...]:
    """Say which levels of ends are not on the sheet."""
    return tuple(
        Finding(
            severity="warning",
            code="level-left-out",
            layer=one.layer,
            source_id=one.source_id,
            value=level_words(one.level, unit),
            message=f"Level {length_words(one.level, unit)} at an end of a {one.role.removesuffix('s')} "
            "is not on the sheet: there is no room for it near by. Take a larger scale or leave out other "
            "labels.",
        )
        for one in ends
    )


def count_in_words(*drawings: DiagramLayers, brief: bool = False) -> str:
    """How many levels of ends have no room on a sheet, in few words for legends; nothing where all have."""
    count = sum(int((drawing.findings["code"] == CODE).sum()) for drawing in drawings)
    levels = "level" if count == 1 else "levels"
    said = f"{count} {levels} left out" if brief else f"{count} {levels} of ramps and steps without room"
    return said if count else ""
