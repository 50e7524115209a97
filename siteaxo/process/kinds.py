"""
Kinds of values that operations take and give, read off annotations.

A kind says how a value is written in JSON (its schema), and turns what was written into the
value. Kinds of things that siteaxo holds in memory are written as the path of a file.
"""

from __future__ import annotations

import math
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from numbers import Integral, Real
from pathlib import Path
from typing import Any, Final, Literal

from ..checks import nearest
from ..errors import InputError
from .marks import FieldOf, Reads, Within, Writes, in_words

Json = dict[str, Any]
Convert = Callable[[Any], Any]
_LONGEST: Final = 120


@dataclass(frozen=True, kw_only=True)
class Kind:
    """
    A kind of value.

    Parameters
    ----------
    name : str
        What a person calls it: "number", "text", "site".
    schema : dict
        JSON schema of what is written.
    convert : callable
        Makes the value of what was written; raises InputError.
    use : str
        For names of fields: what the field holds.
    file : {"", "read", "written"}
        For paths: what is done with the file.
    optional : bool
        Whether nothing is a value too.
    """

    name: str
    schema: Json
    convert: Convert
    use: str = ""
    file: str = ""
    optional: bool = False


def brief(value: Any) -> str:
    """
    Say a value in one short line, for a message.

    Examples
    --------
    >>> brief("deck"), brief([1, 2]), brief(range(99)), brief("many words " * 40)
    ("'deck'", '[1, 2]', 'range(0, 99)', 'a str')
    """
    words = repr(value)
    if "\n" in words or len(words) > _LONGEST:
        return f"a {type(value).__name__}"
    return words


def kind_of(annotation: Any, things: Mapping[type, Kind]) -> Kind:
    """
    Read a kind off an annotation.

    Parameters
    ----------
    annotation
        As ``typing.get_type_hints(..., include_extras=True)`` gives it.
    things : mapping of type to Kind
        Kinds of classes.

    Raises
    ------
    TypeError
        If values of that annotation cannot be written down.

    Examples
    --------
    >>> kind_of(Literal["m", "ft"], {}).schema
    {'type': 'string', 'enum': ['m', 'ft']}
    """
    origin, inner = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _annotated(kind_of(inner[0], things), inner[1:])
    if origin is Literal:
        return _choice(inner)
    if origin in (typing.Union, types.UnionType):
        return _either(inner, things)
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        return _PLAIN[dict]
    if origin is not None and isinstance(origin, type) and issubclass(origin, Sequence):
        return _list_of(kind_of(inner[0], things))
    if annotation in _PLAIN:
        return _PLAIN[annotation]
    if isinstance(annotation, type):
        for known, kind in things.items():
            if issubclass(annotation, known):
                return kind
    raise TypeError(
        f"values of {annotation!r} cannot be written down. Take one of float, int, str, bool, Path, "
        f"datetime, Literal[...], list[...], dict, {', '.join(known.__name__ for known in things)}, "
        "or one of them | None"
    )


def _annotated(kind: Kind, marks: tuple[Any, ...]) -> Kind:
    for mark in marks:
        if isinstance(mark, Within):
            kind = _bounded(kind, mark)
        elif isinstance(mark, FieldOf):
            kind = replace(kind, use=mark.use)
        elif mark is Reads or isinstance(mark, Reads):
            kind = replace(kind, name="file", file="read")
        elif mark is Writes or isinstance(mark, Writes):
            kind = replace(kind, name="new file", file="written")
    return kind


def _bounded(kind: Kind, bounds: Within) -> Kind:
    schema = dict(kind.schema)
    for part in schema.get("oneOf", [schema]):
        if part.get("type") not in ("number", "integer"):
            continue
        if math.isfinite(bounds.least):
            part["minimum"] = bounds.least
        if math.isfinite(bounds.above):
            part["minimum"], part["exclusiveMinimum"] = bounds.above, True
        if math.isfinite(bounds.most):
            part["maximum"] = bounds.most

    def convert(value: Any) -> Any:
        made = kind.convert(value)
        if isinstance(made, int | float) and not isinstance(made, bool):
            low = made < bounds.least or made <= bounds.above
            if low or made > bounds.most:
                raise InputError(f"must be {in_words(bounds)}, not {brief(value)}", value=made)
        return made

    return replace(kind, schema=schema, convert=convert)


