"""The main diagram of a site: turned by 60 degrees, with people and shadows, at 1:250 on A3."""

import sys
from pathlib import Path

import siteaxo

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"
SCALE = 250  # dressed once, for the scale it is drawn at


def main(out: Path) -> None:
    """Draw the sample site."""
    model = siteaxo.read_site(SITE).stack()
    diagram = model.draw(scale=SCALE, people=True, shadows="conventional", planting="texture")
    figure = diagram.figure(sheet="A3", scale=SCALE)
    figure.savefig(out / "main_diagram.pdf")
    figure.savefig(out / "main_diagram.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
