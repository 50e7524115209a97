"""
Commands that make several drawings of a site: pulled apart, step by step, compared, and as a board.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from .reports import FORMATS, Shell, add_sheet
from .speech import number_from

if TYPE_CHECKING:
    pass

STEPS_HELP: Final = "plan, turned, outlines, raised, joined, removed, finished; with commas between them"


def add_tellings(commands: Any, shell: Shell) -> Sequence[argparse.ArgumentParser]:
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
    exploded = commands.add_parser("exploded-view", help="pull a site apart upward, with lift lines")
    exploded.add_argument("--by", default="theme", help="theme, terrace, role, layer, or a field")
    exploded.add_argument("--gaps", default="auto", help="clear metres between tiers, or auto")
    exploded.add_argument("--no-plan", action="store_true", help="leave out the plan beneath")
    sequence = commands.add_parser("sequence", help="show how the drawing comes about, step by step")
    sequence.add_argument("--steps", help=STEPS_HELP)
    sequence.add_argument("--frames", type=int, default=3, help="drawings in which heights rise, at most")
    compare = commands.add_parser("compare", help="compare sites: what is new, changed, kept and removed")
    board = commands.add_parser("board", help="plan, drawing, exploded view and words on one sheet")
    board.add_argument("--by", default="terrace", help="theme, terrace, role, layer, or a field")
    board.add_argument(
        "--orientation", choices=("landscape", "portrait"), default="landscape", help="landscape, or portrait"
    )
    made = ((exploded, _exploded_view), (sequence, _sequence), (compare, _compare), (board, _board))
    for command, run in made:
        command.add_argument("site", type=Path, help="the site file (TOML)")
        command.add_argument("--out", type=Path, required=True, help="folder for the results")
        add_sheet(command)
        command.add_argument("--style", help="name of a style, or a TOML file that describes one")
        command.add_argument(
            "--people",
            action=argparse.BooleanOptionalAction,
            default=None,
            help="put people on walkable ground",
        )
        command.add_argument("--quiet", action="store_true", help="show no progress")
        command.set_defaults(run=_with(run, shell))
    compare.add_argument("other", type=Path, nargs="+", help="further site files, options or stages")
    return (exploded, sequence, compare, board)


def _with(
    run: Callable[[argparse.Namespace, Shell], int], shell: Shell
) -> Callable[[argparse.Namespace], int]:
    return lambda options: run(options, shell)


def _exploded_view(options: argparse.Namespace, shell: Shell) -> int:
    with shell.progress(options.quiet) as progress:
        diagram = shell.stacked(options, progress).exploded_view(
            by=options.by,
            gaps=_gaps(options.gaps),
            plan=not options.no_plan,
            style=options.style,
            people=options.people,
            progress=progress,
        )
        figure = diagram.figure(sheet=options.sheet, scale="fit", orientation="auto")
        folder = shell.made(options.out)
        figure.drawing.to_gpkg(folder / "exploded.gpkg")
        written = ["exploded.gpkg", *_saved(figure, folder, "exploded")]
    return _said(folder, written)


def _gaps(text: str) -> str | float:
    return text if text == "auto" else number_from(text, "--gaps (metres, or auto)")


def _sequence(options: argparse.Namespace, shell: Shell) -> int:
    from ..craft.steps import STEPS
    from ..export.pages import write_pages
    from ..verbs.boards import side_by_side

    with shell.progress(options.quiet) as progress:
        steps = shell.stacked(options, progress).sequence(
            steps=options.steps.split(",") if options.steps else STEPS,
            frames=options.frames,
            style=options.style,
            people=options.people,
            progress=progress,
        )
        folder = shell.made(options.out)
        strip = side_by_side(steps, sheet=options.sheet or "A2", levels=False)
        written = _saved(strip, folder, "sequence")
        pages = [step.figure(sheet=options.sheet, scale="fit", levels=False) for step in steps]
        write_pages(pages, folder / "sequence_pages.pdf")
        for number, step in enumerate(steps, start=1):
            step.to_gpkg(folder / f"sequence_{number}.gpkg")
            written.append(f"sequence_{number}.gpkg")
    return _said(folder, [*written, "sequence_pages.pdf"])


def _compare(options: argparse.Namespace, shell: Shell) -> int:
    from ..verbs.comparing import compare

    with shell.progress(options.quiet) as progress:
        states = [options, *(argparse.Namespace(**{**vars(options), "site": path}) for path in options.other)]
        models = [shell.stacked(state, progress) for state in states]
        compared = compare(models, style=options.style, people=bool(options.people), progress=progress)
        folder = shell.made(options.out)
        compared.to_csv(folder / "differences.csv")
        sheet = compared.sheet(sheet=options.sheet or "A2")
        written = ["differences.csv", *_saved(sheet, folder, "compared")]
        for number, diagram in enumerate(compared.diagrams, start=1):
            diagram.to_gpkg(folder / f"compared_{number}.gpkg")
            written.append(f"compared_{number}.gpkg")
    counts = compared.differences["change"].value_counts()
    print(", ".join(f"{count} {change}" for change, count in counts.items()) + ".")
    return _said(folder, written)


def _board(options: argparse.Namespace, shell: Shell) -> int:
    from ..verbs.boards import board
    from ..view.projection import planometric

    with shell.progress(options.quiet) as progress:
        model, asked = shell.stacked(options, progress), {"style": options.style, "progress": progress}
        parts = {
            "plan": model.draw(planometric(turn=0.0, height_factor=0.0), people=False, **asked),
            "main": model.draw(people=options.people, **asked),
            "exploded": model.exploded_view(by=options.by, people=False, **asked),
        }
        figure = board(
            parts,
            sheet=options.sheet or "A1",
            orientation=options.orientation,
            title=model.site.sheet.title,
        )
        folder = shell.made(options.out)
        written = _saved(figure, folder, "board")
    return _said(folder, written)


def _saved(figure: Any, folder: Path, stem: str) -> list[str]:
    names = [f"{stem}.{kind}" for kind in FORMATS]
    for name in names:
        figure.savefig(folder / name)
    return names


def _said(folder: Path, written: Sequence[str]) -> int:
    print(f"Written to {folder}: {', '.join(written)}")
    return 0
