"""
Make the whole set of figures of the sample site in one go.

    python sample_data/make_figures.py --out FOLDER

Every figure is a PDF and a PNG, every drawing a diagram GeoPackage too. Each function below makes
one of them, and is written as a script of one's own would be.
"""

from __future__ import annotations

import argparse
import pickle
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import chain
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import geopandas

import siteaxo

HERE = Path(__file__).resolve().parent
SITE = HERE / "wrenlow" / "site.toml"
DPI = 130.0
THREADS = 1  # one to a process, since the processes share the work
STAGES = {
    "The quarry made safe": ("ground", "wall", "rail", "steps", "ramp", "kiln"),
    "The garden laid out": ("surfaces", "structures", "furniture"),
    "The garden planted": ("planting",),
}
"""What comes when: themes, roles and layers; a layer says more than its role, a role more than its theme."""
TIERS = {
    "Ground and surfaces": ("ground", "surfaces"),
    "Structures": ("structures", "furniture"),
    "Planting and people": ("planting", "people"),
}

BOARD = siteaxo.Layout(
    rows=("plan main exploded", "legend main exploded", "cautions main exploded", "title title title"),
    columns_mm=(106, None, 211),
    heights=(1.0, 1.0, 0.5, 1.0),
    heights_mm=(None, None, None, 30),
)
"""Where the parts of the board lie: widths of columns in millimetres, the rest for the main drawing."""


@dataclass(frozen=True)
class Desk:
    """Where figures go, the model, and drawings that several share, each made when it is first asked for."""

    out: Path
    model: siteaxo.Model

    @cached_property
    def main(self) -> Any:
        """The drawing with people, shadows and foliage."""
        return self.model.draw(
            people=True, shadows="conventional", planting="texture", scale=150, threads=THREADS
        )

    @cached_property
    def plan(self) -> Any:
        """The plan, square to its base line."""
        square = siteaxo.planometric(turn=0, height_factor=0)
        return self.model.draw(square, planting="texture", people=False, scale=500, threads=THREADS)

    @cached_property
    def by_theme(self) -> Any:
        """The site pulled apart by theme."""
        return self.model.exploded_view(by=TIERS, people=True, planting="texture", scale=400, threads=THREADS)

    def save(self, name: str, figure: Any) -> None:
        """Save a figure as PDF and PNG."""
        for kind in ("pdf", "png"):
            figure.savefig(self.out / f"{name}.{kind}", **({"dpi": DPI} if kind == "png" else {}))


def main(out: str | Path, *, hands: int = 2) -> list[Path]:
    """
    Make all figures.

    Parameters
    ----------
    out : path
        Folder for them; it is made when it is missing.
    hands : int
        How many processes share the work, 1 or 2.

    Returns
    -------
    list of Path
        The files.
    """
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    site = siteaxo.read_site(SITE)
    if hands == 1:
        work(folder, pickle.dumps(site.stack()), *SHARES)
    else:
        with ProcessPoolExecutor(1, get_context("spawn")) as pool:
            pool.submit(get_ready)  # while the model is stacked here
            model = pickle.dumps(site.stack())
            others = pool.submit(work, folder, model, SHARES[1])
            work(folder, model, SHARES[0])
            others.result()
    return sorted(folder.iterdir())


def work(folder: Path, model: bytes, *shares: Share) -> None:
    """Make the figures of some shares of the work, at a desk of one's own, from a pickled model."""
    desk = Desk(folder, pickle.loads(model))
    for figure in chain.from_iterable(shares):
        figure(desk)


def get_ready() -> None:
    """Make what the second share needs and does not follow from the model."""
    other_option()


def sequence(desk: Desk) -> None:
    """How the drawing comes about: a strip, and the same as pages of one PDF."""
    steps = desk.model.sequence(frames=2, people=True, scale=400, threads=THREADS)
    title = "How the drawing comes about"
    strip = siteaxo.side_by_side(steps, sheet="A1", scale=400, levels=False, title=title)
    desk.save("sequence", strip)
    pages = [step.figure(sheet="A3", scale=400, levels=False) for step in steps]
    siteaxo.write_pages(pages, desk.out / "sequence_pages.pdf", title=title)
    steps[-1].to_gpkg(desk.out / "sequence.gpkg")


