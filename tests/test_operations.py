"""Operations: what is read off functions, the open description, checked inputs, the steps themselves."""

import json
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import geopandas
import numpy as np
import pytest
import shapely
from geopandas.testing import assert_geodataframe_equal
from jsonschema import Draft4Validator

import siteaxo
from siteaxo import operations as op
from siteaxo.errors import InputError
from siteaxo.process.describing import operation_of
from siteaxo.process.docstrings import docstring_of
from siteaxo.process.kinds import kind_of
from siteaxo.process.pages import list_of, markdown_of, page_of
from siteaxo.registry import operation_named

SCHEMA = json.loads((Path(__file__).parent / "data/ogc-process-description.json").read_text("utf-8"))


def swale(
    run: float,
    *,
    slope: Annotated[float, siteaxo.Within(above=0, most=90)] = 2.5,
    side: Literal["left", "right"] = "left",
    level: Annotated[float | str, siteaxo.FieldOf("level")] | None = None,
    rounds: int = 1,
) -> float:
    """
    Measure a swale,
    from its crest.

    More is said here.

    Parameters
    ----------
    run : float
        Length along the plan [m].
    slope, rounds : float
        How steep it is, and how often
        it is measured [degrees].
    side : {"left", "right"}
        Which side.
    level : float or str, optional
        Level of the crest.

    Returns
    -------
    depth : float
        How deep it is [m].
    """
    return run * np.tan(np.radians(slope)) * rounds


SWALE = operation_of(siteaxo.operation("lowland.swale", version="2.0")(swale))


def test_nothing_is_said_twice():
    assert (SWALE.id, SWALE.version, SWALE.title) == ("lowland.swale", "2.0", "Swale")
    assert SWALE.summary == "Measure a swale, from its crest."
    assert SWALE.text == "More is said here."
    assert list(SWALE.parameters) == ["run", "slope", "side", "level", "rounds"]
    slope = SWALE.parameters["slope"]
    assert slope.text == "How steep it is, and how often it is measured."
    assert (slope.unit, slope.default, slope.required) == ("degrees", 2.5, False)
    assert slope.kind.schema == {"type": "number", "minimum": 0, "exclusiveMinimum": True, "maximum": 90}
    assert SWALE.parameters["side"].kind.schema["enum"] == ["left", "right"]
    assert SWALE.parameters["level"].kind.use == "level"
    (result,) = SWALE.results
    assert (result.name, result.unit, result.text) == ("depth", "m", "How deep it is.")


def test_the_function_stays_as_it_is():
    assert swale(10.0, slope=45.0) == pytest.approx(10.0)
    assert SWALE(10.0, slope=45.0) == pytest.approx(10.0)
    with pytest.raises(AttributeError):
        SWALE.id = "other"


@pytest.mark.parametrize(
    ("inputs", "words"),
    [
        ({}, "'run' is missing: Length along the plan"),
        ({"run": 1, "sloep": 2}, "unknown input 'sloep'. Did you mean 'slope'"),
        ({"run": "3"}, "'run' must be a finite number, not '3'"),
        ({"run": float("nan")}, "'run' must be a finite number"),
        ({"run": True}, "'run' must be a finite number"),
        ({"run": 1, "slope": 0}, "'slope' must be above 0 and at most 90, not 0"),
        ({"run": 1, "slope": 90.1}, "'slope' must be above 0 and at most 90"),
        ({"run": 1, "side": "lefft"}, "Did you mean 'left'"),
        ({"run": 1, "rounds": 1.5}, "'rounds' must be a whole number"),
        ({"run": 1, "level": []}, "'level' must be a finite number, or a text, not"),
    ],
)
def test_inputs_are_checked(inputs, words):
    with pytest.raises(InputError, match=words):
        SWALE.checked(inputs)


def test_inputs_become_values():
    assert SWALE.checked({"run": 1, "level": "crest_lvl", "side": "right"}) == {
        "run": 1.0,
        "level": "crest_lvl",
        "side": "right",
    }


