"""
The command line: a thin shell over the main calls.

Exit status of ``draw`` and ``check``: 0 clean, 1 with warnings, 2 with errors or refused, 3 a
fault of siteaxo's own, 130 stopped.
"""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
import traceback
from collections.abc import Callable, Sequence
from dataclasses import fields
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from .errors import OutputError, SiteaxoError, SiteFileError
from .limits import Limits
from .saying import counted
from .shell.commands import add_commands
from .shell.progress import Progress, ProgressLine
from .shell.reports import Shell, add_reports, add_sheet
from .shell.speech import limits_from, number_from, plain, speak_safely
from .shell.telling import add_tellings
from .shell.watch import INTERRUPTED, REFUSED, Watch
from .units import length_words, level_words

if TYPE_CHECKING:
    import pandas as pd

    from .verbs.drawings import Diagram
    from .verbs.models import Model

FAULT: Final = 3
STATUS: Final = {"error": 2, "warning": 1, "info": 0}
FORMATS: Final = ("pdf", "svg", "png")
SAMPLE: Final = "sample_data"


def main(arguments: Sequence[str] | None = None) -> int:
    """
    Run a command and return its exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; those it was started with when left out.

    Returns
    -------
    int
        0 clean, 1 with warnings, 2 with errors or refused, 3 for a fault of siteaxo's own,
        130 when stopped.
    """
    speak_safely()
    options = _parser().parse_args(arguments)
    try:
        options.limits = limits_from(getattr(options, "limit", None) or ())
        with Watch(options.limits, partial(_tidy, options)) as watch:
            return _run(options, watch)
    except SiteaxoError as error:
        return _refuse(str(error))


