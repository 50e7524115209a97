"""
Rows of the table of labels as they come: lines, and the lines that words stand on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import shapely

from ..craft.colours import contrast, luminance, readable_under
from ..craft.style import Style
from ..diagram.tables import extra_table
from .lettering import length_mm
from .placing import Room

READABLE: Final = 4.5  # contrast of text with what lies under it (WCAG 2.2 §1.4.3) [-]
IN_SHADE: Final = 8.5  # contrast with a tone that leaves 4.5 when a shadow dims it by half [-]
FINE_MM: Final = 0.13
PAD_MM: Final = 0.6  # between words and the box they take [mm]
LEVEL_WAY: Final = np.array([1.0, 0.0])


@dataclass
class LabelRows:
    """
    Rows of the table of labels as they come.

    Parameters
    ----------
    scale : float
        The x of 1:x.
    style : Style
        Ink and paper.
    fills : ndarray of object
        Tones of the faces, in the order of the room's areas.
    small_mm, usual_mm : float
        Heights of letters [mm].
    geometry, columns
        What has been added.
    """

    scale: float
    style: Style
    fills: np.ndarray
    small_mm: float
    usual_mm: float
    geometry: list[Any] = field(default_factory=list)
    columns: list[dict[str, Any]] = field(default_factory=list)

    def fill_under(self, room: Room, box: np.ndarray) -> str:
        """
        Tone of the face that holds a box, moved toward the paper until text reads on it.

        The box is left, bottom, right and top, or its four corners, shape (4, 2). "" where no face
        holds it, and in a shadow where it reads without: a shadow is no harm to light letters.
        """
        shape = np.array([shapely.Polygon(box) if box.ndim == 2 else shapely.box(*box)])
        holder = int(room.holders(shape)[0])
        if not 0 <= holder < len(self.fills):
            return ""
        ink, fill = self.style.ink, str(self.fills[holder])
        told = READABLE if luminance(ink) > luminance(fill) else IN_SHADE
        if contrast(ink, fill) >= told and room.in_shade(shape)[0]:
            return ""
        return readable_under(ink, fill, self.style.paper, READABLE)

    def line(self, strokes: Any, what: dict[str, Any]) -> None:
        """Add strokes, shape (n, 2, 2)."""
        self.geometry.append(shapely.multilinestrings(list(shapely.linestrings(np.asarray(strokes)))))
        stroke = {"line_mm": FINE_MM, "colour": self.style.ink, "fill": "", "text": "", "height_mm": 0.0}
        stroke["words"] = ""
        self.columns.append({**stroke, **what})

    def words(
        self, text: str, start: np.ndarray, along: np.ndarray, height: float, what: dict[str, Any]
    ) -> None:
        """Add a text that stands on a line from *start* in the direction *along*."""
        end = start + length_mm(text, height) * self.scale / 1000 * along
        self.geometry.append(shapely.multilinestrings([shapely.linestrings([start, end])]))
        ink = {"line_mm": 0.0, "colour": self.style.ink, "fill": "", "text": text, "height_mm": height}
        ink["words"] = ""
        self.columns.append({**ink, **what})

    def says_near(self, text: str, kind: str, place: np.ndarray, reach: float) -> bool:
        """Whether a text of a kind stands nearer to a place than *reach* [m]."""
        at = shapely.points(place)
        same = (row["text"] == text and row["kind"] == kind for row in self.columns)
        return any(one and at.distance(line) < reach for one, line in zip(same, self.geometry, strict=True))

    def table(self) -> Any:
        """Make the table."""
        names = list(self.columns[0]) if self.columns else []
        values = {name: np.array([row[name] for row in self.columns], dtype=object) for name in names}
        for name in ("line_mm", "height_mm"):
            values[name] = np.array([row[name] for row in self.columns], dtype=float)
        shapes = np.empty(len(self.geometry), dtype=object)
        shapes[:] = self.geometry
        values["draw_order"] = np.where(values["line_mm"] > 0, 0, 1) if names else np.zeros(0, dtype=int)
        return extra_table(shapes, **values)
