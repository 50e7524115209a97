"""The plug-in of DEVELOPERS.md, taken from its text and installed in a venv, works."""

import re
from pathlib import Path
from typing import get_args

import geopandas
import shapely
from installed import output_of, venv_with

from siteaxo.source.roles import ROLES, Form, Theme

GUIDE = Path(__file__).parent.parent / "DEVELOPERS.md"

FRAMES = """
import geopandas, shapely, siteaxo
def frame(shape, **columns):
    return geopandas.GeoDataFrame(columns, geometry=[shape], crs="EPSG:25832")
yard = frame(shapely.box(0, 0, 12, 9), level=[2.0])
beds = frame(shapely.box(3, 3, 8, 6), kind=["sedge"])
mounds = frame(shapely.Point(2, 7).buffer(1.5))
willows = frame(shapely.Point(10, 7))
"""
LOOK = """
drawing = model.draw(siteaxo.planometric(turn=30), style="millrace.pencil")
floor = drawing.faces.query("role == 'millrace.rain_bed'")  # the floor of what is cut into the yard
print(floor.level_max.tolist(), floor.fill.tolist(), drawing.style.name, share["share"].tolist())
print(sorted(drawing.faces.query("layer == 'mounds'")["part"].unique()), len(model.findings))
print((plan.extra["planting"]["kind"] == "symbol").any())
"""


def blocks():
    """The files of the plug-in as the guide has them, and the script that uses them."""
    text = GUIDE.read_text("utf-8").split("## Writing a plug-in\n")[1].split("\n## ")[0]
    return re.findall(r"```(?:toml|python)\n(.*?)```", text, re.S)


def test_the_plug_in_of_the_guide_works(tmp_path):
    toml, code, script = blocks()
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
    (tmp_path / "script.py").write_text(FRAMES + script + LOOK, encoding="utf-8")
    floor, mounds, symbol = output_of(python, str(tmp_path / "script.py")).splitlines()
    assert floor == "[1.8] ['#c9d8c0'] millrace.pencil [1.0]"
    assert mounds == "['side', 'top'] 0"
    assert symbol == "True"


def test_the_guide_tells_orders_forms_and_themes_as_they_are():
    text = " ".join(GUIDE.read_text("utf-8").split("## Writing a plug-in\n")[1].split("\n## ")[0].split())
    rows = [role for role in ROLES.values() if role.form != "levels"]
    assert ", ".join(f"{role.order} {role.name}" for role in rows) + "." in text
    assert "one of " + ", ".join(get_args(Theme)) + "." in text
    told = text.split("own forms (")[1].split(")")[0].replace(" which is meant where it says none,", "")
    assert set(told.split(", ")) == set(get_args(Form)) - {"terrain", "drape", "levels", "none"}


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
