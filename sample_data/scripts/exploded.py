"""A site pulled apart, tier by tier, for a page that explains how it is built up."""

import sys
from pathlib import Path

import siteaxo

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"


def main(out: Path) -> None:
    """Pull the sample site apart by theme."""
    model = siteaxo.read_site(SITE).stack()
    apart = model.explode(siteaxo.planometric(turn=45), by="theme")
    apart.figure(sheet="A2", scale="fit", orientation="portrait").savefig(out / "exploded.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