def _choice(words: tuple[Any, ...]) -> Kind:
    def convert(value: Any) -> Any:
        if value not in words or isinstance(value, bool) != any(w is value for w in (True, False)):
            near = nearest(str(value), map(str, words))
            known = ", ".join(map(repr, words))
            one_of = "one of " if len(words) > 1 else ""
            raise InputError(
                f"must be {one_of}{known}, not {brief(value)}{'. ' + near if near[:3] == 'Did' else ''}",
                value=value,
            )
        return value

    return Kind(name="choice", schema={"type": "string", "enum": list(words)}, convert=convert)


def _list_of(item: Kind) -> Kind:
    def convert(value: Any) -> Any:
        if isinstance(value, str | bytes | Mapping) or not isinstance(value, Sequence):
            raise InputError(f"must be a list, not {brief(value)}", value=value)
        return [item.convert(one) for one in value]

    return Kind(name=f"list of {item.name}", schema={"type": "array", "items": item.schema}, convert=convert)


def _either(inner: tuple[Any, ...], things: Mapping[type, Kind]) -> Kind:
    kinds = [kind_of(one, things) for one in inner if one is not type(None)]
    optional = type(None) in inner
    if len(kinds) == 1:
        return replace(kinds[0], optional=optional)

    def convert(value: Any) -> Any:
        reasons = []
        for kind in kinds:
            try:
                return kind.convert(value)
            except InputError as problem:
                reasons.append(str(problem))
        raise InputError(_or(list(dict.fromkeys(reasons)), f", not {brief(value)}"), value=value)

    uses = [kind.use for kind in kinds if kind.use]
    return Kind(
        name=" or ".join(dict.fromkeys(kind.name for kind in kinds)),
        schema={"oneOf": [dict(kind.schema) for kind in kinds]},
        convert=convert,
        use=uses[0] if uses else "",
        file=next((kind.file for kind in kinds if kind.file), ""),
        optional=optional,
    )


def _or(reasons: list[str], ends: str) -> str:
    """Reasons joined; as one where all end alike."""
    if not all(reason.startswith("must be ") and reason.endswith(ends) for reason in reasons):
        return "; or it ".join(reasons)
    return (
        "must be " + ", or ".join(one.removeprefix("must be ").removesuffix(ends) for one in reasons) + ends
    )


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise InputError(f"must be a finite number, not {brief(value)}", value=value)
    return float(value)


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, Integral):
        raise InputError(f"must be a whole number, not {brief(value)}", value=value)
    return int(value)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise InputError(f"must be a text, not {brief(value)}", value=value)
    return value


def _yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise InputError(f"must be true or false, not {brief(value)}", value=value)
    return value


def _path(value: Any) -> Path:
    if not isinstance(value, str | Path) or not str(value) or "\0" in str(value) or "://" in str(value):
        raise InputError(f"must be the path of a file, not {brief(value)}", value=value)
    return Path(value)


def _time(value: Any) -> datetime:
    try:
        made = value if isinstance(value, datetime) else datetime.fromisoformat(str(value))
    except ValueError:
        raise InputError(
            f"must be a date and time such as 2026-03-20T12:00+00:00, not {brief(value)}", value=value
        ) from None
    return made


def _mapping(value: Any) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise InputError(f"must be a table, not {brief(value)}", value=value)
    return dict(value)


_PLAIN: Final[Mapping[Any, Kind]] = {
    float: Kind(name="number", schema={"type": "number"}, convert=_number),
    int: Kind(name="whole number", schema={"type": "integer"}, convert=_whole),
    str: Kind(name="text", schema={"type": "string"}, convert=_text),
    bool: Kind(name="yes or no", schema={"type": "boolean"}, convert=_yes_or_no),
    Path: Kind(name="path", schema={"type": "string", "format": "uri-reference"}, convert=_path),
    datetime: Kind(name="time", schema={"type": "string", "format": "date-time"}, convert=_time),
    dict: Kind(name="table", schema={"type": "object"}, convert=_mapping),
}
