"""
Commands that list, describe, run and chain operations, and say what is installed.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError, OutputError

if TYPE_CHECKING:
    import pandas as pd

    from ..process.operation import Operation


def add_commands(commands: Any, watch: Callable[[bool], Any]) -> None:
    """
    Add the commands to a parser.

    Parameters
    ----------
    commands
        What ``add_subparsers`` gives.
    watch : callable
        Called with whether to be quiet; gives a context manager that hands out a progress callable.
    """
    every = commands.add_parser("operations", help="list the operations there are")
    every.add_argument("--json", action="store_true", help="as process summaries in JSON")
    every.set_defaults(run=_operations)
    one = commands.add_parser("describe", help="describe an operation")
    one.add_argument("id", help="the operation")
    one.add_argument("--json", action="store_true", help="as an OGC API - Processes description in JSON")
    one.set_defaults(run=_describe)
    running = commands.add_parser("run", help="run an operation")
    running.add_argument("id", help="the operation")
    running.add_argument(
        "--input", action="append", default=[], metavar="NAME=VALUE", help="an input; may be repeated"
    )
    running.add_argument("--out", type=Path, help="file for what it gives: .gpkg, .geojson, .fgb or .csv")
    running.add_argument("--quiet", action="store_true", help="show no progress")
    running.set_defaults(run=lambda options: _run(options, watch))
    chain = commands.add_parser("recipe", help="run the operations of a recipe; what has not changed is kept")
    chain.add_argument("recipe", type=Path, help="the recipe (TOML)")
    chain.add_argument(
        "--input",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="another value for one of its inputs",
    )
    chain.add_argument("--check", action="store_true", help="check it only; nothing runs")
    chain.add_argument("--fresh", action="store_true", help="run all of it, and keep nothing")
    chain.add_argument("--quiet", action="store_true", help="show no progress")
    chain.add_argument(
        "--allow-outside", action="store_true", help="take files outside the folder of the recipe"
    )
    chain.set_defaults(run=lambda options: _recipe(options, watch))
    for command in (running, chain):
        command.add_argument("--traceback", action="store_true", help="show where a fault happened")
    doctor = commands.add_parser("doctor", help="say what is installed, and what is missing")
    doctor.set_defaults(run=_doctor)


def _operations(options: argparse.Namespace) -> int:
    from ..process.pages import list_of
    from ..registry import describe, known_operations, left_out

    known = known_operations()
    if options.json:
        keys = ("id", "version", "title", "description", "jobControlOptions", "outputTransmission")
        rows = [{key: describe(name)[key] for key in keys} for name in known]
        print(json.dumps({"processes": rows, "links": []}, indent=2))
        return 0
    print(list_of(known.values()))
    for finding in left_out().findings:
        print(finding.message, file=sys.stderr)
    return 1 if left_out().findings else 0


def _describe(options: argparse.Namespace) -> int:
    from ..process.pages import page_of
    from ..registry import describe, operation_named

    if options.json:
        print(json.dumps(describe(options.id), indent=2, ensure_ascii=False))
    else:
        print(page_of(operation_named(options.id)))
    return 0


def _run(options: argparse.Namespace, watch: Callable[[bool], Any]) -> int:
    from ..registry import operation_named

    asked = operation_named(options.id)
    given = dict(_input(asked, text) for text in options.input)
    with watch(options.quiet) as progress:
        result = asked.run(given, {"progress": progress})
    if options.out is not None:
        write_result(result, options.out)
        print(f"Written: {options.out}")
    else:
        print(_shown(result))
    return 0


def _recipe(options: argparse.Namespace, watch: Callable[[bool], Any]) -> int:
    from ..chains import read_recipe
    from ..process.chain import run_recipe

    pairs = [_pair(text) for text in options.input]
    inputs = {name: _plain(value) for name, value in pairs}
    recipe = read_recipe(options.recipe, inputs=inputs, allow_outside=options.allow_outside)
    if options.check:
        print(f"{options.recipe}: {len(recipe.steps)} steps fit together: {recipe!r}")
        return 0
    with watch(options.quiet) as progress:
        done = run_recipe(recipe, reuse=not options.fresh, progress=progress)
    print(done)
    for name, result in done.results.items():
        if not isinstance(result, Path):
            print(f"{name}:\n{_shown(result)}")
    return 0


def _doctor(options: argparse.Namespace) -> int:
    from .doctor import examine, report, worst_of

    checks = examine()
    print(report(checks))
    return worst_of(checks)


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals:
        raise InputError(
            f"--input {text!r} must be NAME=VALUE, for example --input turn=60.", field="--input", value=text
        )
    return name, value


def _plain(value: str) -> Any:
    try:
        return json.loads(value)
    except json.JSONDecodeError:
        return value


def _input(asked: Operation, text: str) -> tuple[str, Any]:
    """Name and value of one ``--input``: JSON where it is that, but text where only a text will do."""
    name, value = _pair(text)
    read = _plain(value)
    if name in asked.parameters and not isinstance(read, str):
        convert = asked.parameters[name].kind.convert
        if not _takes(convert, read) and _takes(convert, value):
            return name, value
    return name, read


def _takes(convert: Callable[[Any], Any], value: Any) -> bool:
    try:
        convert(value)
    except InputError:
        return False
    return True


def write_result(result: Any, path: Path) -> None:
    """
    Write what an operation gives.

    Parameters
    ----------
    result : Diagram, GeoDataFrame or DataFrame
        What it gave.
    path : path
        File to make or replace.

    Raises
    ------
    OutputError
        If it is none of these, or cannot be written.
    """
    import pandas as pd

    from ..operations.handing import export_rows
    from ..verbs.drawings import Diagram

    if isinstance(result, Diagram):
        result.to_gpkg(path)
    elif isinstance(result, pd.DataFrame):
        export_rows(result, path)
    else:
        raise OutputError(
            f"A {type(result).__name__} cannot be written to {path}. Leave out --out.",
            field="--out",
            value=path,
        )


def _table(rows: pd.DataFrame) -> str:
    """Rows in words; at a terminal no wider than that, with as many columns as it has room for."""
    wide = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    many = len(rows.columns)
    for shown in range(many, 0, -1):
        words = str(rows.to_string(max_rows=40, max_colwidth=60, max_cols=shown))
        if wide is None or max(map(len, words.splitlines())) <= wide:
            break
    return words if shown == many else f"{words}\n{shown} of {many} columns; --out FILE writes all of them"


def _shown(result: Any) -> str:
    import pandas as pd

    if isinstance(result, pd.DataFrame):
        return _table(result) if len(result) else "no rows"
    return str(result) if isinstance(result, str | Path | int | float) else repr(result)
