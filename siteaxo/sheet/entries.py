"""
What a legend lists: roles, materials and signs that are drawn, with their tones and patterns.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..craft.finishes import Laying
from ..craft.patterns import FLAT_ROLES, laid
from ..craft.style import Style
from ..craft.surfaces import Surfaces
from ..diagram.alike import alike
from ..diagram.changes import CHANGED, KEPT, NEW, REMOVED
from ..diagram.layers import DiagramLayers
from ..source.roles import ROLES
from ..units import LEVELS_IN
from .compound import line_path
from .ends import count_in_words
from .numbered import keys_of, lost_in_words
from .page import Box

SWATCH_MM: Final = (7.0, 2.7)
_TRIALS: Final = 24
_INSET_MM: Final = 0.2
"""Left free between the marks of a texture and the sides of a swatch [mm]."""
_TOPS: Final = ("top", "tread", "roof", "slope", "floor", "crown")
_TRIAL: Final = Box(left=0.0, bottom=0.0, width=SWATCH_MM[0], height=SWATCH_MM[1])
_TOLD: Final = {"new or changed": (NEW, CHANGED), "kept": (KEPT,)}
_LEAST_SHARE: Final = 0.05
"""Share of an entry's area below which a tone is left out of its swatch."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """
    One line of a legend.

    Parameters
    ----------
    name : str
        What it says.
    fills : tuple of str
        Tones of its swatch, the one that shows most first.
    laying : Laying, optional
        Pattern in its swatch.
    sign : {"", "contour", "hidden", "removed", "former", "level", "water level", "slope", "number", "note"}
        What it shows in place of a swatch.
    """

    name: str
    fills: tuple[str, ...] = ()
    laying: Laying | None = None
    sign: str = ""


def legend_entries(diagram: DiagramLayers, style: Style, *, hidden: bool = False) -> list[Entry]:
    """
    List what is drawn.

    Parameters
    ----------
    diagram : DiagramLayers
        The drawing, dressed for its scale.
    style : Style
        Patterns.
    hidden : bool
        Whether hidden lines are drawn.

    Returns
    -------
    list of Entry
        A role, or each of its materials, in the order in which roles are stacked; where no
        top is seen, the tone that shows most of the rest. Then the signs that are used. First of
        all numbers that stand for call-outs, so that none of them is what a legend has no room for. No
        tones when all faces have one.
    """
    faces, told = diagram.faces, _told(diagram.faces)
    full = faces[faces["change"].isin((NEW, CHANGED))] if told else faces  # what is kept is pale
    entries = _tones(full, style, diagram.scale or 200.0) + told
    if (diagram.edges["kind"] == "contour").any():
        entries.append(Entry(name="contour", sign="contour"))
    if "removed" in diagram.extra:
        entries += _gone(diagram.extra["removed"])
    if hidden and len(diagram.hidden_edges):
        entries.append(Entry(name="hidden line", sign="hidden"))
    if "labels" in diagram.extra:
        labels = diagram.extra["labels"]
        entries[:0] = [Entry(name=key, sign="number") for key in keys_of(labels)]
        marks = labels[labels["kind"].isin(["level", "level mark"])]
        if (marks["role"] != "water").any():
            entries.append(Entry(name=f"level in {LEVELS_IN[diagram.unit]}", sign="level"))
        if (marks["role"] == "water").any():
            entries.append(Entry(name="water level", sign="water level"))
        if (labels["kind"] == "slope mark").any():
            entries.append(Entry(name="fall", sign="slope"))
    return entries


def entries_of_all(drawings: Iterable[DiagramLayers], style: Style, *, hidden: bool = False) -> list[Entry]:
    """
    List what is drawn on a sheet, each once.

    Parameters
    ----------
    drawings : iterable of DiagramLayers
        The drawings, dressed for their scales; that which comes first says how an entry looks.
    style, hidden
        As for :func:`legend_entries`.

    Returns
    -------
    list of Entry
        Numbers first, in their order; then roles and materials; then all other signs; at last how
        many levels of ramps and steps, and call-outs, have no room on any of the drawings.
    """
    found: dict[str, Entry] = {}
    shown = list(drawings)
    for drawing in shown:
        for entry in legend_entries(drawing, style, hidden=hidden):
            found.setdefault(entry.name, entry)
    left_out = (count_in_words(*shown, brief=True), lost_in_words(*shown))
    notes = [Entry(name=words, sign="note") for words in left_out if words]
    return sorted([*found.values(), *notes], key=_rank)


def _rank(entry: Entry) -> tuple[int, int]:
    """Where an entry stands among those of several drawings."""
    if entry.sign == "number":
        return 0, int(entry.name.partition(" ")[0].strip("()"))
    return (2 if entry.sign or entry.name in _TOLD else 1), 0


def _told(faces: Any) -> list[Entry]:
    """What tells new from kept, in the tones that show most of each."""
    if "change" not in faces:
        return []
    entries = []
    for name, changes in _TOLD.items():
        rows = faces[faces["change"].isin(changes)]
        if len(rows):
            area = shapely.area(np.asarray(rows.geometry.array))
            fills, _ = _largest(rows["fill"], area)
            entries.append(Entry(name=name, fills=fills[:3]))
    return entries


def _gone(table: Any) -> list[Entry]:
    """What is removed, and what shows how changed features were, each where there is any."""
    kinds = set(table["kind"])
    removed = [Entry(name="removed", sign="removed")] if REMOVED in kinds else []
    return removed + ([Entry(name="former outline", sign="former")] if CHANGED in kinds else [])


def _largest(fill: Any, area: np.ndarray) -> tuple[tuple[str, ...], np.ndarray]:
    """Tones, that of the largest area first, and the area of each."""
    code, names = pd.factorize(fill, sort=True)
    sums = np.bincount(code, area, len(names))
    order = np.argsort(-sums, kind="stable")
    return tuple(str(names[place]) for place in order), sums[order]


def _tones(faces: Any, style: Style, scale: float) -> list[Entry]:
    if not len(faces):
        return []
    bare = faces["fill"].nunique() < 2  # one tone tells nothing; patterns may
    role = faces["role"].astype(str)
    material = faces["material"].astype(str) if "material" in faces else role.map(lambda _: "")
    area, top = shapely.area(np.asarray(faces.geometry.array)), faces["part"].isin(_TOPS).to_numpy()
    fill, entries = faces["fill"].to_numpy(), []
    for (one, of), rows in alike(pd.DataFrame({"role": role, "material": material}), ["role", "material"]):
        name, tops = _name(one, of), rows[top[rows]]
        seen, most = (tops, 3) if len(tops) else (rows, 1)
        fills, sums = _largest(fill[seen], area[seen])
        shown = fills[: min(most, int((sums > _LEAST_SHARE * sums.sum()).sum()))]
        flat = style.finish(one, of).flat if one in FLAT_ROLES and len(tops) else None
        if not bare or swatch_pattern(flat, _TRIAL, scale) is not None:
            entries.append((_place(one), name, Entry(name=name, fills=shown, laying=flat)))
    return [entry for _, _, entry in sorted(entries, key=lambda one: one[:2])]


def _name(role: str, material: str) -> str:
    """What an entry is called: its material if it is a surface, its role and material, or its role."""
    if not material:
        return role
    theme = ROLES[role].theme if role in ROLES else ""
    return material if theme in ("surfaces", "ground") else f"{role}, {material}"


def _place(role: str) -> int:
    return ROLES[role].order if role in ROLES else len(ROLES)


def swatch_pattern(laying: Laying | None, box: Box, scale: float) -> Any:
    """The pattern of a swatch, at the scale of the drawing, where it is drawn at that scale."""
    if laying is None:
        return None
    if not laying.is_texture:
        laying = replace(laying, along=0.0)
    metres, inset = scale / 1000, _INSET_MM if laying.is_texture else 0.0
    corner = np.array([box.left, box.bottom])
    width, height = box.width * metres, box.height * metres
    room = np.array(
        [shapely.box(*(np.array([inset, inset, box.width - inset, box.height - inset]) * metres))]
    )
    for whole in (True, False) if laying.is_texture else (True,):  # cut marks only where none fits whole
        best, most = np.empty(0, dtype=object), 0
        for trial in range(
            _TRIALS if laying.is_texture else 1
        ):  # marks are strewn: show a spot that has some
            origin = -trial * np.array([[2.3 * width, 1.7 * height]])
            plane = Surfaces(origin=origin, along=np.array([[1.0, 0.0]]), up=np.array([[0.0, 1.0]]))
            _, lines = laid(laying, plane, room, scale=scale, whole=whole)
            count = int(shapely.get_num_geometries(lines).sum())
            if count > most:
                best, most = lines, count
        if most:
            return line_path(shapely.transform(best, lambda xy: xy / metres + corner))
    return None
