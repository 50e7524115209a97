"""
Sheets that hold tables and small pictures, without a drawing scale: frame, title and caution line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from matplotlib.axes import Axes

from ..craft.style import Style
from .canvas import Keep, SheetFigure
from .lettering import RULE_MM, SMALL_MM, TITLE_MM, USUAL_MM, length_mm, letter, rule, rule_box
from .page import Box, Sheet
from .words import CAUTION, plain_text

FRAME_MM: Final = 0.5
PAD_MM: Final = 5.0
HEAD_MM: Final = 21.0
"""Height of the head with the title [mm]."""
FOOT_MM: Final = 8.0
"""Height of the foot with the caution line [mm]."""
SNUG: Final = 0.95
"""Share of its room that a line is broken at; letters on a screen run a little wide [-]."""
LEADING: Final = 1.75
"""From one line of text to the next, by the height of its capitals."""


@dataclass(frozen=True, kw_only=True)
class PlainSheet:
    """
    A sheet with a frame, a title and a caution line, and axes in millimetres over all of it.

    Parameters
    ----------
    figure : SheetFigure
        The figure.
    axes : matplotlib.axes.Axes
        Axes whose unit is a millimetre, from the lower left corner of the sheet.
    space : Box
        What remains for tables and pictures.
    style : Style
        Ink and paper.
    """

    figure: SheetFigure
    axes: Axes
    space: Box
    style: Style

    def write(
        self, x: float, y: float, text: str, height: float = SMALL_MM, *, room: float, align: str = "left"
    ) -> None:
        """Write one line of text at a base line [mm]."""
        letter(self.axes, x, y, text, height, colour=self.style.ink, room_mm=room, align=align)

    def paragraph(
        self, x: float, top: float, text: str, height: float, *, room: float, most: int = 99
    ) -> float:
        """Write lines of text downward from *top* and return where they end [mm]."""
        y = top
        for line in wrapped(text, height, SNUG * room)[:most]:
            y -= height
            self.write(x, y, line, height, room=room + 0.5)
            y -= (LEADING - 1) * height
        return y

    def rule(self, left: float, right: float, y: float, width: float = RULE_MM) -> None:
        """Draw a level line [mm]."""
        rule(self.axes, [left, right], [y, y], width, self.style.ink)

    def fill(self, box: Box, colour: str, *, outline: float = 0.0, gid: str = "box") -> None:
        """Fill a rectangle [mm]."""
        rule_box(self.axes, box, outline, self.style.ink, gid, fill=colour)

    def axes_on(self, box: Box, gid: str) -> Axes:
        """Place bare axes on a box of the sheet."""
        width, height = (size * 25.4 for size in self.figure.get_size_inches())
        place = (box.left / width, box.bottom / height, box.width / width, box.height / height)
        axes = self.figure.add_axes(place, gid=gid, zorder=-1)
        axes.set_axis_off()
        return axes


def plain_sheet(
    *,
    sheet: str,
    orientation: str = "landscape",
    title: str,
    site: str,
    lines: tuple[str, ...] = (),
    caution: str = CAUTION,
    style: Style | None = None,
    keep: Keep | None = None,
) -> PlainSheet:
    """
    Make a sheet with its frame, title and caution line.

    Parameters
    ----------
    sheet, orientation : str
        Size, and "landscape" or "portrait".
    title, site : str
        Heading, and the name of the site beneath it.
    lines : tuple of str
        What is said beside the title.
    caution : str
        What stands at the foot.
    style : Style, optional
        Ink and paper; the muted style when left out.
    keep : callable, optional
        What puts the bytes of ``figure.savefig(path)`` in place.

    Returns
    -------
    PlainSheet

    Raises
    ------
    SheetError
        If the size or the orientation is unknown.
    """
    paper, look = Sheet(name=sheet, orientation=orientation), style or Style()
    figure = SheetFigure(
        width_mm=paper.width_mm,
        height_mm=paper.height_mm,
        title=plain_text(f"{title}, {site}"),
        keep=keep,
        facecolor=look.paper,
    )
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), gid="furniture")
    axes.set_axis_off()
    axes.set_xlim(0.0, paper.width_mm)
    axes.set_ylim(0.0, paper.height_mm)
    frame = paper.frame
    rule_box(axes, frame, FRAME_MM, look.ink, "frame")
    space = Box(
        left=frame.left + PAD_MM,
        bottom=frame.bottom + FOOT_MM + 3.0,
        width=frame.width - 2 * PAD_MM,
        height=frame.height - HEAD_MM - FOOT_MM - 6.0,
    )
    made = PlainSheet(figure=figure, axes=axes, space=space, style=look)
    made.rule(frame.left, frame.right, frame.top - HEAD_MM)
    made.rule(frame.left, frame.right, frame.bottom + FOOT_MM)
    made.write(space.left, frame.bottom + (FOOT_MM - SMALL_MM) / 2, caution, SMALL_MM, room=space.width)
    half = space.width * (0.38 if lines else 1.0)
    made.write(space.left, frame.top - PAD_MM - TITLE_MM, title, TITLE_MM, room=half)
    made.write(space.left, frame.top - PAD_MM - TITLE_MM - 6.5, site, USUAL_MM, room=half)
    y, room = frame.top - 3.2, space.width - half - PAD_MM
    for number, line in enumerate(lines):
        short = number == 0 and len(wrapped(line, USUAL_MM, SNUG * room)) <= 2
        y = made.paragraph(space.left + half + PAD_MM, y, line, USUAL_MM if short else SMALL_MM, room=room)
    return made


def wrapped(text: str, height: float, room: float) -> list[str]:
    """
    Break a text into lines no longer than there is room.

    Examples
    --------
    >>> wrapped("one two three", 1.8, 12.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in plain_text(text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and length_mm(longer, height) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
