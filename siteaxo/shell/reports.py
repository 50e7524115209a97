"""
Commands that answer in numbers: which view shows most, how much there is, and where to look.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from ..checks import finite
from ..errors import ViewError
from ..units import METRES_PER
from .progress import Progress
from .speech import number_from

if TYPE_CHECKING:
    from ..verbs.models import Model

FORMATS: Final = ("pdf", "svg", "png")
BY: Final = ("role", "material", "terrace", "feature")


@dataclass(frozen=True, kw_only=True)
class Shell:
    """
    What a command line lends to its commands.

    Parameters
    ----------
    stacked : callable
        Makes the model that options ask for, and says how far it is.
    progress : callable
        Called with whether to be quiet; gives a context manager that hands out a progress callable.
    made : callable
        Makes a folder and returns it.
    """

    stacked: Callable[[argparse.Namespace, Progress], Model]
    progress: Callable[[bool], Any]
    made: Callable[[Path], Path]


def add_sheet(command: argparse.ArgumentParser, *, speaks: bool = True) -> None:
    """
    Add what commands take that set drawings on sheets.

    Parameters
    ----------
    command : argparse.ArgumentParser
        Its parser.
    speaks : bool
        Whether lengths are written on its sheets.
    """
    command.add_argument("--sheet", help="A0 to A4, ANSI A to ANSI E, or ARCH A to ARCH E1")
    if speaks:
        command.add_argument(
            "--sheet-unit",
            choices=tuple(METRES_PER),
            help="unit of what sheets say, m, ft or ft-us; as the site file says when left out",
        )


def add_reports(commands: Any, shell: Shell) -> Sequence[argparse.ArgumentParser]:
    """
    Add the commands to a parser.

    Parameters
    ----------
    commands
        What ``add_subparsers`` gives.
    shell : Shell
        What the command line lends.

    Returns
    -------
    sequence of argparse.ArgumentParser
        Their parsers, to which options of all commands that read a site are added.
    """
    study = commands.add_parser("study", help="find the view that shows most of what matters")
    study.add_argument(
        "--target",
        action="append",
        default=[],
        metavar="NAME",
        help="a layer or role that matters; may be repeated, and weighted as NAME=NUMBER",
    )
    study.add_argument("--turns", help="turns of the plan in degrees anticlockwise, with commas between them")
    study.add_argument("--height-factors", help="page metres per metre of height, with commas between them")
    study.add_argument("--kinds", default="planometric", help="kinds of view, with commas between them")
    study.add_argument("--mirrored", action="store_true", help="add the other hand of every view")
    amounts = commands.add_parser("quantities", help="measure a site: tables and a sheet of quantities")
    places = commands.add_parser("cautions", help="list and mark places to look at, with their rules")
    for command, run in ((study, _study), (amounts, _quantities), (places, _cautions)):
        command.add_argument("site", type=Path, help="the site file (TOML)")
        command.add_argument("--out", type=Path, required=True, help="folder for the results")
        add_sheet(command, speaks=command is not study)
        command.add_argument("--quiet", action="store_true", help="show no progress")
        command.set_defaults(run=_with(run, shell))
    return (study, amounts, places)


def _with(
    run: Callable[[argparse.Namespace, Shell], int], shell: Shell
) -> Callable[[argparse.Namespace], int]:
    return lambda options: run(options, shell)


def _study(options: argparse.Namespace, shell: Shell) -> int:
    from ..export.tables import write_csv
    from ..sheet.words import plain_text
    from ..view.choices import TURNS

    weighted = dict(_weighted(word) for word in options.target)
    with shell.progress(options.quiet) as progress:
        model = shell.stacked(options, progress)
        study = model.study(
            kinds=options.kinds.split(","),
            turns=_numbers(options.turns, "--turns") or TURNS,
            height_factors=_numbers(options.height_factors, "--height-factors") or (1.0,),
            mirrored=options.mirrored,
            targets={name: name for name in weighted},
            weights=weighted,
            progress=progress,
        )
        figure = study.sheet(sheet=options.sheet or "A3")
        folder = shell.made(options.out)
        tables = {"views": study.table, "views_by_role": study.roles, "views_by_feature": study.features}
        for name, table in tables.items():
            write_csv(table, folder / f"{name}.csv", inputs=model.site.inputs)
        written = [*(f"{name}.csv" for name in tables), *_saved(figure, folder, "views")]
    print(plain_text(study.best.reason))
    print(f"Written to {folder}: {', '.join(written)}")
    return 0


def _quantities(options: argparse.Namespace, shell: Shell) -> int:
    from ..export.tables import write_csv

    with shell.progress(options.quiet) as progress:
        model = shell.stacked(options, progress)
        figure = model.quantities_figure(sheet=options.sheet or "A3", progress=progress)
        folder = shell.made(options.out)
        written = []
        for by in BY:
            name = f"quantities_by_{by}.csv"
            table = model.quantities(by=by, progress=progress).drop(columns="geometry")
            write_csv(table, folder / name, inputs=model.site.inputs)
            written.append(name)
        written += _saved(figure, folder, "quantities")
    print(f"Written to {folder}: {', '.join(written)}")
    return 0


def _cautions(options: argparse.Namespace, shell: Shell) -> int:
    from ..export.tables import write_csv
    from ..sheet.words import plain_text

    with shell.progress(options.quiet) as progress:
        model = shell.stacked(options, progress)
        found = model.cautions(progress=progress)
        figure = model.draw(progress=progress).with_cautions(found).figure(sheet=options.sheet, scale="fit")
        folder = shell.made(options.out)
        write_csv(found.drop(columns="geometry"), folder / "cautions.csv", inputs=model.site.inputs)
        written = ["cautions.csv", *_saved(figure, folder, "cautions")]
    for row in found.itertuples(index=False):
        text = f"{row.number} [{row.code}] {row.layer}, {row.source_id}: {row.message} ({row.rule})"
        print(plain_text(text))
    print("A place that is not listed is not thereby in order.")
    print(f"Written to {folder}: {', '.join(written)}")
    return 1 if len(found) else 0


def _saved(figure: Any, folder: Path, name: str) -> list[str]:
    """Save a figure in all formats and return the names of the files."""
    files = [f"{name}.{kind}" for kind in FORMATS]
    for file in files:
        figure.savefig(folder / file)
    return files


def _weighted(word: str) -> tuple[str, float]:
    """A target and its weight."""
    name, equals, number = word.partition("=")
    what = f"weight of {name!r}"
    return name, finite(number_from(number, what), what, ViewError, least=0.0) if equals else 1.0


def _numbers(text: str | None, name: str) -> tuple[float, ...]:
    if text is None:
        return ()
    return tuple(number_from(word, name) for word in text.split(","))
