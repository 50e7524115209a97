"""The main diagram of a site: turned by 60 degrees, with people, shadows and foliage, at 1:250 on A3."""

import sys
from pathlib import Path

import siteaxo

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"
SCALE = 250  # lines, joints and foliage are chosen for the scale, so it is told before anything is drawn


def main(out: Path) -> None:
    """Draw the sample site."""
    model = siteaxo.read_site(SITE).stack()
    diagram = model.draw(scale=SCALE, people=True, shadows="conventional", planting="texture")
    figure = diagram.figure(sheet="A3", scale=SCALE)
    figure.savefig(out / "main_diagram.pdf")  # layers of its own for each layer of the site
    figure.savefig(out / "main_diagram.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
