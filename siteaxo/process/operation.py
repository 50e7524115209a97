"""
Operations: plain functions with a description that is read off them.

The description says nothing that the function does not say already: types come from its
annotations, texts and units from its docstring, defaults from its signature.
"""

from __future__ import annotations

import inspect
import re
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, TypeVar

from ..checks import nearest
from ..errors import InputError
from ..plugins import INTERFACE, is_foreign
from .docstrings import Docstring, docstring_of
from .kinds import Kind, kind_of
from .things import things

F = TypeVar("F", bound=Callable[..., Any])

SERVICES: Final = ("progress", "store", "log")
"""Parameters that are no inputs: whoever runs the operation lends them."""
_OWN_ID: Final = re.compile(r"[a-z][a-z0-9_]*")
_MARK: Final = "siteaxo_operation"


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """
    One input of an operation.

    Parameters
    ----------
    name : str
        Its name.
    text : str
        What it is.
    kind : Kind
        What values it takes.
    unit : str
        Unit of a number; "" where it has none.
    required : bool
        Whether it must be given.
    default : object
        What is taken when it is not.
    """

    name: str
    text: str
    kind: Kind
    unit: str = ""
    required: bool = True
    default: Any = None


@dataclass(frozen=True, kw_only=True)
class Result:
    """What an operation gives: its name, what it is, its kind and unit."""

    name: str
    text: str
    kind: Kind
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Operation:
    """
    A step of work that describes itself.

    Parameters
    ----------
    id : str
        Its id; those of plug-ins have the office's word in front: ``office.thing``.
    version : str
        Version of what it does; another version never reuses results of the last.
    title, summary, text : str
        A few words, a sentence, and what more there is to say.
    parameters : mapping of str to Parameter
        Its inputs, by name, in the order of the function.
    results : tuple of Result
        What it gives.
    function : callable
        What it runs.

    Examples
    --------
    >>> import siteaxo
    >>> siteaxo.known_operations()["local_plane"]
    <Operation local_plane 1.0: features, plane → features>
    >>> reading = siteaxo.known_operations()["read"]
    >>> list(reading.checked({"source": "blocks.gpkg"})), reading.services
    (['source'], ())
    """

    id: str
    version: str
    title: str
    summary: str
    text: str
    parameters: Mapping[str, Parameter]
    results: tuple[Result, ...]
    function: Callable[..., Any]

    def __call__(self, *args: Any, **options: Any) -> Any:
        """Call the function as it is."""
        return self.function(*args, **options)

    def __repr__(self) -> str:
        inputs = ", ".join(self.parameters)
        gives = ", ".join(result.kind.name for result in self.results)
        return f"<Operation {self.id} {self.version}: {inputs} → {gives}>"

    @property
    def services(self) -> tuple[str, ...]:
        """Which of ``SERVICES`` the function takes."""
        return tuple(name for name in SERVICES if name in inspect.signature(self.function).parameters)

    def checked(self, inputs: Mapping[str, Any], *, pending: frozenset[str] = frozenset()) -> dict[str, Any]:
        """
        Check inputs and make values of them.

        Parameters
        ----------
        inputs : mapping of str to object
            As written in JSON or TOML, or as values.
        pending : frozenset of str
            Inputs that are given later, such as results of other operations.

        Returns
        -------
        dict
            Arguments of the function.

        Raises
        ------
        InputError
            If one is unknown, missing, or not what it should be.
        """
        for name in inputs:
            if name not in self.parameters:
                raise InputError(
                    f"{self.id}: unknown input {name!r}. {nearest(name, self.parameters)}", field=name
                )
        values = {}
        for name, parameter in self.parameters.items():
            if name in pending:
                continue
            if name not in inputs:
                if parameter.required:
                    raise InputError(
                        f"{self.id}: the input {name!r} is missing: {parameter.text}", field=name
                    )
                continue
            values[name] = self._value(parameter, inputs[name])
        return values

    def _value(self, parameter: Parameter, given: Any) -> Any:
        if given is None and (parameter.kind.optional or parameter.default is None):
            return None
        try:
            return parameter.kind.convert(given)
        except InputError as problem:
            ends = "" if str(problem)[-1:] in ".?" else "."
            said = f"{self.id}: the input {parameter.name!r} {problem}{ends}"
            raise problem.saying(said, field=parameter.name) from None


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


__all__ = ["INTERFACE", "Operation", "Parameter", "Result", "operation", "operation_of"]
