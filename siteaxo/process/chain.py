"""
Recipes run: what has changed is done again, what has not is left as it is.

The key of a step is a hash of all it follows from: the operation and its source, the versions of
the libraries, every input, the content of every file, and the keys of the steps it takes from.
A step that writes a log into its file follows from that, too: it tells the step and those before it.
A step that writes files is left out if its key is that of the last run and the files are still
those it wrote; steps that nobody needs then do not run at all. Within a drawing, parts are kept
in a store under keys of their own.
"""

from __future__ import annotations

import contextlib
import json
import logging
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ..errors import InputError, OutputError
from ..export.atomic import write_bytes
from ..keeping import Forgetful, digest
from .fingerprint import file_digest, operation_digest, software, versions
from .recipe import Recipe
from .stepped import From, RecipeError, Step, filled
from .store import FolderStore

Progress = Callable[[str, float], None]
LOGGER: Final = logging.getLogger("siteaxo")
_RECORD: Final = "steps.json"


@dataclass(frozen=True, kw_only=True)
class Done:
    """What became of one step: its key, whether it ran or was left as it was, and how long it took [s]."""

    id: str
    operation: str
    version: str
    key: str
    state: str
    seconds: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Run:
    """
    A recipe that has run.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    steps : tuple of Done
        What became of each step: "ran", "unchanged" or "not needed".
    results : dict of str to object
        What the last steps gave, by id.
    log : dict
        What ran, with versions and inputs, in values that JSON has.

    Examples
    --------
    >>> import pathlib, tempfile, geopandas, shapely, siteaxo
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> sheds = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 9, 6)], crs="EPSG:25832")
    >>> sheds.to_file(folder / "sheds.gpkg")
    >>> inputs = 'features = "sheds.gpkg", role = "structure", base = 0, height = 3'
    >>> _ = (folder / "r.toml").write_text(f'[[step]]\\noperation = "levels"\\ninputs = {{ {inputs} }}')
    >>> run = siteaxo.run_recipe(folder / "r.toml")
    >>> run.results["levels"]["top"].tolist()
    [3.0]
    """

    recipe: Recipe
    steps: tuple[Done, ...]
    results: dict[str, Any]
    log: dict[str, Any]

    def __repr__(self) -> str:
        lines = [f"<Run of {self.recipe.name!r}>"]
        wide = max(len(step.id) for step in self.steps)
        for step in self.steps:
            took = f"  {step.seconds:.1f} s" if step.state == "ran" else ""
            lines.append(f"  {step.id:<{wide}}  {step.state}{took}")
        return "\n".join(lines)


def run_recipe(
    recipe: Recipe,
    *,
    reuse: bool = True,
    store: FolderStore | None = None,
    progress: Progress | None = None,
) -> Run:
    """
    Run a recipe.

    Parameters
    ----------
    recipe : Recipe
        The recipe, checked.
    reuse : bool
        Leave out what has not changed since the last run, and use kept parts.
    store : FolderStore, optional
        Where parts are kept: a folder beside the recipe when left out.
    progress : callable, optional
        Called as ``progress(stage, share)``; it may raise to stop.

    Returns
    -------
    Run

    Raises
    ------
    SiteaxoError
        Of the kind that fits, from the step that fails; files of steps before it are whole.
    """
    keep = store or FolderStore(folder_of(recipe))
    keys = keys_of(recipe)
    log = log_of(recipe)
    before = _read_record(keep.folder) if reuse else {}
    last = {step.id for step in recipe.steps if not step.written} - {n for s in recipe.steps for n in s.needs}
    same = {
        step.id for step in recipe.steps if step.written and _unchanged(step, keys, before, recipe.folder)
    }
    wanted = _wanted(recipe, {s.id for s in recipe.steps if s.written and s.id not in same} | last)
    services = {"store": keep if reuse else Forgetful()}
    results: dict[str, Any] = {}
    done: list[Done] = []
    record = dict(before)
    uses = [name for step in recipe.steps if step.id in wanted for name in step.needs]
    for step in recipe.steps:
        if step.id not in wanted:
            done.append(_done(step, keys, "unchanged" if step.id in same else "not needed"))
            continue
        begun = time.perf_counter()
        say = _share_of(progress, step.id, len([d for d in done if d.state == "ran"]), len(wanted))
        LOGGER.info("%s: %s %s", step.id, step.operation.id, step.operation.version)
        results[step.id] = _result(
            step, results, {**services, "log": log_of(recipe, step.id), "progress": say}
        )
        done.append(_done(step, keys, "ran", time.perf_counter() - begun))
        record[step.id] = {"key": keys[step.id], "files": _files(step, recipe.folder)}
        for name in step.needs:
            uses.remove(name)
            if name not in uses and name not in last:
                del results[name]
    if reuse:
        _write_record(keep.folder, {step.id: record[step.id] for step in recipe.steps if step.id in record})
        keep.sweep()
    final = {name: value for name, value in results.items() if name in last or _of(recipe, name).written}
    return Run(recipe=recipe, steps=tuple(done), results=final, log=log)


