"""Plug-ins: found on first look-up, broken ones named, and an example in a venv of its own."""

import sys

import geopandas
import numpy as np
import pandas
import pytest
import shapely
from installed import EXAMPLE, install, make_plug_in, output_of, venv_with

import siteaxo
from siteaxo import plugins, registry
from siteaxo.cli import main
from siteaxo.craft.symbols import plan_symbol
from siteaxo.plugins import FOREIGN_ID, INTERFACE, PlugInError, is_foreign
from siteaxo.registry import operation_named

OPERATION = '''
import siteaxo
{mark}
@siteaxo.operation("{id}", version="1.0")
def half(length: float) -> float:
    """
    Halve a length.

    Parameters
    ----------
    length : float
        Any length [m].

    Returns
    -------
    float
        Half of it [m].
    """
    return length / 2
'''
MARK = f"SITEAXO_INTERFACE = {INTERFACE}"


@pytest.fixture
def packages(tmp_path, monkeypatch):
    """A folder on the path that plug-ins can be installed in; nothing is remembered of it."""
    monkeypatch.syspath_prepend(str(tmp_path))
    plugins.look_again()
    yield tmp_path
    for name, module in list(sys.modules.items()):
        if str(tmp_path) in str(getattr(module, "__file__", None)):
            del sys.modules[name]
    monkeypatch.undo()
    plugins.look_again()


def add(folder, name, *, id="harbour.half", code=None, mark=MARK, group="siteaxo.operations", thing="half"):
    make_plug_in(
        folder,
        name,
        OPERATION.format(mark=mark, id=id) if code is None else code,
        {group: {id: f"{name}:{thing}"}},
    )
    plugins.look_again()


def left_out():
    return registry.left_out().findings


def test_operation_of_a_plug_in_is_found_described_and_run(packages):
    add(packages, "harbour_a")
    assert siteaxo.run("harbour.half", {"length": 9.0}) == 4.5
    assert siteaxo.describe("harbour.half")["outputs"]["result"]["schema"] == {"type": "number"}
    assert list(siteaxo.known_operations())[-1] == "harbour.half"


def test_a_broken_plug_in_is_named_and_the_others_work(packages):
    add(packages, "harbour_a")
    add(packages, "harbour_b", id="harbour.broken", code="1 / 0")
    assert siteaxo.run("harbour.half", {"length": 9.0}) == 4.5
    (finding,) = left_out()
    assert finding.field == "harbour.broken"
    assert "ZeroDivisionError" in finding.message
    assert "harbour_b 1.0" in finding.message
    with pytest.raises(PlugInError, match="ZeroDivisionError"):
        operation_named("harbour.broken")


@pytest.mark.parametrize(
    ("gives", "words"),
    [
        ("{}[length]", r"'harbour.half' failed \(KeyError: 9.0\). This is a fault of harbour_a.half"),
        ("'long'", "'harbour.half' gave 'long', and says that it gives number"),
        ("None", "'harbour.half' gave None, and says that it gives number"),
    ],
)
def test_a_fault_of_a_plug_in_is_told_as_its_own(packages, capsys, gives, words):
    add(
        packages,
        "harbour_a",
        code=OPERATION.format(mark=MARK, id="harbour.half").replace("length / 2", gives),
    )
    with pytest.raises(PlugInError, match=words) as caught:
        siteaxo.run("harbour.half", {"length": 9.0})
    assert isinstance(caught.value.__cause__, KeyError) == gives.startswith("{}")
    assert main(["run", "harbour.half", "--input", "length=9", "--traceback"]) == 2
    assert ("KeyError" in capsys.readouterr().err) == gives.startswith("{}")
    (packages / "r.toml").write_text('[[step]]\noperation = "harbour.half"\ninputs = { length = 9.0 }\n')
    with pytest.raises(PlugInError, match=f"step 'harbour.half': The plug-in {words}"):
        siteaxo.run_recipe(packages / "r.toml")


def test_a_plug_in_that_changes_what_it_is_handed_changes_nothing_elsewhere(packages):
    code = OPERATION.format(mark=MARK, id="harbour.half").replace("import siteaxo", "import siteaxo, pandas")
    code = code.replace("float", "pandas.DataFrame").replace(
        "return length / 2", "length['n'] = 0; return length"
    )
    add(packages, "harbour_a", code=code)
    rows = pandas.DataFrame({"n": [1, 2]})
    assert siteaxo.run("harbour.half", {"length": rows})["n"].tolist() == [0, 0]
    assert rows["n"].tolist() == [1, 2]


