"""
All operations: those of siteaxo, and those that plug-ins add.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from .checks import nearest
from .craft.stylefile import added_styles
from .craft.symbols import added_symbols
from .errors import InputError
from .operations import OPERATIONS
from .plugins import PlugInError, PlugIns, is_foreign, look_again, plug_ins
from .process.describing import operation_of
from .process.ogc import process_of
from .process.operation import Operation
from .solids.added import added_forms
from .source.roles import added_roles

__all__ = ["all_plug_ins", "describe", "known_operations", "left_out", "look_again", "operation_named", "run"]


@functools.cache
def _own() -> Mapping[str, Operation]:
    found = [operation_of(function) for function in OPERATIONS]
    return {one.id: one for one in found}


def _fits(name: str, value: Any) -> Operation:
    """Check that what an entry point names is an operation of that id."""
    described = operation_of(value)
    if described.id != name:
        raise PlugInError(
            f"its entry point is called {name!r} and its operation {described.id!r}",
            field=name,
            value=described.id,
        )
    return described


def left_out() -> PlugIns:
    """Return the operations of plug-ins; its ``findings`` say which are left out, and why."""
    return plug_ins("siteaxo.operations", _fits)


def all_plug_ins() -> dict[str, PlugIns]:
    """
    Return the plug-ins of every kind, by the name of the kind.

    Examples
    --------
    >>> list(all_plug_ins())
    ['operations', 'roles', 'forms', 'styles', 'symbols']
    """
    return {
        "operations": left_out(),
        "roles": added_roles(),
        "forms": added_forms(),
        "styles": added_styles(),
        "symbols": added_symbols(),
    }


def known_operations() -> dict[str, Operation]:
    """
    Return every operation by its id: those of siteaxo first, then those of plug-ins.

    Returns
    -------
    dict of str to Operation

    Examples
    --------
    >>> import siteaxo
    >>> "draw" in siteaxo.known_operations()
    True
    """
    return {**_own(), **{name: one.value for name, one in left_out().found.items()}}


def operation_named(id: str) -> Operation:
    """
    Return the operation of an id.

    Parameters
    ----------
    id : str
        Such as "draw", or "office.thing" for that of a plug-in.

    Raises
    ------
    InputError
        If there is none; the message names the nearest.
    PlugInError
        If it is that of a plug-in that is broken or not installed.

    Examples
    --------
    >>> operation_named("draw").version
    '1.0'
    """
    own = _own()
    if id in own:
        return own[id]
    if is_foreign(id):
        found: Operation = left_out().get(id, "operation")
        return found
    raise InputError(
        f"Unknown operation {id!r}. {nearest(id, known_operations())}", field="operation", value=id
    )


def describe(id: str) -> dict[str, Any]:
    """
    Describe an operation as an OGC API - Processes 1.0 process.

    Parameters
    ----------
    id : str
        The operation.

    Returns
    -------
    dict
        Values that JSON has.

    Examples
    --------
    >>> import siteaxo
    >>> siteaxo.describe("export")["inputs"]["frame"]["schema"]["enum"]
    ['sheet', 'map']
    """
    return process_of(operation_named(id))


def run(id: str, inputs: Mapping[str, Any] | None = None, **services: Any) -> Any:
    """
    Check the inputs of an operation and run it.

    Parameters
    ----------
    id : str
        The operation.
    inputs : mapping of str to object
        As JSON would have them, or as values: a site may be the path of its site file.
    **services
        What is no input: ``progress``, ``store``.

    Returns
    -------
    object
        What the operation gives.

    Raises
    ------
    InputError
        If an input is unknown, missing, or not what it should be.
    PlugInError
        If it is that of a plug-in that fails.

    Examples
    --------
    >>> import siteaxo
    >>> siteaxo.run("check", {"sight": "site.toml"})
    Traceback (most recent call last):
    ...
    siteaxo.errors.InputError: check: unknown input 'sight'. Did you mean 'site'?
    """
    return operation_named(id).run({} if inputs is None else inputs, services)
