"""
From drawings to files: figures, GeoPackages, tables.
"""

from __future__ import annotations

import json
import re
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import geopandas
import numpy as np
import pandas as pd
import shapely

from ..errors import OutputError
from ..export.atomic import replacing
from ..export.gpkg import write_gpkg
from ..export.patching import Earlier
from ..export.provenance import add_metadata
from ..export.tables import write_csv
from ..keeping import Store
from ..process.describing import operation
from ..process.marks import Within, Writes
from ..verbs.drawings import Diagram

Progress = Callable[[str, float], None]
NewFile = Annotated[Path, Writes]
DRIVERS = {".gpkg": "GPKG", ".geojson": "GeoJSON", ".fgb": "FlatGeobuf"}


@operation("figure", version="1.0", title="Set on a sheet")
def figure(
    diagram: Diagram,
    path: NewFile,
    *,
    sheet: str | None = None,
    scale: Annotated[float, Within(above=0)] | Literal["fit"] | None = None,
    orientation: Literal["landscape", "portrait", "auto"] | None = None,
    hidden: bool = False,
    levels: bool = True,
    dimensions: bool = False,
    title: str | None = None,
    progress: Progress | None = None,
) -> NewFile:
    """
    Set a drawing on a sheet at a true scale, and write it.

    Parameters
    ----------
    diagram : Diagram
        The drawing.
    path : path
        File to make or replace: .pdf, .svg or .png.
    sheet : str, optional
        Size of the sheet, such as "A3"; what the site asks for when left out.
    scale : float or "fit", optional
        The x of 1:x [-].
    orientation : {"landscape", "portrait", "auto"}, optional
        How the sheet lies.
    hidden : bool
        Draw hidden lines, dashed.
    levels : bool
        Mark levels.
    dimensions : bool
        Give overall dimensions.
    title : str, optional
        Title of the sheet.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    path
        The file.
    """
    made = diagram.figure(
        sheet=sheet,
        scale=scale,
        orientation=orientation,
        hidden=hidden,
        levels=levels,
        dimensions=dimensions,
        title=title,
        progress=progress,
    )
    made.savefig(path, progress=progress)
    return path


@operation("export", version="1.0", title="Write the diagram GeoPackage")
def export(
    diagram: Diagram,
    path: NewFile,
    *,
    frame: Literal["sheet", "map"] = "sheet",
    log: Mapping[str, Any] | None = None,
    store: Store | None = None,
    progress: Progress | None = None,
) -> NewFile:
    """
    Write a drawing as a GeoPackage.

    Parameters
    ----------
    diagram : Diagram
        The drawing.
    path : path
        File to make or replace, ending in .gpkg.
    frame : {"sheet", "map"}
        Page coordinates, or the same drawing laid on the local plane.
    log : mapping, optional
        What was run to make it; it goes into the metadata of the file.
    store : Store, optional
        Where is kept what the file holds, so that only rows that change are written the next time.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    path
        The file.
    """
    if Path(path).suffix.lower() != ".gpkg":
        raise OutputError(
            f"Cannot write {str(path)!r}: the name of a GeoPackage ends in .gpkg.", field="path", value=path
        )
    earlier = None if store is None else Earlier(store, Path(path), diagram.state)
    write_gpkg(
        diagram,
        path,
        frame=frame,
        inputs=diagram.inputs,
        metadata={} if log is None else metadata_of(log),
        earlier=earlier,
        amendment=diagram.amendment,
        progress=progress,
    )
    if earlier is not None:
        earlier.keep()
    return path


def metadata_of(log: Mapping[str, Any]) -> dict[str, str]:
    """Put the log of a recipe into metadata items."""
    return {
        "siteaxo_recipe": str(log["recipe"]),
        "siteaxo_steps": json.dumps(log["steps"], sort_keys=True),
        "siteaxo_versions": json.dumps(log["versions"], sort_keys=True),
    }


@operation("export_rows", version="1.0", title="Write features or rows")
def export_rows(
    rows: geopandas.GeoDataFrame | pd.DataFrame, path: NewFile, *, log: Mapping[str, Any] | None = None
) -> NewFile:
    """
    Write features or rows to a file.

    Parameters
    ----------
    rows : geopandas.GeoDataFrame or pandas.DataFrame
        What is written.
    path : path
        File to make or replace: .csv; or .gpkg, .geojson or .fgb for features.
    log : mapping, optional
        What was run to make it; it goes into the metadata of a GeoPackage.

    Returns
    -------
    path
        The file.

    Raises
    ------
    OutputError
        If the name ends in none of these, or the file cannot be written.
    """
    ending = Path(path).suffix.lower()
    if ending == ".csv":
        plain = pd.DataFrame(rows)
        for name in rows.columns[rows.dtypes == "geometry"]:
            plain[name] = shapely.to_wkt(np.asarray(rows[name].array, dtype=object), rounding_precision=-1)
        write_csv(plain, path)
        return path
    if ending not in DRIVERS or not isinstance(rows, geopandas.GeoDataFrame):
        raise OutputError(
            f"Cannot write {str(path)!r}: features go to .gpkg, .geojson, .fgb or .csv.",
            field="path",
            value=path,
        )
    if ending == ".geojson" and rows.crs is None:
        raise OutputError(
            f"Cannot write {str(path)!r}: page coordinates are no GeoJSON. Use .gpkg.",
            field="path",
            value=path,
        )
    with replacing(path) as temporary:
        table = re.sub(r"\W", "_", Path(path).stem)
        with warnings.catch_warnings():  # rows in page metres have no place on Earth
            warnings.filterwarnings("ignore", "'crs' was not provided", UserWarning)
            rows.to_file(temporary, driver=DRIVERS[ending], layer=table, engine="pyogrio")
        if ending == ".gpkg":
            add_metadata(temporary, {} if log is None else metadata_of(log))
    return path
