"""Quantities of a site: a sheet for the report, and the rows for a spreadsheet."""

import sys
from pathlib import Path

import siteaxo
from siteaxo import operations as op

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"


def main(out: Path) -> None:
    """Measure the sample site."""
    model = siteaxo.read_site(SITE).stack()
    op.export_rows(model.quantities(by="role"), out / "quantities.gpkg")
    model.quantities_figure(sheet="A3").savefig(out / "quantities.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
