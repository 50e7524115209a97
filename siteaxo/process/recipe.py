"""
Recipes: operations chained in a TOML file, checked before anything runs.
"""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from ..checks import nearest, regular_bytes, toml_of
from ..errors import SiteaxoError
from .operation import Operation
from .placing import Asked, by_path, is_by_path, placed

Find = Callable[[str], Operation]

_KEYS: Final = ("name", "inputs", "step")
_STEP: Final = ("id", "operation", "inputs")
_TAKES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "model": ("model", "site"),
        "drawing": ("drawing", "model", "site"),
        "rows": ("rows", "features"),
    }
)
"""What a kind of input takes beside its own kind: what it can be made of."""


class RecipeError(SiteaxoError, ValueError):
    """A recipe cannot be read, or something in it does not fit together."""

    code = "recipe"


@dataclass(frozen=True)
class From:
    """Stands for what another step gives, or for a value that the recipe names."""

    name: str


@dataclass(frozen=True, kw_only=True)
class Step:
    """
    One operation of a recipe.

    Parameters
    ----------
    id : str
        What its result is called.
    operation : Operation
        What it runs.
    inputs : mapping of str to object
        Values as written, paths made absolute; ``From`` where another step gives them.
    """

    id: str
    operation: Operation
    inputs: Mapping[str, Any]

    @property
    def needs(self) -> tuple[str, ...]:
        """The steps whose results it takes, each once."""
        return tuple(dict.fromkeys(one.name for one in references(self.inputs)))

    @property
    def written(self) -> tuple[Path, ...]:
        """The files it writes."""
        every = self.operation.parameters
        return tuple(
            Path(value)
            for name, value in self.inputs.items()
            if every[name].kind.file == "written" and value is not None
        )


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


def references(value: Any) -> Iterator[From]:
    """Find every ``From`` within a value."""
    if isinstance(value, From):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from references(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from references(one)


def filled(value: Any, results: Mapping[str, Any]) -> Any:
    """Put what steps gave in place of every ``From`` within a value."""
    if isinstance(value, From):
        return results[value.name]
    if isinstance(value, Mapping):
        return {key: filled(one, results) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [filled(one, results) for one in value]
    return value


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
    _known(content, _KEYS, "the recipe")
    _check_numbers(content, "the recipe")
    values = dict(_table(content.get("inputs", {}), "[inputs]"))
    for key in inputs or {}:
        if key not in values:
            raise RecipeError(f"There is no input {key!r} in this recipe. {_near(key, values)}", field=key)
    values.update({key: Asked(one) if isinstance(one, str) else one for key, one in (inputs or {}).items()})
    tables = content.get("step", [])
    if not isinstance(tables, list) or not tables or not all(isinstance(one, Mapping) for one in tables):
        raise RecipeError("Write each step under a line of its own, [[step]]; at least one.", field="step")
    ids = [one.get("id", one.get("operation")) for one in tables]
    _check_ids(ids, values)
    steps = [
        _step(table, str(id), find, folder=folder, values=values, ids=ids, allow_outside=allow_outside)
        for table, id in zip(tables, ids, strict=True)
    ]
    ordered = _ordered(steps)
    _check_kinds(ordered)
    _check_files(ordered)
    return Recipe(name=str(content.get("name", name)), steps=ordered, folder=folder, inputs=values)


def _check_ids(ids: list[Any], values: Mapping[str, Any]) -> None:
    for number, id in enumerate(ids, start=1):
        if not isinstance(id, str) or not id.strip():
            raise RecipeError(f'Step {number} names no operation. Add operation = "...".', field="operation")
        if ids.count(id) > 1 or id in values:
            raise RecipeError(
                f"The name {id!r} is taken more than once. Give each step an id of its own.",
                field="id",
                value=id,
            )


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
    _known(table, _STEP, where)
    if "operation" not in table:
        raise RecipeError(f'{where} names no operation. Add operation = "...".', field="operation")
    try:
        operation = find(str(table["operation"]))
        every = operation.parameters
        known = [*values, *ids]
        given = {
            key: _named(one, values, known, where)
            for key, one in _table(table.get("inputs", {}), f"inputs of {where}").items()
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
                              f"{_near(str(name), known)}", field="from", value=name)  # fmt: skip
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


def _check_kinds(steps: tuple[Step, ...]) -> None:
    """Check that what a step gives is what the next takes."""
    gives = {step.id: step.operation.results[0].kind.name for step in steps}
    for step in steps:
        for key, value in step.inputs.items():
            wanted = step.operation.parameters[key].kind.name
            for one in references(value):
                inner = wanted.removeprefix("list of ") if isinstance(value, list) else wanted
                takes = {kind for part in inner.split(" or ") for kind in _TAKES.get(part, (part,))}
                if gives[one.name] not in takes and isinstance(value, From | list):
                    raise RecipeError(
                        f"step {step.id!r}: the input {key!r} takes a {inner}, and {one.name!r} gives "
                        f"a {gives[one.name]}. Take it from another step.",
                        field=key,
                        value=one.name,
                    )


def _check_files(steps: tuple[Step, ...]) -> None:
    """Check that no file is written twice, or both read and written."""
    writer: dict[Path, str] = {}
    for step in steps:
        for path in step.written:
            other = writer.setdefault(path.resolve(), step.id)
            if other != step.id:
                raise RecipeError(
                    f"steps {other!r} and {step.id!r} both write {path}. Rename one.", value=path
                )
    for step in steps:
        for key, value in step.inputs.items():
            kind = step.operation.parameters[key].kind
            reads = kind.file == "read" or is_by_path(kind)
            if reads and isinstance(value, str) and Path(value).resolve() in writer:
                raise RecipeError(
                    f"step {step.id!r} reads {value}, which step {writer[Path(value).resolve()]!r} writes. "
                    "Take it from that step, or give another file.",
                    field=key,
                    value=value,
                )


def _known(table: Mapping[str, Any], known: tuple[str, ...], where: str) -> None:
    for key in table:
        if key not in known:
            raise RecipeError(f"unknown key {key!r} in {where}. {_near(key, known)}", field=key)


def _check_numbers(value: Any, where: str) -> None:
    """Refuse numbers that are not finite, however deep they are."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            _check_numbers(inner, f"{where}, {key}")
    elif isinstance(value, list):
        for inner in value:
            _check_numbers(inner, where)
    elif isinstance(value, float) and not math.isfinite(value):
        raise RecipeError(f"A number in {where} must be finite, not {value}.", value=value, field=where)


def _table(value: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise RecipeError(f"{where} must be a table.", field=where, value=value)
    return value


def _near(word: str, known: Any) -> str:
    words = [str(one) for one in known]
    return nearest(word, words) if words else "There are none."
