"""A site on a slope, from contours alone: ground, a terrace cut into it, a path, and trees."""

import sys
from pathlib import Path

from invented import hillside

import siteaxo


def main(out: Path) -> None:
    """Draw the hillside with its contours."""
    Layer = siteaxo.Layer
    layers = [
        Layer(name="ground", role="ground", source=hillside.boundary(), top="survey"),  # through the contours
        Layer(name="contours", role="contour", source=hillside.contours(), top="level"),
        Layer(name="terrace", role="terrace", source=hillside.terrace(), top=54.2, bank=2.0),  # 1 in 2
        Layer(name="path", role="path", source=hillside.path(), width=2.0),  # lies on the ground
        Layer(name="hut", role="structure", source=hillside.hut(), base="below", height=3.2),
        Layer(name="trees", role="tree", source=hillside.trees(), height=7.0, diameter=4.5),
    ]
    site = siteaxo.Site(name="Hillside", layers=layers, contour_interval=0.5, base_line=90)
    diagram = site.stack().draw(siteaxo.planometric(turn=30), scale=250, planting="texture")
    diagram.figure(sheet="A2", scale=250).savefig(out / "contour_site.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
