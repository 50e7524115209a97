import sys
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely

import siteaxo
from siteaxo.view import candidates
from siteaxo.view.crowded import TooManyPairsError
from siteaxo.view.projection import planometric
from siteaxo.view.resolve import resolve

sys.path.append(str(Path(__file__).parent / "benchmarks"))
from districts import make

VIEW = planometric(30)


def wavy(corners: int, *, x: float = 0.0, radius: float = 100.0) -> shapely.Polygon:
    """A ring of r = R + 0.08 R sin 24 t, whose area is π R² (1 + 0.08² / 2) by integration."""
    t = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    r = radius * (1 + 0.08 * np.sin(24 * t))
    return shapely.Polygon(np.column_stack([500_000 + x + r * np.cos(t), 5_700_000 + r * np.sin(t)]))


def site(shapes, **levels) -> siteaxo.Site:
    rows = geopandas.GeoDataFrame(
        {"no": [f"f{k}" for k in range(len(shapes))]}, geometry=shapes, crs="EPSG:25832"
    )
    layer = siteaxo.Layer(
        name="quay", role="terrace", source=rows, id="no", **{"base": 0.0, "top": 4.0, **levels}
    )
    return siteaxo.Site(name="Quay", layers=[layer])


def test_too_many_pairs_name_the_layer_and_the_feature(monkeypatch):
    monkeypatch.setattr(candidates, "MOST_PAIRS", 300)
    model = site([wavy(60, x=-300), wavy(2000)]).stack()
    with pytest.raises(
        siteaxo.SiteaxoError, match=r"layer 'quay', feature f1: too many.*many corners"
    ) as caught:
        model.draw(VIEW, threads=1)
    assert isinstance(caught.value, TooManyPairsError)
    assert caught.value.code == "too-many-pairs"
    assert caught.value.layer == "quay"
    assert caught.value.source_ids == ("f1",)


def test_smaller_tiles_are_taken_where_too_many_faces_meet(monkeypatch):
    scene = make("open", 160, seed=3)
    origin = scene.faces.xyz.min(axis=0)
    whole = resolve(scene, VIEW, origin=origin, threads=1)
    monkeypatch.setattr(candidates, "MOST_PAIRS", whole.report["pairs"])
    with pytest.raises(TooManyPairsError, match="tile=None"):
        resolve(scene, VIEW, origin=origin, threads=1, tile=None)
    for threads in (1, 2):
        tiled = resolve(scene, VIEW, origin=origin, threads=threads)
        assert tiled.report["tiles"] > 1
        for key in ("visible_area", "visible_length"):
            assert tiled.report[key] == pytest.approx(whole.report[key], rel=1e-9)


def test_a_winding_edge_of_twenty_thousand_corners_is_drawn():
    """Its top has the area of the curve, true to scale: on its axis UTM draws at 0.9996 (EPSG 9807)."""
    drawing = site([wavy(20_000)]).stack().draw(VIEW, threads=1)
    top = drawing.faces[drawing.faces["part"] == "top"].geometry.area.sum()
    assert top == pytest.approx(np.pi * 100**2 * (1 + 0.08**2 / 2) / 0.9996**2, rel=1e-6)
    assert drawing.report["worst_face_balance"] < 1e-6