@pytest.mark.parametrize(
    ("annotation", "written", "value"),
    [
        (datetime, "2026-03-20T12:00+00:00", datetime.fromisoformat("2026-03-20T12:00+00:00")),
        (list[float], [1, 2], [1.0, 2.0]),
        (float | None, 2, 2.0),
        (dict[str, int], {"a": 1}, {"a": 1}),
        (Path, "a/b.gpkg", Path("a/b.gpkg")),
        (float | Literal["fit"], "fit", "fit"),
    ],
)
def test_kinds_of_values(annotation, written, value):
    assert kind_of(annotation, {}).convert(written) == value


@pytest.mark.parametrize(
    ("annotation", "written"),
    [(datetime, "noon"), (list[float], "12"), (dict, []), (Path, "https://example.org/a"), (bool, 1)],
)
def test_what_is_not_of_a_kind(annotation, written):
    with pytest.raises(InputError):
        kind_of(annotation, {}).convert(written)


@pytest.mark.parametrize("name", list(siteaxo.known_operations()))
def test_descriptions_are_valid_processes(name):
    # OGC 18-062r2 (OGC API - Processes - Part 1: Core 1.0), schema process.yaml
    described = siteaxo.describe(name)
    Draft4Validator.check_schema(SCHEMA)
    Draft4Validator(SCHEMA).validate(json.loads(json.dumps(described)))
    one = operation_named(name)
    assert all(parameter.text.endswith((".", ".)")) for parameter in one.parameters.values()), name
    assert one.summary.endswith(".")


def test_the_schema_refuses_what_the_standard_refuses():
    described = siteaxo.describe("draw")
    check = Draft4Validator(SCHEMA)
    assert not check.is_valid({**described, "version": 1})
    assert not check.is_valid({key: value for key, value in described.items() if key != "id"})
    turn = {**described["inputs"]["turn"], "schema": {"type": "angle"}}
    assert not check.is_valid({**described, "inputs": {"turn": turn}})
    no_schema = {key: value for key, value in turn.items() if key != "schema"}
    assert not check.is_valid({**described, "inputs": {"turn": no_schema}})


def test_pages_say_it_to_a_person():
    page = page_of(SWALE)
    assert "slope: number [degrees], above 0 to 90, default 2.5." in page.replace("\n      ", " ")
    assert "level: number or text, name of the field with the level, optional." in page.replace(
        "\n      ", " "
    )
    assert list_of([SWALE]) == "lowland.swale  2.0   Measure a swale, from its crest."
    assert "| `lowland.swale` 2.0 | `run`, [`slope`]" in markdown_of({"lowland.swale": SWALE})


def test_a_function_without_a_docstring_is_refused():
    def bare(x: float) -> float:
        return x

    with pytest.raises(TypeError, match="no docstring"):
        siteaxo.operation("a.bare", version="1")(bare)


def test_a_parameter_that_is_not_told_is_refused():
    def half(x: float, y: float) -> float:
        """
        Halve.

        Parameters
        ----------
        x : float
            What.
        """
        return x / y

    with pytest.raises(TypeError, match="'y' has no entry under Parameters"):
        siteaxo.operation("a.half", version="1")(half)


def test_a_docstring_in_parts():
    told = docstring_of(op.draw)
    assert told.summary == "Draw a model with exact hidden-line removal."
    assert told.parameters["turn"].unit == "degrees anticlockwise"


@pytest.fixture
def blocks():
    """Two blocks on a slab of ground, in Swiss degrees of latitude and longitude."""
    metres = 1 / 111_320
    x, y = 8.5, 47.4

    def box(left, bottom, right, top):
        wide = metres / np.cos(np.radians(y))
        return shapely.box(x + left * wide, y + bottom * metres, x + right * wide, y + top * metres)

    return geopandas.GeoDataFrame(
        {"ref": ["a", "b"], "high": [6.0, 9.0], "floor": [400.0, 400.0]},
        geometry=[box(0, 0, 10, 10), box(20, 0, 30, 10)],
        crs="EPSG:4326",
        index=[7, 3],
    )


