"""
Process descriptions in the open form that servers and clients share.

References
----------
OGC 18-062r2, OGC API - Processes - Part 1: Core 1.0, clause 9 (process description).
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any, Final

from .operation import Operation, Parameter, Result

CORE: Final = "http://www.opengis.net/spec/ogcapi-processes-1/1.0"


def process_of(operation: Operation) -> dict[str, Any]:
    """
    Describe an operation as a process.

    Parameters
    ----------
    operation : Operation
        The operation.

    Returns
    -------
    dict
        A process description, in values that JSON has.

    Examples
    --------
    >>> from siteaxo.registry import operation_named
    >>> process_of(operation_named("draw"))["inputs"]["turn"]["schema"]
    {'type': 'number', 'minimum': -360, 'maximum': 360}
    """
    text = "\n\n".join(part for part in (operation.summary, operation.text) if part)
    return {
        "id": operation.id,
        "version": operation.version,
        "title": operation.title,
        "description": text,
        "jobControlOptions": ["sync-execute"],
        "outputTransmission": ["value", "reference"],
        "inputs": {name: _input(parameter) for name, parameter in operation.parameters.items()},
        "outputs": {result.name: _output(result) for result in operation.results},
    }


def _input(parameter: Parameter) -> dict[str, Any]:
    schema = dict(parameter.kind.schema)
    default = parameter.default
    if default is not None:
        schema["default"] = str(default) if isinstance(default, Path | datetime) else default
    told: dict[str, Any] = {
        "title": parameter.name.replace("_", " "),
        "description": parameter.text,
        "schema": schema,
        "minOccurs": int(parameter.required),
        "maxOccurs": 1,
    }
    further = [("unit", parameter.unit), ("field", parameter.kind.use), ("file", parameter.kind.file)]
    return told | _additional(further)


def _output(result: Result) -> dict[str, Any]:
    told = {"title": result.kind.name, "description": result.text, "schema": dict(result.kind.schema)}
    return told | _additional([("unit", result.unit)])


def _additional(further: list[tuple[str, str]]) -> dict[str, Any]:
    """What the standard has no key for: unit, use of a field, what is done with a file."""
    said = [{"name": name, "value": [value]} for name, value in further if value]
    return {"additionalParameters": {"parameters": said}} if said else {}
