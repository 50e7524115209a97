import pytest

from siteaxo.craft.finishes import Laying
from siteaxo.craft.style import STYLES, Style
from siteaxo.craft.stylefile import read_style, style_from, style_of
from siteaxo.errors import SheetError

WRITTEN = """
[style]
name = "ours"
base = "dark ground"
ink = "#f0f0f0"
shade = 0.2

[style.tones]
lawn = "#334422"

[style.lines]
profile_mm = 0.35
falloff_steps = 2
[style.lines.roles]
seat = -1

[style.light]
direction = 30
tones = 3

[style.patterns]
gravel = false
"Grey slate".flat = { pattern = "stack bond", length = 0.4, width = 0.4, along = 45 }
"""


def test_a_style_file_changes_its_base(tmp_path):
    (tmp_path / "ours.toml").write_text(WRITTEN, encoding="utf-8")
    style, base = read_style(tmp_path / "ours.toml"), Style.named("dark ground")
    assert (style.name, style.ink, style.shade) == ("ours", "#f0f0f0", 0.2)
    assert style.tones["lawn"] == "#334422"
    assert style.tones["water"] == base.tones["water"]
    assert style.weights.profile_mm == 0.35
    assert style.weights.roles["seat"] == -1
    assert style.weights.roles["wall"] == base.weights.roles["wall"]
    assert (style.light.direction, style.light.tones) == (30, 3)
    assert style.light.elevation == base.light.elevation
    assert "gravel" not in style.finishes
    laying = style.finish("paving", "grey slate").flat
    assert laying == Laying(pattern="stack bond", length=0.4, width=0.4, along=45)
    assert style.paper == base.paper


def test_a_file_without_the_heading_is_read_too(tmp_path):
    (tmp_path / "a.toml").write_text('ink = "#203040"\n', encoding="utf-8")
    assert style_of(tmp_path / "a.toml").ink == "#203040"
    assert style_of(str(tmp_path / "a.toml")).name == "muted, changed"


@pytest.mark.parametrize("name", STYLES)
def test_a_base_alone_is_that_style(name):
    assert style_from({"base": name}) == Style.named(name)


def test_styles_pass_through_and_tables_are_made():
    style = Style()
    assert style_of(style) is style
    assert style_of({"shade": 0.3}).shade == 0.3


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"inc": "#000000"}, r"'inc'.*'ink'"),
        ({"lines": {"profile": 0.5}}, r"'profile'.*'profile_mm'"),
        ({"lines": {"profile_mm": 0.4}}, "profile_mm is 0.4"),
        ({"light": {"tone": 3}}, r"'tone'.*'tones'"),
        ({"tones": "#000000"}, r"\[style.tones\]"),
        ({"tones": {"lawn": "green"}}, "'#rrggbb'"),
        ({"tones": {"lawns": "#88aa66"}}, r"'lawns'.*'lawn'"),
        ({"patterns": {"brick": True}}, "false for none"),
        ({"patterns": {"brick": {"side": {}}}}, "'side'"),
        ({"patterns": {"brick": {"flat": {"length": 1}}}}, "which pattern"),
        ({"patterns": {"brick": {"flat": {"patern": "grass"}}}}, r"'patern'.*'pattern'"),
        ({"base": "loud"}, "'loud'"),
        ({"name": 3}, "name of a style"),
        ({"shade": float("nan")}, "finite"),
    ],
)
def test_what_is_unknown_is_refused(table, message):
    with pytest.raises(SheetError, match=message):
        style_from(table)


@pytest.mark.parametrize("content", [b"a = ", b"\xff\xfe", None])
def test_a_file_that_cannot_be_read_says_so(tmp_path, content):
    path = tmp_path / "a.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(SheetError, match=r"a\.toml"):
        style_of(path)


def test_a_drawing_takes_a_table_or_a_file(tmp_path):
    import places

    import siteaxo

    model = places.quay().stack()
    (tmp_path / "a.toml").write_text('base = "line only"\nink = "#203040"\n', encoding="utf-8")
    for asked in ({"base": "line only", "ink": "#203040"}, tmp_path / "a.toml"):
        diagram = model.draw(siteaxo.planometric(30), style=asked)
        assert set(diagram.faces["fill"]) == {"#ffffff"}
        assert set(diagram.edges.loc[diagram.edges["kind"] == "profile", "colour"]) == {"#203040"}
    assert model.draw().style == Style()
