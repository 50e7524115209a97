"""
Several drawings on one sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal

from ..process.describing import operation
from ..process.marks import Within
from ..verbs.drawings import Diagram
from .handing import NewFile, Progress

Scale = Annotated[float, Within(above=0)] | Literal["fit"]


@operation("side_by_side", version="1.0", title="Set side by side")
def side_by_side(
    diagrams: Sequence[Diagram],
    path: NewFile,
    *,
    sheet: str = "A1",
    scale: Scale = "fit",
    orientation: Literal["landscape", "portrait"] = "landscape",
    columns: Annotated[int, Within(least=1)] | None = None,
    title: str | None = None,
    progress: Progress | None = None,
) -> NewFile:
    """
    Set several drawings on one sheet, all at one scale, and write it.

    Parameters
    ----------
    diagrams : sequence of Diagram
        The drawings.
    path : path
        File to make or replace: .pdf, .svg or .png.
    sheet : str
        Size of the sheet.
    scale : float or "fit"
        The x of 1:x [-].
    orientation : {"landscape", "portrait"}
        How the sheet lies.
    columns : int, optional
        How many lie side by side.
    title : str, optional
        Title of the sheet.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    path
        The file.
    """
    from ..verbs import boards

    say = progress or (lambda stage, share: None)
    say("labels", 0.0)
    made = boards.side_by_side(
        diagrams, sheet=sheet, scale=scale, orientation=orientation, columns=columns, title=title
    )
    say("labels", 1.0)
    made.savefig(path, progress=progress)
    return path


@operation("board", version="1.0", title="Compose a board")
def board(
    main: Diagram,
    path: NewFile,
    *,
    plan: Diagram | None = None,
    exploded: Diagram | None = None,
    sheet: str = "A1",
    orientation: Literal["landscape", "portrait"] = "landscape",
    scale: Scale = "fit",
    title: str | None = None,
    subtitle: str | None = None,
    progress: Progress | None = None,
) -> NewFile:
    """
    Compose drawings at scales of their own with title, legend and cautions, and write the sheet.

    Parameters
    ----------
    main : Diagram
        The drawing in the middle.
    path : path
        File to make or replace: .pdf, .svg or .png.
    plan : Diagram, optional
        The plan, at the upper left.
    exploded : Diagram, optional
        The exploded view, on the right.
    sheet : str
        Size of the sheet.
    orientation : {"landscape", "portrait"}
        How the sheet lies.
    scale : float or "fit"
        The x of 1:x of the drawing in the middle; the others fit their boxes [-].
    title : str, optional
        Title of the sheet; the site's name when left out.
    subtitle : str, optional
        What stands under the title.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    path
        The file.
    """
    from ..verbs import boards

    say = progress or (lambda stage, share: None)
    say("labels", 0.0)
    given = {"plan": plan, "main": main, "exploded": exploded}
    made = boards.board(
        {name: one for name, one in given.items() if one is not None},
        sheet=sheet,
        orientation=orientation,
        scales={"main": scale},
        title=title,
        subtitle=subtitle,
    )
    say("labels", 1.0)
    made.savefig(path, progress=progress)
    return path
