"""A site pulled apart, tier by tier, for a page that explains how it is built up."""

import sys
from pathlib import Path

from invented.tanner_court import proposed

import siteaxo


def main(out: Path) -> None:
    """Pull a courtyard apart by theme, with its plan beneath."""
    model = proposed().stack()  # or siteaxo.read_site("site.toml").stack()
    # by= also takes "terrace", "role", "layer", a field, or {"name of a tier": ("roles", "layers", ...)}.
    apart = model.exploded_view(siteaxo.planometric(turn=45), by="theme")
    apart.figure(sheet="A2", scale=200, orientation="portrait").savefig(out / "exploded.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
