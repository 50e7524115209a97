"""
Whether a recipe fits together: its keys, names, numbers, kinds of results, and files.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from ..checks import nearest
from .placing import is_by_path
from .stepped import From, RecipeError, Step, references

_TAKES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "model": ("model", "site"),
        "drawing": ("drawing", "model", "site"),
        "rows": ("rows", "features"),
    }
)
"""What a kind of input takes beside its own kind: what it can be made of."""


def check_ids(ids: list[Any], values: Mapping[str, Any]) -> None:
    for number, id in enumerate(ids, start=1):
        if id is None:
            raise RecipeError(f'Step {number} names no operation. Add operation = "...".', field="operation")
        if not isinstance(id, str) or not id.strip():
            raise RecipeError(
                f"The id of step {number} must be a text that is not empty, not {id!r}.", field="id", value=id
            )
        if ids.count(id) > 1 or id in values:
            raise RecipeError(
                f"The name {id!r} is taken more than once. Give each step an id of its own.",
                field="id",
                value=id,
            )


def check_kinds(steps: tuple[Step, ...]) -> None:
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
                        f"step {step.id!r}: the input {key!r} takes {_one(inner)}, and {one.name!r} "
                        f"gives {_one(gives[one.name])}. Take it from another step.",
                        field=key,
                        value=one.name,
                    )


def _one(kind: str) -> str:
    """A kind with its article, where it has one."""
    return kind if kind.split(" ")[0] in ("features", "rows") else f"a {kind}"


def check_files(steps: tuple[Step, ...]) -> None:
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


def check_keys(table: Mapping[str, Any], known: tuple[str, ...], where: str) -> None:
    for key in table:
        if key not in known:
            raise RecipeError(f"unknown key {key!r} in {where}. {near(key, known)}", field=key)


def check_numbers(value: Any, where: str) -> None:
    """Refuse numbers that are not finite, however deep they are."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            check_numbers(inner, f"{where}, {key}")
    elif isinstance(value, list):
        for inner in value:
            check_numbers(inner, where)
    elif isinstance(value, float) and not math.isfinite(value):
        raise RecipeError(f"A number in {where} must be finite, not {value}.", value=value, field=where)


def table_of(value: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise RecipeError(f"{where} must be a table.", field=where, value=value)
    return value


def near(word: str, known: Any) -> str:
    words = [str(one) for one in known]
    return nearest(word, words) if words else "There are none."