def folder_of(recipe: Recipe) -> Path:
    """Return the folder beside a recipe in which parts of its results are kept."""
    plain = "".join(sign if sign.isalnum() or sign in "-_" else "_" for sign in recipe.name)
    return recipe.folder / f".{plain}.kept"


def keys_of(recipe: Recipe) -> dict[str, str]:
    """Return the key of each step: a hash of all that its result follows from."""
    keys: dict[str, str] = {}
    for step in recipe.steps:
        inputs = [
            [name, _content(step, name, step.inputs[name], keys, recipe.folder)]
            for name in sorted(step.inputs)
        ]
        log = log_of(recipe, step.id) if "log" in step.operation.services else None
        keys[step.id] = digest(software(), operation_digest(step.operation), inputs, log)
    return keys


def _content(step: Step, name: str, value: Any, keys: Mapping[str, str], folder: Path) -> Any:
    """What an input comes down to: a value, the content of a file, or the key of another step."""
    if isinstance(value, From):
        return ["step", keys[value.name]]
    if isinstance(value, Mapping):
        return ["table", *([key, _content(step, name, one, keys, folder)] for key, one in value.items())]
    if isinstance(value, list | tuple):
        return ["list", *(_content(step, name, one, keys, folder) for one in value)]
    kind = step.operation.parameters[name].kind
    if isinstance(value, str) and kind.file != "written" and Path(value).is_file():
        return ["file", _told(value, folder), file_digest(Path(value))]
    return ["value", _told(value, folder)]


def log_of(recipe: Recipe, end: str | None = None) -> dict[str, Any]:
    """
    Say what a recipe runs, with versions and inputs, in values that JSON has.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    end : str, optional
        A step: only that one and those before it are told.
    """
    told = {step.id for step in recipe.steps} if end is None else _wanted(recipe, {end})
    steps = [
        {
            "id": step.id,
            "operation": step.operation.id,
            "version": step.operation.version,
            "inputs": {name: _told(value, recipe.folder) for name, value in step.inputs.items()},
        }
        for step in recipe.steps
        if step.id in told
    ]
    known = {name: version for name, version in versions().items() if name != "PROJ data"}
    return {"recipe": recipe.name, "steps": steps, "versions": known}


def _told(value: Any, folder: Path) -> Any:
    if isinstance(value, From):
        return {"from": value.name}
    if isinstance(value, Mapping):
        return {key: _told(one, folder) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_told(one, folder) for one in value]
    if isinstance(value, str) and Path(value).is_relative_to(folder):
        return Path(value).relative_to(folder).as_posix()
    return value if isinstance(value, str | bool | int | float) or value is None else str(value)


def _wanted(recipe: Recipe, ends: set[str]) -> set[str]:
    """The steps that must run: those at the ends, and all that they take from."""
    wanted: set[str] = set()
    for step in reversed(recipe.steps):
        if step.id in ends or step.id in wanted:
            wanted |= {step.id, *step.needs}
    return wanted


def _result(step: Step, results: Mapping[str, Any], services: Mapping[str, Any]) -> Any:
    for path in step.written:
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
    try:
        values = step.operation.checked({name: filled(one, results) for name, one in step.inputs.items()})
    except InputError as problem:
        raise problem.within(f"step {step.id!r}", kind=RecipeError) from None
    lent = {name: services[name] for name in step.operation.services if services.get(name) is not None}
    return step.operation.function(**values, **lent)


def _done(step: Step, keys: Mapping[str, str], state: str, seconds: float = 0.0) -> Done:
    one = step.operation
    return Done(
        id=step.id, operation=one.id, version=one.version, key=keys[step.id], state=state, seconds=seconds
    )


def _of(recipe: Recipe, name: str) -> Step:
    return next(step for step in recipe.steps if step.id == name)


def _share_of(progress: Progress | None, id: str, number: int, count: int) -> Progress | None:
    """Progress of one step as progress of the whole."""
    if progress is None:
        return None
    progress(id, number / count)
    return lambda stage, share: progress(f"{id}: {stage}", (number + min(max(share, 0.0), 1.0)) / count)


def _files(step: Step, folder: Path) -> dict[str, str]:
    """The content of the files that a step has written."""
    return {_told(str(path), folder): file_digest(path) for path in step.written if path.is_file()}


def _unchanged(step: Step, keys: Mapping[str, str], before: Mapping[str, Any], folder: Path) -> bool:
    """Whether a step's key is that of the last run, and its files are still those it wrote."""
    known = before.get(step.id)
    if not isinstance(known, dict) or known.get("key") != keys[step.id]:
        return False
    files = known.get("files")
    return isinstance(files, dict) and len(files) == len(step.written) and files == _files(step, folder)


def _read_record(folder: Path) -> dict[str, Any]:
    """What the last run wrote down; nothing where it is missing or damaged."""
    try:
        record = json.loads((folder / _RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return record if isinstance(record, dict) else {}


def _write_record(folder: Path, record: Mapping[str, Any]) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise OutputError(
            f"The folder {folder} cannot be made: {problem.strerror}.", value=folder
        ) from problem
    write_bytes(folder / _RECORD, json.dumps(record, indent=1, sort_keys=True).encode("utf-8"))


__all__ = ["Done", "Run", "folder_of", "keys_of", "log_of", "run_recipe"]
