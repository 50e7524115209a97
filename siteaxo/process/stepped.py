"""
Steps of a recipe, and what they take from one another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import SiteaxoError
from .operation import Operation


class RecipeError(SiteaxoError, ValueError):
    """A recipe cannot be read, or something in it does not fit together."""

    code = "recipe"


@dataclass(frozen=True)
class From:
    """Stands for what another step gives, or for a value that the recipe names."""

    name: str


@dataclass(frozen=True, kw_only=True)
class Step:
    """
    One operation of a recipe.

    Parameters
    ----------
    id : str
        What its result is called.
    operation : Operation
        What it runs.
    inputs : mapping of str to object
        Values as written, paths made absolute; ``From`` where another step gives them.
    """

    id: str
    operation: Operation
    inputs: Mapping[str, Any]

    @property
    def needs(self) -> tuple[str, ...]:
        """The steps whose results it takes, each once."""
        return tuple(dict.fromkeys(one.name for one in references(self.inputs)))

    @property
    def written(self) -> tuple[Path, ...]:
        """The files it writes."""
        every = self.operation.parameters
        return tuple(
            Path(value)
            for name, value in self.inputs.items()
            if every[name].kind.file == "written" and value is not None
        )


def references(value: Any) -> Iterator[From]:
    """Find every ``From`` within a value."""
    if isinstance(value, From):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from references(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from references(one)


def filled(value: Any, results: Mapping[str, Any]) -> Any:
    """Put what steps gave in place of every ``From`` within a value."""
    if isinstance(value, From):
        return results[value.name]
    if isinstance(value, Mapping):
        return {key: filled(one, results) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [filled(one, results) for one in value]
    return value
