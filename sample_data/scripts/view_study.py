"""Which view shows most of the water and the steps: a study, and its sheet."""

import sys
from pathlib import Path

import siteaxo

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"


def main(out: Path) -> None:
    """Look at the sample site from two sides."""
    model = siteaxo.read_site(SITE).stack()
    # A target is the name of a layer, or of a role: how much of it is seen is what counts.
    study = model.study(turns=(30, 60), targets={"water": "water", "steps": "steps"})
    print(study.best)  # and model.draw(study.best.view) draws it
    study.sheet(sheet="A3").savefig(out / "view_study.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
