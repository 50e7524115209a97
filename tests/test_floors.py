"""The house has floors: a file imports only from lower ones, or from files above it in its own folder."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "siteaxo"
FLOORS = [
    {
        "errors",
        "angles",
        "units",
        "checks",
        "plugins",
        "keeping",
        "limits",
        "mixing",
        "ragged",
        "saying",
        "collecting",
    },
    {"source"},
    {"solids"},
    {"view"},
    {"diagram"},
    {"craft"},
    {"sheet"},
    {"export", "measure"},
    {"process", "operations", "registry", "chains", "verbs", "shell", "cli", "__main__", "__init__"},
]
FLOOR_OF = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
# Third-party libraries that belong to certain rooms only.
ROOMS_OF = {
    "fiona": {"source"},
    "pyproj": {"source"},
    "pyogrio": {"source", "export"},
    "geopandas": {"source", "diagram", "export", "process", "operations"},
    "matplotlib": {"sheet", "export"},
    "sqlite3": {"source", "export"},
}
FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports_of(path: Path) -> list[tuple[str, ...]]:
    """Dotted targets of every import in a file, package-relative ones as ("siteaxo", ...)."""
    here = ("siteaxo", *path.relative_to(PACKAGE).parts[:-1])
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [tuple(alias.name.split(".")) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = here[: len(here) - node.level + 1] if node.level else ()
            target = base + tuple((node.module or "").split(".")) if node.module else base
            found += [(*target, alias.name) if target == ("siteaxo",) else target for alias in node.names]
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_go_down(path):
    room = room_of(path)
    assert room in FLOOR_OF, f"{path.name} is on no floor: give it one here"
    if path.name == "__init__.py" and path.parent == PACKAGE:
        return
    for target in imports_of(path):
        if target[0] == "siteaxo" and len(target) > 1:
            other = target[1]
            if other not in FLOOR_OF:
                continue
            lower = FLOOR_OF[other] < FLOOR_OF[room]
            same = other == room or FLOOR_OF[other] == FLOOR_OF[room] in (0, len(FLOORS) - 1)
            assert lower or same, (
                f"{path.relative_to(PACKAGE)} imports {'.'.join(target)} from a higher floor"
            )


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_libraries_stay_in_their_rooms(path):
    for target in imports_of(path):
        allowed = ROOMS_OF.get(target[0])
        assert allowed is None or room_of(path) in allowed or room_of(path) == "cli", (
            f"{path.relative_to(PACKAGE)} imports {target[0]}, which belongs to {sorted(allowed or ())}"
        )


def test_no_file_imports_in_a_circle():
    graph = {}
    for path in FILES:
        name = ("siteaxo", *path.relative_to(PACKAGE).with_suffix("").parts)
        graph[name] = {target for target in imports_of(path) if target in graph or target[0] == "siteaxo"}
    state: dict[tuple[str, ...], int] = {}

    def visit(name, trail):
        if state.get(name) == 2:
            return
        assert state.get(name) != 1, f"imports in a circle: {[*trail, name]}"
        state[name] = 1
        for target in graph.get(name, ()):
            if target in graph and target != name:
                visit(target, [*trail, name])
        state[name] = 2

    for name in graph:
        if name[-1] != "__init__":
            visit(name, [])
