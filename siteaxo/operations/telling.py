"""
What a model tells: pulled apart, step by step, in numbers, and against other states.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, get_args

import geopandas
import pandas as pd

from ..process.describing import operation
from ..process.marks import FieldOf, Reads, Within
from ..verbs.comparing import compare as compare_states
from ..verbs.drawings import Diagram
from ..verbs.models import Model
from .drawing import Factor, Planting, Turn, view_of
from .handing import NewFile, Progress

Step = Literal["plan", "turned", "outlines", "raised", "joined", "removed", "finished"]


@operation("exploded_view", version="1.0")
def exploded_view(
    model: Model,
    *,
    by: Annotated[str, FieldOf("tier")] = "theme",
    gaps: Annotated[float, Within(least=0)] | Literal["auto"] = "auto",
    plan: bool = True,
    labels: bool = True,
    turn: Turn | None = None,
    height_factor: Factor | None = None,
    style: Annotated[str, Reads] | None = None,
    people: bool | None = None,
    planting: Planting | None = None,
    progress: Progress | None = None,
) -> Diagram:
    """
    Pull a model apart upward, tier by tier, with lift lines.

    Parameters
    ----------
    model : Model
        The model.
    by : str
        What makes a tier: "theme", "terrace", "role", "layer", or the name of a field.
    gaps : float or "auto"
        Clear height between tiers; "auto" lifts just so far that nothing hides anything [m].
    plan : bool
        Lay the plan beneath.
    labels : bool
        Write beside each tier what it is.
    turn : float, optional
        Turn of the plan [degrees anticlockwise].
    height_factor : float, optional
        Page metres for one metre of height, in planometric views [-].
    style : str, optional
        Name of a style, or a TOML file that describes one.
    people : bool, optional
        Put people on walkable ground.
    planting : {"outline", "texture", "translucent"}, optional
        How far trees and hedges are drawn.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    Diagram
        The drawing.
    """
    return model.exploded_view(
        view_of(model, None, turn, height_factor),
        by=by,
        gaps=gaps,
        plan=plan,
        labels=labels,
        style=style,
        people=people,
        planting=planting,
        progress=progress,
    )


@operation("sequence", version="1.0", title="Draw step by step")
def sequence(
    model: Model,
    *,
    steps: list[Literal["plan", "turned", "outlines", "raised", "joined", "removed", "finished"]]
    | None = None,
    frames: Annotated[int, Within(least=1, most=60)] = 3,
    turn: Turn | None = None,
    style: Annotated[str, Reads] | None = None,
    progress: Progress | None = None,
) -> list[Diagram]:
    """
    Draw a model step by step, as a drawing comes about by hand.

    Parameters
    ----------
    model : Model
        The model.
    steps : list of str, optional
        The steps; all of them, from the plan to the finished drawing, when left out.
    frames : int
        Drawings in which heights are raised, at most.
    turn : float, optional
        Turn of the plan [degrees anticlockwise].
    style : str, optional
        Name of a style, or a TOML file that describes one.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    list of Diagram
        The drawings, all with one extent.
    """
    view = view_of(model, None, turn, None)
    asked = get_args(Step) if steps is None else tuple(steps)
    return list(model.sequence(view, steps=asked, frames=frames, style=style, progress=progress))


@operation("study", version="1.0", title="View study")
def study(
    model: Model,
    *,
    turns: list[float] | None = None,
    height_factors: list[float] | None = None,
    path: NewFile | None = None,
    progress: Progress | None = None,
) -> pd.DataFrame:
    """
    Find which view shows most of what matters.

    Parameters
    ----------
    model : Model
        The model.
    turns : list of float, optional
        Turns of the plan to look at; those in use when left out [degrees anticlockwise].
    height_factors : list of float, optional
        Page metres for one metre of height to look at; 1 when left out [-].
    path : path, optional
        File for a sheet of the views: .pdf, .svg or .png.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    pandas.DataFrame
        One row for each view, the best first.
    """
    asked: dict[str, Any] = {
        name: one for name, one in (("turns", turns), ("height_factors", height_factors)) if one
    }
    found = model.study(**asked, pictures=path is not None, progress=progress)
    if path is not None:
        found.sheet().savefig(path)
    return pd.DataFrame(found.table)


@operation("quantities", version="1.0")
def quantities(
    model: Model,
    *,
    by: Literal["role", "material", "terrace", "feature"] = "role",
    progress: Progress | None = None,
) -> geopandas.GeoDataFrame:
    """
    Measure a model: numbers, areas, lengths, volumes.

    Parameters
    ----------
    model : Model
        The model.
    by : {"role", "material", "terrace", "feature"}
        What the rows are.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each, on the local plane.
    """
    return model.quantities(by=by, progress=progress)


@operation("cautions", version="1.0", title="List places to look at")
def cautions(model: Model, *, progress: Progress | None = None) -> geopandas.GeoDataFrame:
    """
    List places of a model to look at, such as drops and slopes; it says of none that it complies.

    Parameters
    ----------
    model : Model
        The model.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each place, with the rule that it comes from.
    """
    return model.cautions(progress=progress)


@operation("compare", version="1.0", title="Compare states")
def compare(
    states: Sequence[Model],
    *,
    against: Literal["before", "first"] = "before",
    turn: Turn | None = None,
    path: NewFile | None = None,
    sheet: str = "A1",
    progress: Progress | None = None,
) -> geopandas.GeoDataFrame:
    """
    Tell apart what is new, changed, kept and removed from one state of a site to the next.

    Parameters
    ----------
    states : sequence of Model
        At least two.
    against : {"before", "first"}
        What each is compared with.
    turn : float, optional
        Turn of the plan [degrees anticlockwise].
    path : path, optional
        File for a sheet with all states: .pdf, .svg or .png.
    sheet : str
        Size of that sheet.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for every feature and state from the second on.
    """
    view = view_of(states[0], None, turn, None)
    found = compare_states(states, view, against=against, progress=progress)
    if path is not None:
        found.sheet(sheet=sheet).savefig(path, progress=progress)
    return found.differences
