"""A street block from open footprints: heights from a field, or from storeys where there is none."""

import sys
from pathlib import Path

import geopandas
import numpy as np
import shapely

import siteaxo


def footprints() -> geopandas.GeoDataFrame:
    """Invented footprints as open data has them: degrees, texts for heights, gaps in the fields."""
    chance = np.random.default_rng(11)
    shapes, storeys, heights = [], [], []
    for side in range(4):
        for number in range(7):
            deep, floors = 11 + chance.uniform(-1, 2), int(chance.integers(3, 7))
            house = shapely.box(11.5 * number - 40, 30 - deep, 11.5 * (number + 1) - 40, 30)
            shapes.append(shapely.affinity.rotate(house, 90 * side, origin=(0, 0)))
            storeys.append(floors)
            heights.append(f"{3.1 * floors + 1.2:.1f} m" if chance.random() < 0.6 else None)
    for x, y in ((-18, -12), (6, -6), (-4, 9)):
        shapes.append(shapely.box(x, y, x + 9, y + 6))
        storeys.append(1)
        heights.append(None)
    plane = siteaxo.LocalPlane.centred_on(11.58, 50.93)
    frame = geopandas.GeoDataFrame(
        {"levels": storeys, "height": heights, "floor_h": 3.2}, geometry=shapes, crs=plane.crs
    )
    return frame[~frame.overlaps(frame.union_all())].to_crs("EPSG:4326")


def main(out: Path) -> None:
    """Draw the block."""
    blocks = siteaxo.Layer(
        name="buildings",
        role="structure",
        source=footprints(),
        base=0.0,
        height="height",
        storeys="levels",
        storey_height="floor_h",
    )
    model = siteaxo.Site(name="A street block", layers=[blocks]).stack()
    print(model.findings[["severity", "code", "message"]].to_string(index=False))
    diagram = model.draw(siteaxo.planometric(turn=30), shadows="conventional")
    diagram.figure(sheet="A3", scale="fit", levels=False).savefig(out / "street_block.png")


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]))
