"""
The legend: what is drawn, with its tones and patterns as drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch

from ..craft.finishes import Laying
from ..craft.patterns import FLAT_ROLES, laid
from ..craft.style import Style
from ..craft.surfaces import Surfaces
from ..diagram.alike import alike
from ..diagram.changes import CHANGED, KEPT, NEW
from ..diagram.layers import DiagramLayers
from ..plugins import is_foreign
from ..source.roles import ROLES
from ..units import points_from_mm
from .lettering import SMALL_MM, length_mm, letter, rule, rule_box
from .page import Box
from .paths import id_from, line_path

PITCH_MM: Final = 3.58
SWATCH_MM: Final = (7.0, 2.7)
_GAP_MM: Final = 2.4
_TRIALS: Final = 6
_TIGHT: Final = 0.75
"""Share of the usual rows, swatches and gaps to which a legend is tightened that has no room else."""
_MOST_NAME_MM: Final = 30.0
_TOPS: Final = ("top", "tread", "roof", "slope", "floor", "crown")
_TRIAL: Final = Box(left=0.0, bottom=0.0, width=SWATCH_MM[0], height=SWATCH_MM[1])
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
    sign : {"", "contour", "hidden", "removed", "level", "water level"}
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
        top is seen, the tone that shows most of the rest. Then the signs that are used. No
        tones when all faces have one.
    """
    told = _told(diagram.faces)
    entries = told or _tones(diagram.faces, style, diagram.scale or 200.0)
    if (diagram.edges["kind"] == "contour").any():
        entries.append(Entry(name="contour", sign="contour"))
    if "removed" in diagram.extra:
        entries.append(Entry(name="removed", sign="removed"))
    if hidden and len(diagram.hidden_edges):
        entries.append(Entry(name="hidden line", sign="hidden"))
    if "labels" in diagram.extra:
        labels = diagram.extra["labels"]
        marks = labels[labels["kind"].isin(["level", "level mark"])]
        if (marks["role"] != "water").any():
            entries.append(Entry(name="level in metres", sign="level"))
        if (marks["role"] == "water").any():
            entries.append(Entry(name="water level", sign="water level"))
    return entries


def _told(faces: Any) -> list[Entry]:
    """What tells new from kept, in the tones that show most of each."""
    if "change" not in faces:
        return []
    entries = []
    for name, changes in (("new or changed", (NEW, CHANGED)), ("kept", (KEPT,))):
        rows = faces[faces["change"].isin(changes)]
        if len(rows):
            area = shapely.area(np.asarray(rows.geometry.array))
            fills, _ = _largest(rows["fill"], area)
            entries.append(Entry(name=name, fills=fills[:3]))
    return entries


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
        if not bare or _pattern(flat, _TRIAL, scale) is not None:
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


