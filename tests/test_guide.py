"""The plug-in of DEVELOPERS.md, taken from its text and installed in a venv, works."""

import re
from pathlib import Path

import geopandas
import shapely
from installed import output_of, venv_with

GUIDE = Path(__file__).parent.parent / "DEVELOPERS.md"

SCRIPT = """
import geopandas, shapely, siteaxo
areas = geopandas.GeoDataFrame(
    {"level": [2.0]}, geometry=[shapely.box(0, 0, 12, 9)], crs="EPSG:25832"
)
bed = geopandas.GeoDataFrame(geometry=[shapely.box(3, 3, 8, 6)], crs="EPSG:25832")
trees = geopandas.GeoDataFrame(geometry=[shapely.Point(10, 7)], crs="EPSG:25832")
layers = [
    siteaxo.Layer(name="yard", role="terrace", source=areas, base=1, top="level"),
    siteaxo.Layer(name="bed", role="millrace.rain_bed", source=bed, top=1.8),
]
model = siteaxo.Site(name="Yard", layers=layers).stack()
drawing = model.draw(siteaxo.planometric(turn=30), style="millrace.pencil")
beds = drawing.faces.query("role == 'millrace.rain_bed'")  # the floor of what is cut into the yard
print(beds.level_max.tolist(), beds.fill.tolist(), drawing.style.name)
"""


def blocks():
    """The files of the plug-in as the guide has them."""
    text = GUIDE.read_text("utf-8").split("## Writing a plug-in\n")[1].split("\n## ")[0]
    toml, python = (re.search(rf"```{kind}\n(.*?)```", text, re.S)[1] for kind in ("toml", "python"))
    return toml, python


def test_the_plug_in_of_the_guide_works(tmp_path):
    toml, code = blocks()
    source = tmp_path / "millrace"
    (source / "millrace_siteaxo").mkdir(parents=True)
    (source / "pyproject.toml").write_text(toml, encoding="utf-8")
    (source / "millrace_siteaxo" / "__init__.py").write_text(code, encoding="utf-8")
    python = venv_with(tmp_path / "venv", source)
    assert "millrace.planting_share  1.0" in output_of(python, "-m", "siteaxo", "operations")
    page = " ".join(output_of(python, "-m", "siteaxo", "describe", "millrace.planting_share").split())
    assert "least: number [m²], from 0, default 1." in page
    beds = geopandas.GeoDataFrame(
        {"kind": ["sedge", "fern", "sedge"]},
        geometry=[shapely.box(0, 0, 3, 2), shapely.box(4, 0, 6, 2), shapely.box(0, 3, 5, 5)],
        crs="EPSG:25832",
    )
    beds.to_file(tmp_path / "beds.gpkg", engine="pyogrio")
    output_of(
        python, "-m", "siteaxo", "run", "millrace.planting_share", "--out", str(tmp_path / "share.gpkg"),
        "--input", f"features={tmp_path / 'beds.gpkg'}", "--input", "field=kind", "--quiet",
    )  # fmt: skip
    share = geopandas.read_file(tmp_path / "share.gpkg", engine="pyogrio").set_index("kind")["share"]
    assert share.round(9).to_dict() == {"fern": 0.2, "sedge": 0.8}  # 4 of 20 m², and 6 and 10
    (tmp_path / "script.py").write_text(SCRIPT, encoding="utf-8")
    assert output_of(python, str(tmp_path / "script.py")).strip() == "[1.8] ['#c9d8c0'] millrace.pencil"


def test_recipes_of_the_guide_fit_together(tmp_path, monkeypatch):
    import siteaxo

    text = GUIDE.read_text("utf-8").split("## Recipes\n")[1].split("\n## ")[0]
    (tmp_path / "quay.toml").write_text(re.search(r"```toml\n(.*?)```", text, re.S)[1], encoding="utf-8")
    (tmp_path / "site.toml").write_text(
        '[[layer]]\nname = "g"\nrole = "ground"\nsource = "g.gpkg"\ntop = 2\n', encoding="utf-8"
    )
    recipe = siteaxo.read_recipe(tmp_path / "quay.toml", inputs={"turn": 60})
    assert [step.id for step in recipe.steps] == ["drawing", "export"]
    assert recipe.steps[0].inputs["turn"] == 60