def test_steps_are_piped_with_the_crs_carried_and_nothing_changed(blocks):
    before = blocks.copy()
    placed = blocks.pipe(op.local_plane).pipe(op.levels, role="structure", base="floor", height="high")
    assert placed.crs.is_projected
    assert placed.top.tolist() == [406.0, 409.0]
    assert placed.index.tolist() == [7, 3]
    # a degree of latitude is 111.2 km at 47.4 degrees (WGS 84, from memory), 111.32 was taken above
    assert placed.area.tolist() == pytest.approx([100, 100], rel=5e-3)
    layer = op.layer(placed, name="blocks", role="structure", id="ref")
    model = op.stack(op.site([layer], name="Two"))
    drawing = op.draw(model, turn=30)
    tops = op.drawn_layer(drawing, name="faces").query("part == 'top'")
    assert sorted(tops.level_max) == [406.0, 409.0]
    assert tops.area.sum() == pytest.approx(placed.area.sum(), rel=1e-6)
    assert_geodataframe_equal(blocks, before)
    tops["level_max"] = 0.0
    assert op.drawn_layer(drawing).level_max.max() == 409.0  # what was handed out is a copy


def test_levels_in_feet(blocks):
    # international foot: 0.3048 m exactly (international yard and pound agreement, 1959)
    given = op.levels(blocks, role="structure", base=0, height="high", unit="ft")
    assert given.height.tolist() == pytest.approx([6 * 0.3048, 9 * 0.3048], abs=1e-12)


def test_features_without_a_crs_are_refused(blocks):
    with pytest.raises(siteaxo.SiteaxoError, match="set_crs"):
        op.local_plane(blocks.set_crs(None, allow_override=True))


def test_run_takes_paths_and_geojson(blocks, tmp_path):
    file = tmp_path / "blocks.gpkg"
    blocks.to_file(file, engine="pyogrio")
    read = siteaxo.run("read", {"source": str(file)})
    assert read.ref.tolist() == ["a", "b"]
    moved = siteaxo.run("local_plane", {"features": json.loads(blocks.to_json())})
    assert moved.crs.is_projected
    (tmp_path / "site.toml").write_text(
        '[[layer]]\nname = "blocks"\nsource = "blocks.gpkg"\nrole = "structure"\n'
        'base = "floor"\nheight = "high"\n',
        encoding="utf-8",
    )
    seen = []
    out = siteaxo.run(
        "export",
        {"diagram": str(tmp_path / "site.toml"), "path": str(tmp_path / "d.gpkg"), "frame": "map"},
    )
    drawing = siteaxo.run(
        "draw", {"model": str(tmp_path / "site.toml")}, progress=lambda stage, share: seen.append(stage)
    )
    assert len(drawing.faces) == len(geopandas.read_file(out, layer="faces", engine="pyogrio"))
    assert "lines" in seen


def test_rows_go_to_files(blocks, tmp_path):
    op.export_rows(blocks, tmp_path / "a.csv")
    op.export_rows(blocks, tmp_path / "a.geojson")
    assert geopandas.read_file(tmp_path / "a.geojson", engine="pyogrio").ref.tolist() == ["a", "b"]
    lines = (tmp_path / "a.csv").read_bytes().decode("utf-8").split("\r\n")
    assert lines[0] == "ref,high,floor,geometry"
    assert shapely.from_wkt(lines[1].split(",", 3)[3].strip('"')).equals(blocks.geometry.iloc[0])
    with pytest.raises(siteaxo.SiteaxoError, match=r"\.gpkg"):
        op.export_rows(blocks, tmp_path / "a.docx")


def test_drawings_are_set_on_one_sheet(blocks, tmp_path):
    placed = blocks.pipe(op.local_plane)
    layer = op.layer(placed, name="blocks", role="structure", base="floor", height="high")
    model = op.stack(op.site([layer], name="Two"))
    plan, main = op.draw(model, turn=0, height_factor=0), op.draw(model, turn=30)
    file = tmp_path / "board.svg"
    assert op.board(main, file, plan=plan, sheet="A3", scale=500, title="Two blocks") == file
    said = file.read_text("utf-8")
    for words in ("Two blocks", "1:500", "Plan"):
        assert words in said
    assert op.side_by_side([plan, main], tmp_path / "two.svg", sheet="A3").is_file()


