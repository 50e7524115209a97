"""
Recipes run: what has changed is done again, what has not is left as it is.

Each step has a key, a hash of all it follows from (:mod:`.keys`). A step that writes files is left
out if its key is that of the last run and the files are still those it wrote; steps that nobody
needs then do not run at all. Within a drawing, parts are kept in a store under keys of their own.
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

from ..errors import InputError, OutputError, SiteaxoError
from ..export.atomic import write_bytes
from ..keeping import Forgetful
from .fingerprint import file_digest
from .keys import keys_of, log_of, told_of, wanted_of
from .recipe import Recipe
from .stepped import RecipeError, Step, filled
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
    wanted = wanted_of(recipe, {s.id for s in recipe.steps if s.written and s.id not in same} | last)
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
        if reuse and step.written:  # what is written stays done, whatever becomes of the steps after it
            _write_record(keep.folder, _of_recipe(record, recipe))
        for name in step.needs:
            uses.remove(name)
            if name not in uses and name not in last:
                del results[name]
    if reuse:
        _write_record(keep.folder, _of_recipe(record, recipe))
        keep.sweep()
    final = {name: value for name, value in results.items() if name in last or _of(recipe, name).written}
    return Run(recipe=recipe, steps=tuple(done), results=final, log=log)


def folder_of(recipe: Recipe) -> Path:
    """Return the folder beside a recipe in which parts of its results are kept."""
    plain = "".join(sign if sign.isalnum() or sign in "-_" else "_" for sign in recipe.name)
    return recipe.folder / f".{plain}.kept"


def _result(step: Step, results: Mapping[str, Any], services: Mapping[str, Any]) -> Any:
    for path in step.written:
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
    try:
        return step.operation.run({name: filled(one, results) for name, one in step.inputs.items()}, services)
    except InputError as problem:
        raise problem.within(f"step {step.id!r}", kind=RecipeError) from problem.__cause__
    except SiteaxoError as problem:
        raise problem.within(f"step {step.id!r}") from problem.__cause__


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
    return {told_of(str(path), folder): file_digest(path) for path in step.written if path.is_file()}


def _unchanged(step: Step, keys: Mapping[str, str], before: Mapping[str, Any], folder: Path) -> bool:
    """Whether a step's key is that of the last run, and its files are still those it wrote."""
    known = before.get(step.id)
    if not isinstance(known, dict) or known.get("key") != keys[step.id]:
        return False
    files = known.get("files")
    return isinstance(files, dict) and len(files) == len(step.written) and files == _files(step, folder)


def _of_recipe(record: Mapping[str, Any], recipe: Recipe) -> dict[str, Any]:
    """What a record says of the steps that the recipe has now."""
    return {step.id: record[step.id] for step in recipe.steps if step.id in record}


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


__all__ = ["Done", "Run", "folder_of", "run_recipe"]
