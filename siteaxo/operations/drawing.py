"""
From a model to drawings.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Literal

import geopandas

from ..diagram.layers import EXTRA_TABLES
from ..errors import SheetError
from ..keeping import Store
from ..process.describing import operation
from ..process.marks import Reads, Within
from ..verbs.drawings import Diagram
from ..verbs.models import Model
from ..view.projection import View, make_view
from ..view.sun import Sun

Progress = Callable[[str, float], None]
Turn = Annotated[float, Within(least=-360, most=360)]
Factor = Annotated[float, Within(above=0, most=20)]
FactorOrPlan = Annotated[float, Within(least=0, most=20)]
Scale = Annotated[float, Within(above=0)]
KindOfView = Literal["planometric", "isometric", "dimetric", "trimetric", "cavalier", "cabinet"]
Planting = Literal["outline", "texture", "translucent"]


@operation("draw", version="1.0")
def draw(
    model: Model,
    *,
    kind: KindOfView | None = None,
    turn: Turn | None = None,
    height_factor: FactorOrPlan | None = None,
    style: Annotated[str, Reads] | None = None,
    scale: Scale | Literal["fit"] | None = None,
    people: bool | None = None,
    shadows: datetime | Literal["conventional"] | None = None,
    planting: Planting = "outline",
    threads: Annotated[int, Within(least=1, most=64)] = 2,
    store: Store | None = None,
    progress: Progress | None = None,
) -> Diagram:
    """
    Draw a model with exact hidden-line removal.

    Parameters
    ----------
    model : Model
        The model.
    kind : str, optional
        The view; what the site asks for when left out.
    turn : float, optional
        Turn of the plan [degrees anticlockwise].
    height_factor : float, optional
        Page metres for one metre of height, in planometric views; 0 draws the plan [-].
    style : str, optional
        Name of a style, or a TOML file that describes one.
    scale : float or "fit", optional
        The x of the 1:x that line widths and patterns are for [-].
    people : bool, optional
        Put people on walkable ground.
    shadows : datetime or "conventional", optional
        When the sun casts shadows (with a time zone), or the light by convention.
    planting : {"outline", "texture", "translucent"}
        How far trees and hedges are drawn.
    threads : int
        How many parts of the drawing are worked on at once.
    store : Store, optional
        Where parts of drawings are kept for the next time.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    Diagram
        The drawing.
    """
    return model.draw(
        view_of(model, kind, turn, height_factor),
        style=style,
        scale=scale,
        people=people,
        shadows=shadows,
        planting=planting,
        threads=threads,
        store=store,
        progress=progress,
    )


def view_of(model: Model, kind: str | None, turn: float | None, height_factor: float | None) -> View | None:
    """Make the view that is asked for; None where all is left to the site."""
    asked = {
        name: value for name, value in (("turn", turn), ("height_factor", height_factor)) if value is not None
    }
    settings = model.site.view
    if kind is None and not asked:
        return None
    if kind is None or kind == settings.kind:
        return make_view(settings.kind, **{**settings.options, **asked})
    return make_view(kind, **asked)


@operation("drawn_layer", version="1.0", title="Take one layer of a drawing")
def drawn_layer(
    diagram: Diagram,
    *,
    name: Literal[
        "faces", "edges", "hidden_edges", "plan",
        "patterns", "shadows", "people", "planting", "lift_lines", "labels",
    ] = "faces",
) -> geopandas.GeoDataFrame:  # fmt: skip
    """
    Take one table of a drawing, in page metres.

    Parameters
    ----------
    diagram : Diagram
        The drawing.
    name : str
        The table.

    Returns
    -------
    geopandas.GeoDataFrame
        Its rows; coordinates are metres on the page at full size, x right, y up, without a CRS.

    Raises
    ------
    SheetError
        If the drawing has no such table.
    """
    if name not in EXTRA_TABLES:
        return getattr(diagram, name).copy()
    if name not in diagram.extra:
        known = ", ".join(["faces", "edges", "hidden_edges", "plan", *diagram.extra])
        raise SheetError(f"This drawing has no table {name!r}; it has {known}.", field="name", value=name)
    return diagram.extra[name].copy()


@operation("shadows", version="1.0", title="Cast shadows")
def shadows(
    model: Model,
    *,
    when: datetime | None = None,
    bearing: Annotated[float, Within(least=-360, most=360)] = 315.0,
    elevation: Annotated[float, Within(above=0, most=90)] = 45.0,
    turn: Turn | None = None,
    progress: Progress | None = None,
) -> geopandas.GeoDataFrame:
    """
    Cast shadows of a model, cut to what is seen of it.

    Parameters
    ----------
    model : Model
        The model.
    when : datetime, optional
        A date and time with its zone; the sun is found for the place of the site.
    bearing : float
        Where the light comes from, when no time is given [degrees clockwise from grid north].
    elevation : float
        How high it stands above the horizon [degrees].
    turn : float, optional
        Turn of the plan [degrees anticlockwise].
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each shadow on a visible face, in page metres, without a CRS.
    """
    light = when if when is not None else Sun(bearing=bearing, elevation=elevation)
    drawing = model.draw(view_of(model, None, turn, None), shadows=light, progress=progress)
    empty = drawing.faces.iloc[:0]
    return drawing.extra.get("shadows", empty).copy()