def test_shadow_of_a_block(blocks):
    placed = blocks.pipe(op.local_plane)
    ground = geopandas.GeoDataFrame(geometry=[placed.union_all().envelope.buffer(30)], crs=placed.crs)
    layers = [
        op.layer(ground, name="ground", role="ground", base=399, top=400),
        op.layer(placed.iloc[:1], name="blocks", role="structure", base="floor", height="high"),
    ]
    model = op.stack(op.site(layers, base_line=90))
    # Light at 45 degrees: the shadow is as long as the block is high, 6 m, and as wide as the block.
    # From the south it falls up the page, where the block leans as far and hides it.
    cast = op.shadows(model, bearing=180, elevation=45, turn=0)
    assert cast[cast.layer == "ground"].area.sum() == pytest.approx(0, abs=0.2)
    # From the north it falls down the page, beside the slab's own side, 1 m high, that lies in shade.
    cast = op.shadows(model, bearing=0, elevation=45, turn=0)
    wide, slab = (g.bounds[2] - g.bounds[0] for g in (placed.geometry.iloc[0], ground.geometry.iloc[0]))
    assert cast[cast.layer == "ground"].area.sum() == pytest.approx(6 * wide + 1 * slab, rel=0.01)


def test_the_table_in_the_guide_is_the_one_that_would_be_made():
    guide = (Path(__file__).parent.parent / "DEVELOPERS.md").read_text("utf-8")
    between = guide.split("<!-- operations: begin -->\n")[1].split("<!-- operations: end -->")[0]
    own = {name: one for name, one in siteaxo.known_operations().items() if "." not in name}
    assert between == markdown_of(own) + "\n"


@pytest.mark.parametrize("name", ["figure", "side_by_side", "board", "quantities", "cautions", "compare"])
def test_long_work_says_how_far_it_is(name, tmp_path, capfd):
    blocks = geopandas.GeoDataFrame(geometry=[shapely.box(5e5, 0, 5e5 + 8, 6)], crs="EPSG:25832")
    layer = siteaxo.Layer(name="yard", role="terrace", source=blocks, base=0.0, top=1.5)
    model, other = (siteaxo.Site(name=one, layers=[layer]).stack() for one in ("Yard", "Court"))
    drawing, path = model.draw(siteaxo.planometric(turn=30)), tmp_path / "sheet.png"
    inputs = {
        "figure": {"diagram": drawing, "path": path, "sheet": "A4"},
        "side_by_side": {"diagrams": [drawing, drawing], "path": path, "sheet": "A4"},
        "board": {"main": drawing, "path": path, "sheet": "A3"},
        "quantities": {"model": model},
        "cautions": {"model": model},
        "compare": {"states": [model, other], "path": path, "sheet": "A4"},
    }[name]
    seen = []
    getattr(op, name)(**inputs, progress=lambda stage, share: seen.append((stage, share)))
    stages = {stage for stage, _ in seen}
    if name == "compare":
        assert {stage.partition(":")[0] for stage in stages} == {"Yard", "Court", "write"}
    else:
        assert {(stage, share) for stage in stages for share in (0.0, 1.0)} <= set(seen)
    assert all(0 <= share <= 1 for _, share in seen)
    if name == "figure":
        assert list(dict.fromkeys(stage for stage, _ in seen)) == ["dress", "labels", "write"]
    if "path" in inputs:
        assert seen[-1] == ("write", 1.0)
    getattr(op, name)(**inputs)
    assert capfd.readouterr() == ("", "")  # quiet unless asked


def test_writing_that_is_stopped_leaves_nothing(tmp_path):
    blocks = geopandas.GeoDataFrame(geometry=[shapely.box(5e5, 0, 5e5 + 8, 6)], crs="EPSG:25832")
    layer = siteaxo.Layer(name="yard", role="terrace", source=blocks, base=0.0, top=1.5)
    drawing = siteaxo.Site(name="Yard", layers=[layer]).stack().draw(siteaxo.planometric(turn=30))

    def stop(stage, share):
        if stage == "write" and share > 0:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        op.figure(drawing, tmp_path / "sheet.png", sheet="A4", progress=stop)
    assert not list(tmp_path.iterdir())


