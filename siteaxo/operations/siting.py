"""
From features to a model: make layers and a site of them, check it, stack it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Any, Literal

import geopandas
import pandas as pd

from ..checks import nearest
from ..errors import InputError
from ..process.describing import operation
from ..process.marks import FieldOf
from ..source.layers import Layer, known_keys
from ..source.site import SheetSettings
from ..verbs.models import Model
from ..verbs.sites import Site
from .reading import LEVELS, Height, Level


@operation("layer", version="1.0", title="Make a layer")
def layer(
    features: geopandas.GeoDataFrame,
    *,
    name: str,
    role: str,
    base: Level | None = None,
    top: Level | None = None,
    height: Height | None = None,
    id: Annotated[str | None, FieldOf("id")] = None,
    material: Annotated[str | None, FieldOf("material")] = None,
    unit: Literal["m", "ft", "ft-us"] | None = None,
    more: dict[str, Any] | None = None,
) -> Layer:
    """
    Say what features are, and where their levels are.

    Parameters
    ----------
    features : geopandas.GeoDataFrame
        Features with a CRS.
    name : str
        Name of the layer.
    role : str
        What they are: "terrace", "structure", "wall".
    base, top, height : float or str, optional
        A number, or the name of a field; where all three are left out, the columns base,
        top and height that :func:`levels` gives.
    id, material : str, optional
        Fields with the features' own ids, and with the names of their materials.
    unit : {"m", "ft", "ft-us"}, optional
        Unit of levels and sizes.
    more : dict, optional
        Any other key of a layer: width, shape, pitch.

    Returns
    -------
    Layer
        The layer, for a site.

    Raises
    ------
    InputError
        If a key of *more* is unknown, or has an input of its own.
    """
    given: dict[str, Any] = {"base": base, "top": top, "height": height}
    if all(value is None for value in given.values()):
        given = {key: key if key in features and features[key].notna().any() else None for key in LEVELS}
    given.update(name=name, role=role, source=features, id=id, material=material, unit=unit)
    for key in more or {}:
        others = [one for one in known_keys() if one not in given]
        if key not in others:
            raise InputError(f"layer: unknown key {key!r} in 'more'. {nearest(key, others)}", field=key)
    return Layer(**given, **(more or {}))


@operation("site", version="1.0", title="Make a site")
def site(
    layers: Sequence[Layer],
    *,
    name: str = "site",
    plane: str = "auto",
    base_line: float | str = "auto",
    unit: Literal["m", "ft", "ft-us"] = "m",
    drawn_in_place: float | str = "lowest",
    sheet_unit: Literal["m", "ft", "ft-us"] | None = None,
) -> Site:
    """
    Put layers together as a site.

    Parameters
    ----------
    layers : sequence of Layer
        At least one; their names differ.
    name : str
        Name of the site.
    plane : str
        "auto", or the projected CRS in metres to draw on.
    base_line : float or "auto"
        Direction that lies horizontal before the plan is turned [degrees clockwise from grid north].
    unit : {"m", "ft", "ft-us"}
        Unit of levels in layers that name none.
    drawn_in_place : float or "lowest"
        The level that is not shifted up the sheet.
    sheet_unit : {"m", "ft", "ft-us"}, optional
        What sheets of the site say lengths in; the unit of its levels when left out.

    Returns
    -------
    Site
        The site.
    """
    return Site(
        layers=layers,
        name=name,
        plane_crs=plane,
        base_line=base_line,
        unit=unit,
        drawn_in_place=drawn_in_place,
        sheet=SheetSettings(unit=sheet_unit),
    )


@operation("check", version="1.0")
def check(site: Site) -> pd.DataFrame:
    """
    Read and stack a site, and list what was noticed.

    Parameters
    ----------
    site : Site
        The site.

    Returns
    -------
    pandas.DataFrame
        One row for each finding: severity, code, layer, source_id, field, value, message.
    """
    return site.stack().findings


@operation("stack", version="1.0")
def stack(site: Site, *, progress: Callable[[str, float], None] | None = None) -> Model:
    """
    Settle all levels of a site and build its solids.

    Parameters
    ----------
    site : Site
        The site.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    Model
        The solids, and what was noticed.
    """
    return site.stack(progress=progress)
