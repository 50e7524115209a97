"""
Recipes, read and run with the operations that are installed.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Any

from .process import chain
from .process.recipe import Recipe, load_recipe
from .registry import operation_named


def read_recipe(
    path: str | os.PathLike[str], *, inputs: Mapping[str, Any] | None = None, allow_outside: bool = False
) -> Recipe:
    """
    Read a recipe and check that all of it fits together; nothing runs.

    Parameters
    ----------
    path : path
        A TOML file.
    inputs : mapping of str to object, optional
        Other values for some of the recipe's inputs.
    allow_outside : bool
        Take paths in it that lead out of its folder; paths in *inputs* may lead anywhere.

    Returns
    -------
    Recipe

    Raises
    ------
    RecipeError
        If it cannot be read or does not fit together.

    Examples
    --------
    >>> import pathlib, tempfile, siteaxo
    >>> file = pathlib.Path(tempfile.mkdtemp(), "yard.toml")
    >>> _ = file.write_text('''
    ... [[step]]
    ... operation = "local_plane"
    ... inputs = { features = "no_such.gpkg" }
    ... ''')
    >>> siteaxo.read_recipe(file)
    Traceback (most recent call last):
    ...
    siteaxo.process.stepped.RecipeError: ... names no file on disk: ...
    """
    return load_recipe(path, operation_named, inputs=inputs, allow_outside=allow_outside)


def run_recipe(
    path: str | os.PathLike[str],
    *,
    inputs: Mapping[str, Any] | None = None,
    allow_outside: bool = False,
    reuse: bool = True,
    progress: Callable[[str, float], None] | None = None,
) -> chain.Run:
    """
    Read a recipe and run it.

    Parameters
    ----------
    path : path
        A TOML file; paths in it are relative to it.
    inputs : mapping of str to object, optional
        Other values for some of the recipe's inputs.
    allow_outside : bool
        Take paths in it that lead out of its folder; paths in *inputs* may lead anywhere.
    reuse : bool
        Leave out what has not changed since the last run.
    progress : callable, optional
        Called as ``progress(stage, share)``.

    Returns
    -------
    Run
        What became of each step, and what the last steps gave.

    Raises
    ------
    SiteaxoError
        Of the kind that fits.

    Examples
    --------
    >>> import pathlib, tempfile, siteaxo, geopandas, shapely
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> sheds = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 9, 6)], crs="EPSG:25832")
    >>> sheds.to_file(folder / "sheds.gpkg")
    >>> _ = (folder / "sheds.toml").write_text('''
    ... name = "sheds"
    ... [[step]]
    ... id = "levelled"
    ... operation = "levels"
    ... inputs = { features = "sheds.gpkg", role = "structure", base = 0, height = 3 }
    ... [[step]]
    ... id = "file"
    ... operation = "export_rows"
    ... inputs = { rows = { from = "levelled" }, path = "levelled.gpkg" }
    ... ''')
    >>> [step.state for step in siteaxo.run_recipe(folder / "sheds.toml").steps]
    ['ran', 'ran']
    >>> [step.state for step in siteaxo.run_recipe(folder / "sheds.toml").steps]
    ['not needed', 'unchanged']
    """
    recipe = read_recipe(path, inputs=inputs, allow_outside=allow_outside)
    return chain.run_recipe(recipe, reuse=reuse, progress=progress)