def test_a_layer_hands_out_the_features_it_was_given():
    """Easting 500 000 m of a UTM zone is its central meridian, 9 degrees for zone 32 (EPSG 25832)."""
    yard = geopandas.GeoDataFrame({"n": [7]}, geometry=[shapely.box(5e5, 57e5, 5e5 + 8, 57e5 + 6)])
    layer = siteaxo.Layer(name="yard", role="terrace", source=yard, crs="EPSG:25832", base=0.0, top=1.5)
    told = layer.__geo_interface__["features"][0]
    assert told["properties"]["n"] == 7
    assert told["geometry"]["coordinates"][0][2][0] == pytest.approx(9.0, abs=1e-12)  # central meridian
    assert 51.4 < told["geometry"]["coordinates"][0][2][1] < 51.5
    assert not hasattr(
        siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1), "__geo_interface__"
    )
    in_file = siteaxo.Layer(name="yard", role="terrace", source="yard.gpkg", base=0.0, top=1.5)
    with pytest.raises(AttributeError, match=r"still in yard\.gpkg"):
        in_file.__geo_interface__  # noqa: B018


@pytest.mark.parametrize(
    ("id", "inputs", "words"),
    [
        ("draw", ["turn"], "draw: inputs are a table of names and values, not \\['turn'\\]"),
        ("draw", {"model": "no.toml"}, "the input 'model': There is no site file no.toml"),
        ("draw", {"model": np.zeros((2, 2))}, "path of a site file\\), not a ndarray\\.$"),
        ("figure", {"diagram": 1, "path": "a.png", "scale": 0}, "must be a site"),
        ("study", {"turns": "30"}, "the input 'model' is missing"),
    ],
)
def test_inputs_are_refused_in_short_words(id, inputs, words):
    with pytest.raises(InputError, match=words):
        siteaxo.run(id, inputs)


def test_a_single_choice_is_told_with_the_bounds_beside_it():
    scale = operation_named("figure").parameters["scale"].kind
    with pytest.raises(InputError, match=r"^must be above 0, or 'fit', not -5$"):
        scale.convert(-5)


@pytest.fixture
def yard():
    """A yard of 8 by 6 m on the central meridian of a UTM zone."""
    return geopandas.GeoDataFrame(geometry=[shapely.box(5e5, 57e5, 5e5 + 8, 57e5 + 6)], crs="EPSG:25832")


@pytest.mark.parametrize(("key", "words"), [("rimm", "Did you mean 'rim'"), ("name", "unknown key 'name'")])
def test_other_keys_of_a_layer_are_those_that_there_are(yard, key, words):
    with pytest.raises(InputError, match=words):
        op.layer(yard, name="beds", role="planter", more={key: 0.1})


def test_a_plan_is_drawn_with_a_height_factor_of_nothing(yard):
    model = op.site([op.layer(yard, name="yard", role="structure", base=0.0, height=3.0)]).stack()
    plan = siteaxo.run("draw", {"model": model, "height_factor": 0, "turn": 0})
    assert set(plan.faces["part"]) == {"top"}
    # the scale of UTM along its central meridian is 0.9996 (EPSG Guidance Note 7-2, from memory)
    assert plan.faces.area.sum() == pytest.approx(48 / 0.9996**2, rel=1e-6)


@pytest.mark.parametrize(
    ("own", "crs", "words"),
    [
        (
            "EPSG:25832",
            "EPSG:25833",
            "says that it is in ETRS89 / UTM zone 32N, and crs in .* 33N. Leave crs out",
        ),
        (None, "EPSG:1", "crs = 'EPSG:1' is no known coordinate reference system"),
        (None, None, "does not say in which CRS it is"),
    ],
)
@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_a_crs_to_read_with_is_never_passed_over(yard, tmp_path, own, crs, words):
    yard.set_crs(own, allow_override=True).to_file(tmp_path / "yard.gpkg")
    with pytest.raises(siteaxo.SiteaxoError, match=words):
        siteaxo.run("read", {"source": str(tmp_path / "yard.gpkg"), **({"crs": crs} if crs else {})})
    if own is None:
        read = siteaxo.run("read", {"source": str(tmp_path / "yard.gpkg"), "crs": "EPSG:25832"})
        assert read.crs == "EPSG:25832"
