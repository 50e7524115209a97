"""
Reference pages of operations, as plain text and as Markdown.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Final

from .operation import Operation, Parameter

WIDTH: Final = 88


def page_of(operation: Operation) -> str:
    """
    Describe an operation to a person.

    Parameters
    ----------
    operation : Operation
        The operation.

    Returns
    -------
    str
        Its summary, its inputs and what it gives.
    """
    parts = [f"{operation.id} {operation.version}: {operation.summary}"]
    parts += [textwrap.fill(text, WIDTH) for text in operation.text.split("\n\n") if text]
    inputs = [
        textwrap.fill(
            f"{one.name}: {_what(one)}. {one.text}", WIDTH, initial_indent="  ", subsequent_indent="      "
        )
        for one in operation.parameters.values()
    ]
    gives = [
        textwrap.fill(f"{one.kind.name}: {one.text}", WIDTH, initial_indent="  ", subsequent_indent="      ")
        for one in operation.results
    ]
    return "\n".join([*parts, "inputs", *(inputs or ["  none"]), "gives", *gives])


def list_of(operations: Iterable[Operation]) -> str:
    """One line for each operation: its id, its version, its summary."""
    rows = list(operations)
    wide = max((len(one.id) for one in rows), default=0)
    return "\n".join(f"{one.id:<{wide}}  {one.version:<5} {one.summary}" for one in rows)


def markdown_of(operations: Mapping[str, Operation]) -> str:
    """
    List operations as a Markdown table.

    Parameters
    ----------
    operations : mapping of str to Operation
        Those to list.

    Returns
    -------
    str
        One row for each: id, inputs (those that must be given come bare), what it gives, summary.
    """
    lines = ["| operation | inputs | gives | what it does |", "|---|---|---|---|"]
    for one in operations.values():
        inputs = ", ".join(
            f"`{name}`" if parameter.required else f"[`{name}`]" for name, parameter in one.parameters.items()
        )
        gives = ", ".join(result.kind.name for result in one.results)
        lines.append(f"| `{one.id}` {one.version} | {inputs} | {gives} | {one.summary} |")
    return "\n".join(lines)


def _what(parameter: Parameter) -> str:
    """Kind, unit, bounds, choices and default of an input."""
    kind = parameter.kind
    said = [kind.name + (f" [{parameter.unit}]" if parameter.unit else "")]
    said += [f"name of the field with the {kind.use}"] if kind.use else []
    said += [_bounds(schema) for schema in kind.schema.get("oneOf", [kind.schema]) if _bounds(schema)]
    if not parameter.required:
        said.append("optional" if parameter.default is None else f"default {plain(parameter.default)}")
    return ", ".join(said)


def _bounds(schema: Mapping[str, Any]) -> str:
    if "enum" in schema:
        return "one of " + ", ".join(map(str, schema["enum"]))
    low = "above" if schema.get("exclusiveMinimum") else "from"
    parts = [f"{low} {schema['minimum']:g}"] if "minimum" in schema else []
    parts += [f"to {schema['maximum']:g}"] if "maximum" in schema else []
    return " ".join(parts)


def plain(value: Any) -> str:
    """
    Write a default as a person would.

    Examples
    --------
    >>> plain(True), plain(2.0)
    ('yes', '2')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return value.isoformat() if isinstance(value, datetime) else str(value)
