"""
Rows of the table of labels as they come: lines, and the lines that words stand on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import shapely

from ..craft.colours import contrast, laid_over, readable_under
from ..craft.style import Style
from ..diagram.tables import extra_table
from .lettering import length_mm
from .placing import Room

READABLE: Final = 4.5  # contrast of text with what lies under it (WCAG 2.2 §1.4.3) [-]
VISIBLE: Final = 3.0  # contrast of what is seen, if not read (WCAG 2.2 §1.4.11) [-]
SLIVER: Final = 0.08  # share of a box of words that does not count [-]
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
    unit : {"m", "ft", "ft-us"}
        What the words speak.
    geometry, columns
        What has been added.
    """

    scale: float
    style: Style
    fills: np.ndarray
    small_mm: float
    usual_mm: float
    unit: str = "m"
    geometry: list[Any] = field(default_factory=list)
    columns: list[dict[str, Any]] = field(default_factory=list)

    def look_on(self, room: Room, box: np.ndarray) -> dict[str, str]:
        """
        Colour of a text, and ``fill``, the tone of a halo about its letters, "" where it needs none.

        The text is in the ink, but where that is hardly seen in the colour of the paper. It has a
        halo where it could not be read on what is seen within the box: left, bottom, right and
        top, or its four corners, shape (4, 2).
        """
        tones = self._beneath(room, shapely.Polygon(box) if box.ndim == 2 else shapely.box(*box))
        ink, paper = self.style.ink, self.style.paper
        if not tones:
            return {"colour": ink, "fill": ""}
        least, worst = min((contrast(ink, tone), tone) for tone in tones)
        other, against = min((contrast(paper, tone), tone) for tone in tones)
        if least < VISIBLE and other > least:
            ink, paper, least, worst = paper, ink, other, against
        return {
            "colour": ink,
            "fill": "" if least >= READABLE else readable_under(ink, worst, paper, READABLE),
        }

    def _beneath(self, room: Room, shape: shapely.Geometry) -> list[str]:
        """Tones that are seen within a shape, but for slivers, in the light and in the shadows there."""
        tones = set()
        for row, shade in room.seen_within(shape, SLIVER * shape.area):
            if row < len(self.fills):
                tone = str(self.fills[row])
                tones.add(laid_over(shade[0], tone, shade[1]) if shade else tone)
        return sorted(tones)

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
