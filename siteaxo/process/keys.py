"""
What the steps of a recipe follow from: their keys, and what is told of them in files.

The key of a step is a hash of all it follows from: the operation and its source, the versions of
the libraries, every input, the content of every file, and the keys of the steps it takes from.
A step that writes a log into its file follows from that, too: it tells the step and those before it.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..keeping import digest
from .fingerprint import file_digest, operation_digest, packages, software, versions
from .recipe import Recipe
from .stepped import From, Step


def keys_of(recipe: Recipe) -> dict[str, str]:
    """Return the key of each step: a hash of all that its result follows from."""
    keys: dict[str, str] = {}
    for step in recipe.steps:
        inputs = [
            [name, _content(step, name, step.inputs[name], keys, recipe.folder)]
            for name in sorted(step.inputs)
        ]
        log = log_of(recipe, step.id) if "log" in step.operation.services else None
        keys[step.id] = digest(software(), operation_digest(step.operation), inputs, log)
    return keys


def _content(step: Step, name: str, value: Any, keys: Mapping[str, str], folder: Path) -> Any:
    """What an input comes down to: a value, the content of a file, or the key of another step."""
    if isinstance(value, From):
        return ["step", keys[value.name]]
    if isinstance(value, Mapping):
        return ["table", *([key, _content(step, name, one, keys, folder)] for key, one in value.items())]
    if isinstance(value, list | tuple):
        return ["list", *(_content(step, name, one, keys, folder) for one in value)]
    kind = step.operation.parameters[name].kind
    if isinstance(value, str) and kind.file != "written" and Path(value).is_file():
        return ["file", told_of(value, folder), file_digest(Path(value))]
    return ["value", told_of(value, folder)]


def log_of(recipe: Recipe, end: str | None = None) -> dict[str, Any]:
    """
    Say what a recipe runs, with versions and inputs, in values that JSON has.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    end : str, optional
        A step: only that one and those before it are told.
    """
    told = {step.id for step in recipe.steps} if end is None else wanted_of(recipe, {end})
    steps = [
        {
            "id": step.id,
            "operation": step.operation.id,
            "version": step.operation.version,
            "inputs": {name: told_of(value, recipe.folder) for name, value in step.inputs.items()},
        }
        for step in recipe.steps
        if step.id in told
    ]
    known = {name: version for name, version in versions().items() if name != "PROJ data"}
    return {"recipe": recipe.name, "steps": steps, "versions": {**known, **packages()}}


def told_of(value: Any, folder: Path) -> Any:
    """Say an input in values that JSON has, paths relative to *folder*."""
    if isinstance(value, From):
        return {"from": value.name}
    if isinstance(value, Mapping):
        return {key: told_of(one, folder) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [told_of(one, folder) for one in value]
    if isinstance(value, str) and Path(value).is_relative_to(folder):
        return Path(value).relative_to(folder).as_posix()
    return value if isinstance(value, str | bool | int | float) or value is None else str(value)


def wanted_of(recipe: Recipe, ends: set[str]) -> set[str]:
    """The steps that must run: those at the ends, and all that they take from."""
    wanted: set[str] = set()
    for step in reversed(recipe.steps):
        if step.id in ends or step.id in wanted:
            wanted |= {step.id, *step.needs}
    return wanted