def test_who_stops_a_plug_in_through_its_progress_stops_it(packages):
    code = OPERATION.format(mark=MARK, id="harbour.half").replace(
        "length: float", "length: float, progress=None"
    )
    add(packages, "harbour_a", code=code.replace("return", "progress('half', 0.5)\n    return"))
    told = []
    assert siteaxo.run("harbour.half", {"length": 9.0}, progress=lambda *way: told.append(way)) == 4.5
    assert told == [("half", 0.5)]

    def stop(stage, share):
        raise RuntimeError("enough")

    with pytest.raises(RuntimeError, match=r"^enough$"):
        siteaxo.run("harbour.half", {"length": 9.0}, progress=stop)


def test_even_one_that_leaves_python_is_only_left_out(packages):
    add(packages, "harbour_c", id="harbour.quits", code="raise SystemExit(3)")
    (finding,) = left_out()
    assert "SystemExit" in finding.message


def test_an_id_taken_twice_is_refused_to_both(packages):
    add(packages, "harbour_a")
    add(packages, "harbour_b")
    findings = left_out()
    assert len(findings) == 2
    assert all("harbour_a 1.0 and harbour_b 1.0" in finding.message for finding in findings)
    assert "harbour.half" not in siteaxo.known_operations()


@pytest.mark.parametrize(
    ("mark", "words"), [("", "says no interface"), ("SITEAXO_INTERFACE = 99", "written for interface 99")]
)
def test_the_interface_number_is_checked(packages, mark, words):
    add(packages, "harbour_a", mark=mark)
    (finding,) = left_out()
    assert words in finding.message


def test_an_id_without_an_office_is_refused(packages):
    add(packages, "harbour_a", id="half")
    (finding,) = left_out()
    assert "office.thing" in finding.message
    with pytest.raises(siteaxo.SiteaxoError, match="Unknown operation 'half'"):
        operation_named("half")


def test_the_entry_point_and_the_operation_have_one_id(packages):
    make_plug_in(
        packages,
        "harbour_a",
        OPERATION.format(mark=MARK, id="harbour.half"),
        {"siteaxo.operations": {"harbour.third": "harbour_a:half"}},
    )
    plugins.look_again()
    (finding,) = left_out()
    assert "'harbour.third' and its operation 'harbour.half'" in finding.message


def test_what_is_not_described_is_refused(packages):
    add(packages, "harbour_a", code=f"{MARK}\ndef half(x):\n    return x\n")
    (finding,) = left_out()
    assert "no operation" in finding.message


@pytest.mark.parametrize("name", ["a.b", "quayside.seat_length", "a.b.c2"])
def test_ids_of_others(name):
    assert FOREIGN_ID.fullmatch(name)


@pytest.mark.parametrize("name", ["deck", "spot level", "A.b", ".b", "a.", "a..b", 3, None])
def test_ids_that_are_none_of_others(name):
    assert not is_foreign(name)


ROLE = f"""
import siteaxo
{MARK}
ROLE = siteaxo.Role(name="harbour.kerb", order={{order}}, form="{{form}}", theme="structures")
"""


@pytest.mark.parametrize(
    ("order", "form", "theme", "words"),
    [
        (11, "cone", "structures", "its form 'cone' is none of prism,"),
        (99, "prism", "structures", "its order 99 is none of 0, 1,"),
        (11, "prism", "kerbs", "its theme 'kerbs' is none of ground,"),
    ],
)
def test_a_role_that_cannot_be_stacked_is_refused(packages, order, form, theme, words):
    code = ROLE.format(order=order, form=form).replace("structures", theme)
    add(packages, "harbour_r", id="harbour.kerb", code=code, group="siteaxo.roles", thing="ROLE")
    with pytest.raises(siteaxo.SiteaxoError, match=words):
        siteaxo.Layer(name="kerbs", role="harbour.kerb", source="kerbs.shp", height=0.1)


def test_a_role_that_is_not_installed_says_so():
    with pytest.raises(siteaxo.SiteaxoError, match=r"No installed plug-in adds the role 'nowhere\.kerb'"):
        siteaxo.Layer(name="kerbs", role="nowhere.kerb", source="kerbs.shp", height=0.1)


def test_role_style_and_symbol_of_the_example(packages):
    from siteaxo.craft.stylefile import style_of

    install(EXAMPLE, packages)
    plugins.look_again()
    layer = siteaxo.Layer(name="copings", role="quayside.coping", source="copings.shp", height=0.45)
    assert layer.role_row.supports
    assert style_of("quayside.tidewater").tones["water"] == "#9fc3c9"
    with pytest.raises(
        siteaxo.SiteaxoError, match=r"Known: dark ground, line only, muted, quayside\.tidewater"
    ):
        style_of("woodcut")
    with pytest.raises(siteaxo.SiteaxoError, match=r"Did you mean 'quayside\.tidewater'"):
        style_of("quayside-tidewater")
    (outline,) = plan_symbol("quayside.alder", 2.0, "one", detail="outline")
    assert np.allclose(np.hypot(*outline.T), 2.0)  # a hexagon about the stem


