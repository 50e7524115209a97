"""The drawing laid on a map: what lies at the level drawn in place fits the map exactly."""

import sys
from pathlib import Path

import geopandas
import matplotlib.pyplot as plt

import siteaxo

SITE = Path(__file__).parent.parent / "wrenlow" / "site.toml"


def main(out: Path) -> None:
    """Write the sample site in the frame of the map, and plot it over the site's own boundary."""
    diagram = siteaxo.read_site(SITE).stack().draw(siteaxo.planometric(turn=60), people=False)
    file = out / "map_overlay.gpkg"
    diagram.to_gpkg(file, frame="map")  # from here on any GIS can read it; below it is geopandas
    faces = geopandas.read_file(file, layer="faces")
    lines = geopandas.read_file(file, layer="edges")
    boundary = geopandas.read_file(SITE.parent / "boundary.shp").to_crs(faces.crs)
    figure, axes = plt.subplots(figsize=(9, 9), layout="constrained")
    faces.plot(ax=axes, color=faces["fill"].where(faces["fill"] != "", "#ffffff"), antialiased=False)
    lines[lines["drawn"] == 1].plot(ax=axes, color="#191512", linewidth=0.3)
    boundary.boundary.plot(ax=axes, color="#a0402c", linewidth=1.4, label="site boundary (map data)")
    axes.legend(loc="lower right", frameon=False)
    axes.set_title("The drawing in the map's own coordinates", loc="left")
    note = "The lowest level fits the map; what is higher leans away. Not for construction or setting out."
    axes.text(0.0, -0.09, note, transform=axes.transAxes, fontsize="small")
    axes.set(xlabel="east [m]", ylabel="north [m]")
    figure.savefig(out / "map_overlay.png", dpi=130)
    plt.close(figure)


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