def draw_legend(
    axes: Axes,
    box: Box,
    entries: Sequence[Entry],
    style: Style,
    scale: float,
    *,
    letters_mm: float = SMALL_MM,
) -> None:
    """
    Draw a swatch and a name for every entry, column by column.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes in millimetres.
    box : Box
        Room for it; what finds no room is counted in the last line.
    entries : sequence of Entry
        What to show; a swatch is divided among its tones.
    style : Style
        Ink.
    scale : float
        The x of 1:x, for patterns.
    letters_mm : float
        Height of its letters, which swatches go with [mm].
    """
    size = letters_mm / SMALL_MM
    for tight in (1.0, _TIGHT):
        pitch = max(PITCH_MM * tight, SWATCH_MM[1] + 0.3) * size
        per = max(int((box.height - 1.6) // pitch), 1)
        shown, widths = _fitted(list(entries), per, box.width, size, tight)
        if len(shown) == len(entries) and all(entry.sign != "more" for entry in shown):
            break
    top = box.top - (box.height - per * pitch + pitch - SWATCH_MM[1] * size) / 2
    x = box.left
    for column, width in enumerate(widths):
        for row, entry in enumerate(shown[column * per : (column + 1) * per]):
            _entry(axes, x, top - row * pitch - SWATCH_MM[1] * size, entry, style, scale, size, tight)
        x += width


def _fitted(
    entries: list[Entry], per: int, room: float, size: float = 1.0, tight: float = 1.0
) -> tuple[list[Entry], list[float]]:
    """Entries that find room, and the widths of their columns."""
    lengths = [min(length_mm(_title(one), SMALL_MM), _MOST_NAME_MM) for one in entries]
    for count in range(len(entries), 0, -1):
        left = len(entries) - count
        more = [Entry(name=f"and {left} more", sign="more")] if left else []
        shown = entries[:count] + more
        long = lengths[:count] + [length_mm(_title(one), SMALL_MM) for one in more]
        widths = [
            size * ((SWATCH_MM[0] + 2.0 + _GAP_MM) * tight + max(long[start : start + per]))
            for start in range(0, len(shown), per)
        ]
        if sum(widths) - size * tight * _GAP_MM <= room:
            return shown, widths
    return [], []


def _title(entry: Entry) -> str:
    """What is written beside an entry; of a plug-in's role, the word after the office's."""
    role, comma, material = entry.name.partition(",")
    word = role.rpartition(".")[2].replace("_", " ") if is_foreign(role) else role
    return word[:1].upper() + word[1:] + comma + material


def _entry(
    axes: Axes,
    x: float,
    y: float,
    entry: Entry,
    style: Style,
    scale: float,
    size: float = 1.0,
    tight: float = 1.0,
) -> None:
    """Draw one line of the legend, *size* times as large as usual, its swatch a share of its width."""
    width, height = SWATCH_MM[0] * size * tight, SWATCH_MM[1] * size
    middle = y + height / 2
    if entry.fills:
        box = Box(left=x, bottom=y, width=width, height=height)
        _swatch(axes, box, entry, style, scale)
    elif entry.sign == "contour":
        contour_mm = float(style.weights.widths(["contour"], roles=["ground"], scale=scale)[0])
        rule(axes, [x, x + width], [middle, middle], contour_mm, style.contour_ink)
    elif entry.sign == "hidden":
        hidden_mm = style.weights.of("hidden", scale)
        rule(axes, [x, x + width], [middle, middle], hidden_mm, style.hidden_ink, dashed=True)
    elif entry.sign == "removed":
        rule(axes, [x, x + width], [middle, middle], 0.18, style.ink, dashed=True)
    elif entry.sign == "level":
        rule(axes, [x + 3.1, x + 4.9], [middle, middle], 0.13, style.ink)
        rule(axes, [x + 4.0, x + 4.0], [middle - 0.9, middle + 0.9], 0.13, style.ink)
    elif entry.sign == "water level":
        corners = (
            [x + 3.1, x + 4.9, x + 4.0, x + 3.1],
            [middle + 0.8, middle + 0.8, middle - 0.6, middle + 0.8],
        )
        rule(axes, *corners, 0.13, style.ink)
    letter(
        axes,
        x + width + 2.0 * size * tight,
        y + (height - SMALL_MM * size) / 2,
        _title(entry),
        round(SMALL_MM * size, 6),
        colour=style.ink,
        room_mm=(_MOST_NAME_MM + 0.5) * size,
    )


def _swatch(axes: Axes, box: Box, entry: Entry, style: Style, scale: float) -> None:
    """Draw a rectangle divided evenly among some tones, with the pattern of the first."""
    gid = f"legend_{id_from(entry.name)}"
    width = box.width / len(entry.fills)
    for place, fill in enumerate(entry.fills):
        part = Box(left=box.left + place * width, bottom=box.bottom, width=width, height=box.height)
        rule_box(axes, part, 0.0, style.ink, f"{gid}_{place}", fill=fill)
    lines = _pattern(entry.laying, box, scale)
    if lines is not None:
        patch = PathPatch(
            lines,
            fill=False,
            edgecolor=style.pattern_ink(entry.fills[0]),
            linewidth=points_from_mm(style.weights.of("pattern", scale)),
            capstyle="round",
            clip_on=False,
            snap=False,
            gid=f"{gid}_pattern",
        )
        axes.add_artist(patch)
    rule_box(axes, box, 0.13, style.ink, gid)


def _pattern(laying: Laying | None, box: Box, scale: float) -> Any:
    """The pattern of a swatch, at the scale of the drawing, where it is drawn at that scale."""
    if laying is None:
        return None
    if not laying.is_texture:
        laying = replace(laying, along=0.0)
    metres = scale / 1000
    corner = np.array([box.left, box.bottom])
    room = np.array([shapely.box(0.0, 0.0, box.width * metres, box.height * metres)])
    best, most = np.empty(0, dtype=object), 0
    for trial in range(_TRIALS if laying.is_texture else 1):  # marks are strewn: show a spot that has some
        origin = -trial * metres * np.array([[2.3 * box.width, 1.7 * box.height]])
        plane = Surfaces(origin=origin, along=np.array([[1.0, 0.0]]), up=np.array([[0.0, 1.0]]))
        _, lines = laid(laying, plane, room, scale=scale, whole=False)
        count = int(shapely.get_num_geometries(lines).sum())
        if count > most:
            best, most = lines, count
    return line_path(shapely.transform(best, lambda xy: xy / metres + corner)) if len(best) else None
