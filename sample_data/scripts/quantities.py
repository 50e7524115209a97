"""Quantities of a site: a sheet for the report, and the rows for a spreadsheet and for a GIS."""

import sys
from pathlib import Path

import siteaxo

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"


def main(out: Path) -> None:
    """Measure the sample site."""
    model = siteaxo.read_site(SITE).stack()
    model.quantities_figure(sheet="A3").savefig(out / "quantities.png")
    model.quantities_to_csv(out / "quantities.csv", by="material")
    rows = model.quantities(by="role")  # a GeoDataFrame; by= also takes "material", "terrace", "feature"
    rows.to_file(out / "quantities.gpkg")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