def test_a_symbol_of_the_example_on_a_plan(packages):
    install(EXAMPLE, packages)
    plugins.look_again()
    trees = geopandas.GeoDataFrame(geometry=[shapely.Point(5, 5)], crs="EPSG:25832")
    ground = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 10, 10)], crs="EPSG:25832")
    layers = [
        siteaxo.Layer(name="ground", role="ground", source=ground, base=0, top=1),
        siteaxo.Layer(
            name="bank", role="quayside.bank_tree", source=trees, height=8, diameter=4, shape="quayside.alder"
        ),
    ]
    model = siteaxo.Site(name="Bank", layers=layers, base_line=90).stack()
    drawn = model.draw(siteaxo.planometric(turn=0, height_factor=0), planting="texture").extra["planting"]
    symbol = drawn[drawn.kind == "symbol"]
    # A hexagon of radius 2 m has a girth of six times its radius; the line within is as long as the radius.
    # Its corners are cut where the facets of the crown end.
    assert symbol.length.sum() == pytest.approx(6 * 2 + 2, rel=0.02)


SCRIPT = """
import geopandas, shapely, siteaxo
lines = geopandas.GeoDataFrame(
    {"id": ["a", "b"], "h": [0.45, 1.2]},
    geometry=[shapely.LineString([(0, 0), (6, 0)]), shapely.LineString([(0, 3), (6, 3)])],
    crs="EPSG:25832",
)
slab = geopandas.GeoDataFrame(geometry=[shapely.box(-2, -2, 8, 5)], crs="EPSG:25832")
print(siteaxo.run("quayside.seat_length", {"features": lines, "height": "h"}).seat_m.tolist())
site = siteaxo.Site(layers=[
    siteaxo.Layer(name="quay", role="terrace", source=slab, base=0, top=1),
    siteaxo.Layer(name="copings", role="quayside.coping", source=lines, id="id", base="below", height="h"),
])
drawing = site.stack().draw(siteaxo.planometric(turn=45), style="quayside.tidewater")
tops = drawing.faces.query("layer == 'copings' and part == 'top'")
print(sorted(zip(tops.source_id, tops.level_max.round(6), tops.fill)))
drawing.figure(sheet="A4", scale="fit").savefig("coping.png")
"""


def test_the_example_in_a_venv(tmp_path):
    python = venv_with(tmp_path / "venv", EXAMPLE)
    script = tmp_path / "script.py"
    script.write_text(SCRIPT.replace('"coping.png"', repr(str(tmp_path / "coping.png"))), encoding="utf-8")
    lines = output_of(python, str(script)).splitlines()
    assert lines[0] == "[6.0, 0.0]"  # only a is of a height to sit on
    assert lines[1] == "[('a', 1.45, '#d8c9b4'), ('b', 2.2, '#d8c9b4')]"
    listed = output_of(python, "-m", "siteaxo", "operations")
    assert "quayside.seat_length" in listed
    assert "Measure how much of each wall" in listed


def test_what_any_plug_in_says_counts_in_the_keys_of_recipes(packages):
    from siteaxo.process import fingerprint

    add(packages, "harbour_f")
    fingerprint.software.cache_clear()
    before = fingerprint.software()
    with (packages / "harbour_f" / "__init__.py").open("a", encoding="utf-8") as module:
        module.write("# one word more\n")
    fingerprint.software.cache_clear()
    after = fingerprint.software()
    fingerprint.software.cache_clear()
    assert before != after


def test_plug_ins_of_every_kind_are_told_by_the_doctor(packages):
    from siteaxo.shell.doctor import examine

    install(EXAMPLE, packages)
    plugins.look_again()
    add(
        packages,
        "harbour_s",
        id="harbour.mist",
        code=MARK + "\nMIST = 3",
        group="siteaxo.styles",
        thing="MIST",
    )
    told = {check.state: check.text for check in examine() if check.about == "plug-ins"}
    for one in ("operation quayside.seat_length", "form quayside.mound", "symbol quayside.alder"):
        assert one in told["good"]
    assert "harbour.mist" in told["bad"]


@pytest.mark.parametrize("detail", ["outline", "texture"])
def test_a_symbol_that_fails_is_told_as_a_fault_of_its_plug_in(packages, detail):
    code = f"{MARK}\ndef outline(radius, chance):\n    return {{}}[radius]\nBIRCH = (outline, outline)\n"
    add(packages, "harbour_a", id="harbour.birch", code=code, group="siteaxo.symbols", thing="BIRCH")
    with pytest.raises(PlugInError, match=r"'harbour.birch' failed \(KeyError: 2.0\).*fault of harbour_a"):
        plan_symbol("harbour.birch", 2.0, "x", detail=detail)
