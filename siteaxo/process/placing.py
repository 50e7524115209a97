"""
Where the files are that a recipe names: in its own folder, unless more is allowed.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from ..errors import InputError
from ..source.inside import leads_outside
from .kinds import Kind
from .operation import Operation, Parameter

_BY_PATH: Final = ("site", "model", "drawing", "features", "rows")


class Asked(str):
    """A text given by whoever runs a recipe, who may name any file; not one that stands in it."""

    __slots__ = ()


def placed(parameter: Parameter, value: Any, folder: Path, *, allow_outside: bool = False) -> Any:
    """
    Make the paths in a value relative to a folder.

    Parameters
    ----------
    parameter : Parameter
        The input that it is for.
    value : object
        As written in the recipe.
    folder : Path
        The recipe's.
    allow_outside : bool
        Take absolute paths, paths with "..", and links that lead out of the folder.

    Raises
    ------
    InputError
        If a path leads out of the folder and that is not allowed.
    """
    return _placed(parameter.kind, value, folder, allow_outside)


def _placed(kind: Kind, value: Any, folder: Path, allowed: bool) -> Any:
    if isinstance(value, list):
        return [_placed(kind, one, folder, allowed) for one in value]
    if isinstance(value, Mapping):
        if "layer" in kind.name and isinstance(value.get("source"), str):  # a layer, written as a table
            return {**value, "source": _inside(value["source"], folder, allowed)}
        return value
    if not isinstance(value, str):
        return value
    if kind.file == "written" or (kind.file == "read" and kind.name == "file" and kind.schema.get("format")):
        return _inside(value, folder, allowed)
    if kind.file == "read" or is_by_path(kind):
        there = _inside(value, folder, allowed)
        return there if Path(there).is_file() or is_by_path(kind) else str(value)
    return str(value)


def _inside(value: str, folder: Path, allowed: bool) -> str:
    """The path, which must be of a file on disk."""
    if "://" in value or value.startswith("/vsi") or "\0" in value:
        raise InputError(f"{value!r} names no file on disk. Fetch it first, and name the file", value=value)
    if not allowed and not isinstance(value, Asked) and leads_outside(Path(value), folder):
        raise InputError(
            f"{value!r} lies outside the folder of the recipe. Put it beside the recipe, give it as an "
            "input (--input NAME=PATH), or say --allow-outside (allow_outside=True)",
            value=value,
        )
    return str(folder / value)


def is_by_path(kind: Kind) -> bool:
    """Whether a kind of thing may be given as the path of a file."""
    return any(part in _BY_PATH for part in kind.name.removeprefix("list of ").split(" or "))


def by_path(operation: Operation, key: str, value: Any) -> bool:
    """
    Whether a thing is given as the path of a file, which is read when the step runs.

    Raises
    ------
    InputError
        If there is no such file.
    """
    known = operation.parameters.get(key)
    if known is None or not isinstance(value, str):
        return False
    read = known.kind.file == "read" and known.kind.name == "file" and "format" in known.kind.schema
    if not read and not is_by_path(known.kind):
        return False
    if not Path(value).is_file():
        raise InputError(
            f"{operation.id}: the input {key!r} names no file on disk: {value!r}. Check the path and its "
            "spelling.",
            field=key,
            value=value,
        )
    return True