def _run(options: argparse.Namespace, watch: Watch) -> int:
    """Run a command; whatever happens is one paragraph and an exit status."""
    try:
        return int(options.run(options))
    except SiteaxoError as error:
        if getattr(options, "traceback", False) and error.__cause__ is not None:
            traceback.print_exception(error.__cause__)
        return _refuse(str(error))
    except KeyboardInterrupt:
        if watch.problem is not None:
            return _refuse(str(watch.problem))
        print("siteaxo: stopped; nothing was left half-written.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - nobody listens any more
        return INTERRUPTED
    except MemoryError:
        return _refuse("The memory of this machine is not enough. Cut the site, or draw it in parts.")
    except Exception as fault:
        if getattr(options, "traceback", False):
            raise
        said = f"{type(fault).__name__}: {fault}"[:500]
        _refuse(
            f"This is a fault of siteaxo, not of your data ({said}). Nothing was left half-written. "
            "Please report it; --traceback shows where it happened."
        )
        return FAULT


def _refuse(message: str) -> int:
    words = textwrap.fill(f"siteaxo: {plain(message)}", 100, break_on_hyphens=False)
    print(words, file=sys.stderr)
    return REFUSED


def _tidy(options: argparse.Namespace) -> None:
    """Remove unfinished files before the process is ended."""
    if getattr(options, "out", None) is not None:
        from .export.atomic import remove_own

        remove_own(options.out)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="siteaxo", description="Plan-oblique site diagrams from layers with levels."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    draw = commands.add_parser("draw", help="draw a site: GeoPackage, PDF, SVG, PNG and findings")
    draw.add_argument("site", type=Path, help="the site file (TOML)")
    check = commands.add_parser("check", help="read and stack a site and list what was noticed")
    check.add_argument("site", type=Path, help="the site file (TOML)")
    demo = commands.add_parser("demo", help="draw the sample site of this checkout")
    for command in (draw, demo):
        command.add_argument("--out", type=Path, required=command is draw, help="folder for the results")
        command.add_argument("--turn", help="turn of the plan in degrees anticlockwise")
        add_sheet(command)
        command.add_argument("--scale", help="the x of 1:x, or fit")
        command.add_argument("--style", help="name of a style, or a TOML file that describes one")
        command.add_argument("--hidden", action="store_true", help="show hidden lines, dashed")
        for name, words in (("people", "put people on walkable ground"), ("shadows", "cast shadows")):
            what = f"{words}; as the site file says when left out"
            command.add_argument(f"--{name}", action=argparse.BooleanOptionalAction, default=None, help=what)
        command.add_argument(
            "--planting",
            choices=("outline", "texture", "translucent"),
            help="how far trees and hedges are drawn; as the site file says when left out",
        )
        command.add_argument("--dimensions", action="store_true", help="give overall dimensions")
        command.add_argument("--findings", action="store_true", help="mark findings where they are")
        command.add_argument("--no-levels", action="store_true", help="leave out level marks")
        command.add_argument("--quiet", action="store_true", help="show no progress")
    shell = Shell(stacked=_stacked, progress=ProgressLine, made=_made)
    reports = (*add_reports(commands, shell), *add_tellings(commands, shell))
    for command in (draw, check, demo, *reports):
        command.add_argument(
            "--allow-outside", action="store_true", help="take sources outside the folder of the site file"
        )
        command.add_argument(
            "--limit",
            action="append",
            metavar="NAME=NUMBER",
            help=f"raise a limit: {', '.join(field.name for field in fields(Limits))}",
        )
        command.add_argument(
            "--traceback", action="store_true", help="show where a fault of siteaxo happened"
        )
    draw.set_defaults(run=_draw)
    check.set_defaults(run=_check)
    demo.set_defaults(run=_demo)
    add_commands(commands, ProgressLine)
    return parser


def _demo(options: argparse.Namespace) -> int:
    folder = Path(__file__).resolve().parent.parent / SAMPLE
    sites = sorted(folder.glob("*/site.toml"))
    if not sites:
        raise SiteFileError(
            f"The sample site is not beside the package (looked in {folder}). Run the demo from a checkout, "
            "or draw a site of your own: python -m siteaxo draw SITE.toml --out FOLDER",
            code="file-missing",
            value=folder,
        )
    options.site = sites[0]
    options.out = options.out or Path("out")
    options.people = options.people is not False
    options.shadows = options.shadows is not False
    options.planting = options.planting or "texture"
    return _draw(options)


def _check(options: argparse.Namespace) -> int:
    with ProgressLine(quiet=False) as progress:
        model = _stacked(options, progress)
    findings = model.findings
    _print_findings(findings)
    _print_summary(model)
    return _status(findings)


def _draw(options: argparse.Namespace) -> int:
    from .export.tables import write_csv

    with ProgressLine(options.quiet) as progress:
        model = _stacked(options, progress)
        diagram = model.draw(
            _view(model, options.turn),
            style=options.style,
            people=options.people,
            shadows=options.shadows,
            planting=options.planting,
            findings=options.findings,
            progress=progress,
        )
        figure = diagram.figure(
            sheet=options.sheet,
            scale=_scale(options.scale),
            hidden=options.hidden,
            levels=not options.no_levels,
            dimensions=options.dimensions,
        )
        folder = _made(options.out)
        for name, write in _outputs(diagram, figure, write_csv).items():
            progress(f"write {name}", 0.0)
            write(folder / name)
    _print_findings(figure.drawing.findings)
    _print_summary(model)
    print(f"Written to {folder}: {', '.join(_outputs(diagram, figure, write_csv))}")
    return _status(figure.drawing.findings)


def _outputs(
    diagram: Diagram, figure: Any, write_csv: Callable[..., None]
) -> dict[str, Callable[[Path], Any]]:
    return {
        "diagram.gpkg": figure.drawing.to_gpkg,
        **{f"diagram.{kind}": figure.savefig for kind in FORMATS},
        "findings.csv": lambda path: write_csv(figure.drawing.findings, path, inputs=diagram.inputs),
    }


def _stacked(options: argparse.Namespace, progress: Progress) -> Model:
    from .verbs.sites import read_site

    site = read_site(options.site, allow_outside=options.allow_outside, limits=options.limits)
    unit = getattr(options, "sheet_unit", None)
    return (site.speaking(unit) if unit else site).stack(progress=progress)


def _view(model: Model, turn: str | None) -> Any:
    from .view.projection import make_view

    if turn is None:
        return None
    settings = model.site.view
    return make_view(settings.kind, **{**settings.options, "turn": number_from(turn, "--turn")})


def _scale(text: str | None) -> float | str | None:
    if text is None or text == "fit":
        return text
    return number_from(text.removeprefix("1:"), "--scale, where it is not fit,")


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"The folder {folder} cannot be made: {error.strerror}. Choose another --out.",
            field="--out",
            value=folder,
        ) from error
    return folder


def _print_findings(findings: pd.DataFrame) -> None:
    from .diagram.tables import finding_lines

    for line in finding_lines(findings):
        print(plain(line))


def _print_summary(model: Model) -> None:
    features = model.stack.features
    low, high = features.base.min(initial=float("inf")), features.top.max(initial=float("-inf"))
    unit = model.site.sheet_unit
    print(
        f"{plain(model.site.name)}: {counted(len(tuple(model.site.layers)), 'layer', gap='')}, "
        f"{counted(len(features), 'feature', gap='')}, "
        f"levels {level_words(low, unit)} to {length_words(high, unit)}."
    )
    report = model.gathered.report
    off = max(abs(scale - 1) for scale in report.scale_at_corners)
    print(
        f"{model.gathered.plane.crs.name}: scale at the corners within {off:.1e} of 1, "
        f"grid convergence {round(report.convergence_at_centre, 3) + 0.0:+.3f}° at the centre."
    )


def _status(findings: pd.DataFrame) -> int:
    return max((STATUS[severity] for severity in findings["severity"]), default=0)