def exploded(desk: Desk) -> None:
    """Pulled apart by theme and by terrace, so far that nothing hides anything."""
    by_terrace = desk.model.exploded_view(
        by="terrace", people=False, planting="texture", scale=400, threads=THREADS
    )
    for name, drawing in (("exploded_theme", desk.by_theme), ("exploded_terrace", by_terrace)):
        desk.save(name, drawing.figure(sheet="A2", scale=400, orientation="portrait"))
        drawing.to_gpkg(desk.out / f"{name}.gpkg")


def stages(desk: Desk) -> None:
    """How the garden is built, stage by stage: what is new in full tones, what was there before pale."""
    compared = siteaxo.compare(desk.model.stages(STAGES), planting="texture", scale=300, threads=THREADS)
    title = "How the garden is built"
    sheet = compared.sheet(
        sheet="A2", orientation="portrait", columns=1, scale=300, levels=False, title=title
    )
    desk.save("stages", sheet)
    compared.to_csv(desk.out / "stages.csv")


def options(desk: Desk) -> None:
    """Two options side by side, and a table of what differs."""
    compared = siteaxo.compare(
        {"As designed": desk.model, "A larger deck, fewer trees": other_option()},
        scale=150,
        threads=THREADS,
    )
    title = "Two options for the grove and the deck"
    desk.save(
        "options", compared.sheet(sheet="A1", orientation="portrait", columns=1, scale=150, title=title)
    )
    compared.to_csv(desk.out / "options.csv")
    compared.diagrams[1].to_gpkg(desk.out / "options.gpkg")


@cache
def other_option() -> siteaxo.Model:
    """The other option: every second tree of the grove left out, the deck wider, no canopy."""
    site, layers = siteaxo.read_site(SITE), []
    for layer in site.layers:
        if layer.name == "canopy":
            continue
        if layer.name == "trees":
            trees = geopandas.read_file(layer.source)
            grove = trees.index[trees["group"] == "grove"]
            layer = replace(layer, source=trees.drop(index=grove[::2]).reset_index(drop=True))
        if layer.name == "deck":
            deck = geopandas.read_file(layer.source)
            layer = replace(layer, source=deck.set_geometry(deck.buffer(0.6, join_style="mitre")))
        layers.append(layer)
    return replace(site, layers=layers, name="Option B").stack()


def board(desk: Desk) -> None:
    """Everything on one sheet."""
    figure = siteaxo.board(
        {"plan": desk.plan, "main": desk.main, "exploded": desk.by_theme},
        layout=BOARD,
        sheet="A1",
        scales={"main": (100, 125, 150, 160, 175, 200, 500)},
        captions={
            "plan": "Plan",
            "main": "The garden from the south-west",
            "exploded": "Pulled apart by theme",
        },
        title=desk.model.site.name,
        subtitle=desk.model.site.sheet.title,
        cautions=(
            "Drops beside terraces and steps, slopes and levels are drawn as supplied; "
            "nothing here says that a guard, a step or a ramp is sufficient.",
        ),
    )
    desk.save("board", figure)


def views(desk: Desk) -> None:
    """Which view shows most of the water, the steps and the planting."""
    targets = {
        "water": "water",
        "steps and ramps": {"role": ["steps", "ramp"]},
        "lawns and hedges": {"role": ["lawn", "hedge"]},
    }
    study = desk.model.study(turns=(30, 60, 90, 120, 150, 240), targets=targets, threads=THREADS)
    desk.save("views", study.sheet(sheet="A3"))
    study.to_csv(desk.out / "views.csv")


def amounts(desk: Desk) -> None:
    """How much there is, by material and by terrace."""
    desk.save("quantities", desk.model.quantities_figure(sheet="A3"))
    desk.model.quantities_to_csv(desk.out / "quantities.csv", by="feature")


def cautioned(desk: Desk) -> None:
    """Where to look before anyone builds: each place with the rule it comes from."""
    marked = desk.main.with_cautions(desk.model.cautions())
    desk.save("cautions", marked.figure(sheet="A2", scale="fit", levels=False))
    marked.to_gpkg(desk.out / "cautions.gpkg")


Share = tuple[Callable[[Desk], None], ...]
SHARES: tuple[Share, Share] = (
    (board, exploded, cautioned, sequence),
    (options, stages, views, amounts),
)
"""Figures that are made, those that share drawings together; a further one is a function of the desk."""


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Make the whole set of figures of the sample site.")
    parser.add_argument("--out", type=Path, default=Path("out/figures"), help="folder (default: out/figures)")
    begun = time.perf_counter()
    made = main(parser.parse_args().out)
    print(f"{len(made)} files in {made[0].parent}, {time.perf_counter() - begun:.0f} s.")
