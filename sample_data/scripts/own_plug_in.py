"""A plug-in of one's own at work: its role is drawn, its style is used, its operation is run."""

import sys
from pathlib import Path

import geopandas
import shapely

import siteaxo

sys.path.insert(0, str(Path(__file__).parent / "plug_in"))  # as if it were installed

CRS = "EPSG:25832"
CORNER = [565_000.0, 5_934_000.0]


def frame(shapes: list, **columns: list) -> geopandas.GeoDataFrame:
    """Features at their place on the map."""
    moved = shapely.transform(shapes, lambda xy: xy + CORNER)
    return geopandas.GeoDataFrame(columns, geometry=moved, crs=CRS)


def main(out: Path) -> None:
    """Draw a quay with copings, and count the length to sit on."""
    quay = frame([shapely.box(0, 0, 40, 9), shapely.box(0, 9, 40, 15)], level=[2.2, 3.0])
    copings = frame(
        [
            shapely.LineString([(1, 8.6), (13, 8.6)]),
            shapely.LineString([(17, 8.6), (24, 8.6)]),
            shapely.LineString([(28, 8.6), (39, 8.6)]),
            shapely.LineString([(1, 14.6), (39, 14.6)]),
        ],
        high=[0.45, 0.45, 0.5, 1.1],
    )
    copings = siteaxo.run("quayside.seat_length", {"features": copings, "height": "high"})
    print(f"{copings['seat_m'].sum():.0f} m to sit on")
    layers = [
        siteaxo.Layer(
            name="harbour", role="water", source=frame([shapely.box(0, -8, 40, 0)]), base=0, top=0.6
        ),
        siteaxo.Layer(name="quay", role="terrace", source=quay, top="level"),
        siteaxo.Layer(name="copings", role="quayside.coping", source=copings, base="below", height="high"),
    ]
    site = siteaxo.Site(name="A quay", layers=layers, base_line=90)
    diagram = site.stack().draw(siteaxo.planometric(turn=30), style="quayside.tidewater", people=True)
    diagram.figure(sheet="A3", scale="fit").savefig(out / "own_plug_in.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
