"""A courtyard in two states."""

import shapely

import siteaxo

from .places import placed

features = placed("EPSG:25832", 565_000, 5_934_000)


def courtyard(*, rise: float, trees: list[tuple[float, float]], bench: bool) -> siteaxo.Site:
    """A terrace of some height above the court, trees, and perhaps a bench along its edge."""
    box = shapely.box
    named = [f"T{number}" for number in range(len(trees))]
    stems = features(shapely.points(trees), id=named)
    layers = [
        siteaxo.Layer(name="court", role="ground", source=features([box(0, 0, 29, 21)]), base=11.4, top=12.0),
        siteaxo.Layer(name="terrace", role="terrace", source=features([box(3, 12, 26, 19)]), top=12 + rise),
        siteaxo.Layer(name="lawn", role="lawn", source=features([box(3, 3, 16, 9)])),
        siteaxo.Layer(
            name="pavilion", role="structure", source=features([box(20, 3, 27, 8)]), base="below", height=3.4
        ),
        siteaxo.Layer(name="trees", role="tree", source=stems, id="id", height=5.5, diameter=3.6),
    ]
    if bench:
        seat = features([shapely.LineString([(5, 11.4), (24, 11.4)])])
        layers.append(siteaxo.Layer(name="bench", role="seat", source=seat, height=0.45))
    return siteaxo.Site(name="Tanner Court", layers=layers, base_line=90)


def as_it_is() -> siteaxo.Site:
    """The court today."""
    return courtyard(rise=0.3, trees=[(6, 6), (12, 6), (22, 16)], bench=False)


def proposed() -> siteaxo.Site:
    """The court with a raised terrace, a bench before it, and trees moved onto it."""
    return courtyard(rise=1.2, trees=[(6, 6), (12, 6), (7, 16), (22, 16)], bench=True)
