"""
Recipes: operations chained in a TOML file, checked before anything runs.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from ..checks import regular_bytes, toml_of
from ..errors import SiteaxoError
from .fitting import check_files, check_ids, check_keys, check_kinds, check_numbers, near, table_of
from .operation import Operation
from .placing import Asked, by_path, placed
from .stepped import From, RecipeError, Step, references

Find = Callable[[str], Operation]

_KEYS: Final = ("name", "inputs", "step")
_STEP: Final = ("id", "operation", "inputs")


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """
    Operations that feed one another.

    Parameters
    ----------
    name : str
        Its name.
    steps : tuple of Step
        In an order in which they can run.
    folder : path
        What paths are relative to.
    inputs : mapping of str to object
        Values that steps take by name.

    Examples
    --------
    >>> import pathlib, tempfile, geopandas, shapely, siteaxo
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> sheds = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 9, 6)], crs="EPSG:25832")
    >>> sheds.to_file(folder / "sheds.gpkg")
    >>> inputs = 'features = "sheds.gpkg", role = "structure", base = 0, height = 3'
    >>> _ = (folder / "r.toml").write_text(f'[[step]]\\noperation = "levels"\\ninputs = {{ {inputs} }}')
    >>> siteaxo.read_recipe(folder / "r.toml")
    <Recipe 'r': levels (levels)>
    """

    name: str
    steps: tuple[Step, ...]
    folder: Path
    inputs: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))

    def __repr__(self) -> str:
        chain = " → ".join(f"{step.id} ({step.operation.id})" for step in self.steps)
        return f"<Recipe {self.name!r}: {chain}>"


def load_recipe(
    path: str | os.PathLike[str],
    find: Find,
    *,
    inputs: Mapping[str, Any] | None = None,
    allow_outside: bool = False,
) -> Recipe:
    """
    Read a recipe and check that all of it fits together.

    Parameters
    ----------
    path : path
        The TOML file.
    find : callable
        Gives the operation of an id.
    inputs : mapping of str to object, optional
        Other values for some of the recipe's inputs.
    allow_outside : bool
        Take paths in it that lead out of its folder: absolute ones, ones with "..", links. Paths
        in *inputs* may lead anywhere.

    Returns
    -------
    Recipe

    Raises
    ------
    RecipeError
        If it cannot be read or does not fit together; the message says where and what to do.
    """
    file = Path(path)
    try:
        content = toml_of(regular_bytes(file, RecipeError, what="recipe"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as problem:
        raise RecipeError(f"The recipe {str(file)!r} cannot be read: {problem}.", value=file) from None
    try:
        return recipe_of(
            content, find, folder=file.parent, name=file.stem, inputs=inputs, allow_outside=allow_outside
        )
    except RecipeError as problem:
        raise problem.within(str(file)) from None


def recipe_of(
    content: Mapping[str, Any],
    find: Find,
    *,
    folder: Path,
    name: str = "recipe",
    inputs: Mapping[str, Any] | None = None,
    allow_outside: bool = False,
) -> Recipe:
    """
    Make a recipe of its tables; parameters as for :func:`load_recipe`.

    Raises
    ------
    RecipeError
        If something does not fit together.
    """
    check_keys(content, _KEYS, "the recipe")
    check_numbers(content, "the recipe")
    values = dict(table_of(content.get("inputs", {}), "[inputs]"))
    for key in inputs or {}:
        if key not in values:
            raise RecipeError(f"There is no input {key!r} in this recipe. {near(key, values)}", field=key)
    values.update({key: Asked(one) if isinstance(one, str) else one for key, one in (inputs or {}).items()})
    tables = content.get("step", [])
    if not isinstance(tables, list) or not tables or not all(isinstance(one, Mapping) for one in tables):
        raise RecipeError("Write each step under a line of its own, [[step]]; at least one.", field="step")
    ids = [one.get("id", one.get("operation")) for one in tables]
    check_ids(ids, values)
    steps = [
        _step(table, str(id), find, folder=folder, values=values, ids=ids, allow_outside=allow_outside)
        for table, id in zip(tables, ids, strict=True)
    ]
    ordered = _ordered(steps)
    check_kinds(ordered)
    check_files(ordered)
    return Recipe(name=str(content.get("name", name)), steps=ordered, folder=folder, inputs=values)


def _step(
    table: Mapping[str, Any],
    id: str,
    find: Find,
    *,
    folder: Path,
    values: Mapping[str, Any],
    ids: list[Any],
    allow_outside: bool,
) -> Step:
    where = f"step {id!r}"
    check_keys(table, _STEP, where)
    if "operation" not in table:
        raise RecipeError(f'{where} names no operation. Add operation = "...".', field="operation")
    try:
        operation = find(str(table["operation"]))
        every = operation.parameters
        known = [*values, *ids]
        given = {
            key: _named(one, values, known, where)
            for key, one in table_of(table.get("inputs", {}), f"inputs of {where}").items()
        }
        there = {
            key: placed(every[key], one, folder, allow_outside=allow_outside) if key in every else one
            for key, one in given.items()
        }
        pending = frozenset(key for key, one in there.items() if any(references(one)))
        operation.checked(
            {key: one for key, one in there.items() if key in pending or not by_path(operation, key, one)},
            pending=pending | {key for key, one in there.items() if by_path(operation, key, one)},
        )
    except RecipeError:
        raise
    except SiteaxoError as problem:
        raise problem.within(where, kind=RecipeError) from None
    return Step(id=id, operation=operation, inputs=MappingProxyType(there))


def _named(value: Any, values: Mapping[str, Any], known: list[Any], where: str) -> Any:
    """A value as written, with names of inputs replaced and names of steps marked."""
    if isinstance(value, Mapping) and set(value) == {"from"}:
        name = value["from"]
        if name not in known:
            raise RecipeError(f"{where} takes from {name!r}, which is neither a step nor an input. "
                              f"{near(str(name), known)}", field="from", value=name)  # fmt: skip
        return values[name] if name in values else From(name)
    if isinstance(value, Mapping):
        return {key: _named(one, values, known, where) for key, one in value.items()}
    if isinstance(value, list):
        return [_named(one, values, known, where) for one in value]
    return value


def _ordered(steps: list[Step]) -> tuple[Step, ...]:
    """Steps in an order in which each comes after what it takes."""
    waiting: list[Step] = list(steps)
    ready: list[Step] = []
    done: set[str] = set()
    while waiting:
        now = [step for step in waiting if set(step.needs) <= done]
        if not now:
            circle = ", ".join(repr(step.id) for step in waiting)
            raise RecipeError(
                f"The steps {circle} wait for one another. Take one from somewhere else.",
                field="from",
                value=circle,
            )
        ready.append(now[0])
        done.add(now[0].id)
        waiting.remove(now[0])
    return tuple(ready)
