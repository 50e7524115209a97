"""
Operations: plain functions with a description of what goes in and what comes out.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from ..checks import nearest
from ..errors import InputError, SiteaxoError
from ..plugins import PlugInError, is_foreign
from .kinds import Kind, brief

SERVICES: Final = ("progress", "store", "log")
"""Parameters that are no inputs: whoever runs the operation lends them."""


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
    >>> import geopandas, shapely, siteaxo
    >>> siteaxo.known_operations()["local_plane"]
    <Operation local_plane 1.0: features, plane → features>
    >>> reading = siteaxo.known_operations()["read"]
    >>> list(reading.checked({"source": "blocks.gpkg"})), reading.services
    (['source'], ())
    >>> sheds = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 9, 6)], crs="EPSG:25832")
    >>> inputs = {"features": sheds, "role": "structure", "base": 0, "height": 3}
    >>> siteaxo.known_operations()["levels"].run(inputs, {})["top"].tolist()
    [3.0]
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

    def run(self, inputs: Mapping[str, Any], services: Mapping[str, Any]) -> Any:
        """
        Check inputs and run the function; faults of a plug-in are told as such.

        A plug-in gets tables of its own, so that nothing it does to them reaches other steps.

        Parameters
        ----------
        inputs : mapping of str to object
            As for :meth:`checked`.
        services : mapping of str to object
            What may be lent, by its name in ``SERVICES``; what the function takes of it is.

        Returns
        -------
        object
            What the function gives.

        Raises
        ------
        InputError
            If an input is unknown, missing, or not what it should be.
        PlugInError
            If the function is that of a plug-in and fails, or gives what it does not say it gives.
        """
        values = self.checked(inputs)
        lent = {name: services[name] for name in self.services if services.get(name) is not None}
        if not is_foreign(self.id):
            return self.function(**values, **lent)
        stops: list[Exception] = []
        if "progress" in lent:
            lent["progress"] = _overheard(lent["progress"], stops)
        try:
            own = {name: _copied(value) for name, value in values.items()}
            return self._given(self.function(**own, **lent))
        except (SiteaxoError, MemoryError):
            raise
        except Exception as fault:
            if fault in stops:
                raise
            raise self._fault(f"failed ({type(fault).__name__}: {fault})") from fault

    def _given(self, result: Any) -> Any:
        """What a plug-in gave, if it is what its description says."""
        try:
            return self.results[0].kind.convert(result) if result is not None else self._optional()
        except InputError:
            said = f"gave {brief(result)}, and says that it gives {self.results[0].kind.name}"
            raise self._fault(said) from None

    def _optional(self) -> None:
        if not self.results[0].kind.optional:
            raise InputError("is nothing")

    def _fault(self, what: str) -> PlugInError:
        place = f"{self.function.__module__}.{self.function.__qualname__}"
        return PlugInError(
            f"The plug-in {self.id!r} {what}. This is a fault of {place}, not of siteaxo or of your data: "
            "tell whoever made it.",
            field=self.id,
        )

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
        if not isinstance(inputs, Mapping):
            raise InputError(f"{self.id}: inputs are a table of names and values, not {brief(inputs)}.")
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
            words = str(problem)
            begins, ends = " " if words[:1].islower() else ": ", "" if words[-1:] in ".?" else "."
            said = f"{self.id}: the input {parameter.name!r}{begins}{words}{ends}"
            raise problem.saying(said, field=parameter.name) from None


def _copied(value: Any) -> Any:
    """A table as a copy; anything else as it is."""
    if isinstance(value, list):
        return [_copied(one) for one in value]
    return value.copy() if isinstance(value, pd.DataFrame) else value


def _overheard(
    progress: Callable[[str, float], None], stops: list[Exception]
) -> Callable[[str, float], None]:
    """A callable for progress that also keeps what it raises to stop the work."""

    def told(stage: str, share: float) -> None:
        try:
            progress(stage, share)
        except Exception as stop:
            stops.append(stop)
            raise

    return told


__all__ = ["SERVICES", "Operation", "Parameter", "Result"]
