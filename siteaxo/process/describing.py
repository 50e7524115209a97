"""
Descriptions read off functions.

A description says nothing that the function does not say already: types come from its
annotations, texts and units from its docstring, defaults from its signature.
"""

from __future__ import annotations

import inspect
import re
import typing
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final, TypeVar

from ..plugins import is_foreign
from .docstrings import Docstring, docstring_of
from .kinds import Kind, kind_of
from .operation import SERVICES, Operation, Parameter, Result
from .things import things

F = TypeVar("F", bound=Callable[..., Any])

_OWN_ID: Final = re.compile(r"[a-z][a-z0-9_]*")
_MARK: Final = "siteaxo_operation"


def operation(id: str, *, version: str, title: str | None = None) -> Callable[[F], F]:
    """
    Describe a function as an operation; the function stays as it is.

    Parameters
    ----------
    id : str
        Its id: ``office.thing`` in a plug-in.
    version : str
        Version of what it does, such as "1.0".
    title : str, optional
        A few words; made of the id when left out.

    Returns
    -------
    callable
        Takes a function, and gives it back.

    Raises
    ------
    TypeError
        If the function cannot be described: an annotation or a docstring is missing.

    Examples
    --------
    >>> @operation("quayside.doubled", version="1.0")
    ... def doubled(length: float) -> float:
    ...     '''
    ...     Double a length.
    ...
    ...     Parameters
    ...     ----------
    ...     length : float
    ...         Any length [m].
    ...
    ...     Returns
    ...     -------
    ...     float
    ...         Twice as much [m].
    ...     '''
    ...     return 2 * length
    >>> doubled(4.0)
    8.0
    >>> operation_of(doubled).parameters["length"].unit
    'm'
    """

    def describe(function: F) -> F:
        setattr(function, _MARK, _described(function, id, version, title))
        return function

    return describe


def operation_of(thing: Any) -> Operation:
    """
    Return the description of a function.

    Raises
    ------
    TypeError
        If it has none.
    """
    if isinstance(thing, Operation):
        return thing
    found = getattr(thing, _MARK, None)
    if not isinstance(found, Operation):
        raise TypeError(f"{thing!r} is no operation: put @siteaxo.operation(...) over the function")
    return found


def _described(function: Callable[..., Any], id: str, version: str, title: str | None) -> Operation:
    if not (is_foreign(id) or _OWN_ID.fullmatch(id)):
        raise TypeError(f"the id {id!r} must be small letters, digits and _, as in office.thing")
    told = docstring_of(function)
    if not told.summary:
        raise TypeError(f"{id}: the function {function.__name__} has no docstring")
    hints = typing.get_type_hints(function, include_extras=True)
    parameters = {
        name: _parameter(id, parameter, hints, told)
        for name, parameter in inspect.signature(function).parameters.items()
        if name not in SERVICES
    }
    return Operation(
        id=id,
        version=version,
        title=title or id.rsplit(".", 1)[-1].replace("_", " ").capitalize(),
        summary=told.summary,
        text=told.extended,
        parameters=MappingProxyType(parameters),
        results=_results(id, hints, told),
        function=function,
    )


def _parameter(id: str, parameter: inspect.Parameter, hints: Mapping[str, Any], told: Docstring) -> Parameter:
    name = parameter.name
    if parameter.kind in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD):
        raise TypeError(f"{id}: *{name} cannot be described; name each input")
    if name not in hints or name not in told.parameters:
        missing = "annotation" if name not in hints else "entry under Parameters in the docstring"
        raise TypeError(f"{id}: the parameter {name!r} has no {missing}")
    entry, required = told.parameters[name], parameter.default is parameter.empty
    return Parameter(
        name=name,
        text=entry.text,
        kind=_kind(id, name, hints[name]),
        unit="" if entry.unit == "-" else entry.unit,
        required=required,
        default=None if required else parameter.default,
    )


def _results(id: str, hints: Mapping[str, Any], told: Docstring) -> tuple[Result, ...]:
    if "return" not in hints or hints["return"] is type(None):
        raise TypeError(f"{id}: the function must say in its annotation what it returns")
    kind = _kind(id, "return", hints["return"])
    entry = told.returns[0] if told.returns else None
    text = entry.text if entry else ""
    name = entry.name if entry and entry.name.isidentifier() else "result"
    unit = entry.unit if entry and entry.unit != "-" else ""
    return (Result(name=name, text=text, kind=kind, unit=unit),)


def _kind(id: str, name: str, annotation: Any) -> Kind:
    try:
        return kind_of(annotation, things())
    except TypeError as problem:
        raise TypeError(f"{id}: {name}: {problem}") from None


__all__ = ["operation", "operation_of"]
