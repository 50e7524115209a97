"""
The list of all codes of errors and findings, made from the code.

``python tests/codes.py`` writes it into DEVELOPERS.md, between its two marks.
"""

import ast
import functools
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "siteaxo"
BEGIN, END = "<!-- codes: begin -->", "<!-- codes: end -->"
NOUNS = ("level", "size")
"""What a field of numbers may hold, in codes that are put together from it."""
LONGEST = 110


@functools.cache
def trees() -> dict[Path, ast.Module]:
    """Every file of the package, parsed."""
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}


def error_classes(parsed: dict[Path, ast.Module]) -> dict[str, tuple[str, str]]:
    """Code and meaning of every kind of error, by its name."""
    classes = [node for tree in parsed.values() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    ours = {"SiteaxoError"}
    while True:
        more = {
            node.name for node in classes if {b.id for b in node.bases if isinstance(b, ast.Name)} & ours
        } - ours
        if not more:
            break
        ours |= more
    found = {}
    for node in classes:
        if node.name in ours:
            code = next((c for c in map(own_code, node.body) if c), None)
            doc = (ast.get_docstring(node) or "").strip().splitlines()[0]
            found[node.name] = (code or "as its base", doc)
    return found


def own_code(node: ast.stmt) -> str | None:
    """What a class says its code is."""
    if (
        isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and node.targets[0].id == "code"
    ):
        return node.value.value if isinstance(node.value, ast.Constant) else None
    return None


def codes_in(tree: ast.Module, positions: dict[str, tuple[int, int]]) -> Iterator[tuple[str, str, str]]:
    """Code, name of what is called and message of every call that gives a code."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        given = {word.arg: word.value for word in node.keywords}
        code, message = given.get("code"), given.get("message")
        if name in positions:
            at, says = positions[name]
            code = code or (node.args[at] if len(node.args) > at else None)
            message = message or (node.args[says] if len(node.args) > says >= 0 else None)
        elif message is None and node.args:
            message = node.args[0]
        for one in words(code):
            yield one, name, in_short(message, tree)


def words(node: ast.expr | None) -> list[str]:
    """The texts that an expression may be, where they are written there."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) and node.value else []
    if isinstance(node, ast.IfExp):
        return [*words(node.body), *words(node.orelse)]
    if isinstance(node, ast.JoinedStr):
        stem = "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
        return [stem.replace("{}", noun) for noun in NOUNS]
    return []


def in_short(node: ast.expr | None, tree: ast.Module) -> str:
    """The beginning of a message, with … for what is filled in."""
    if isinstance(node, ast.Name):
        values = [
            n.value
            for n in ast.walk(tree)
            if isinstance(n, ast.Assign | ast.AnnAssign)
            and node.id in [getattr(t, "id", "") for t in getattr(n, "targets", [getattr(n, "target", None)])]
        ]
        before = [value for value in values if value is not None and value.lineno <= node.lineno]
        node = max(before or values, key=lambda value: value.lineno, default=None)
    if isinstance(node, ast.BinOp):
        text = in_short(node.left, tree) + in_short(node.right, tree)
    elif isinstance(node, ast.IfExp):
        text = in_short(node.body, tree)
    elif isinstance(node, ast.ListComp):
        text = in_short(node.elt, tree)
    elif isinstance(node, ast.Constant):
        text = str(node.value)
    elif isinstance(node, ast.JoinedStr):
        text = "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values)
    else:
        text = ""
    text = re.sub(r"^Layer …: ", "", text)
    return text if len(text) <= LONGEST else text[:LONGEST].rsplit(" ", 1)[0] + " …"


def positions_of(tree: ast.Module) -> dict[str, tuple[int, int]]:
    """Functions with a parameter *code*: where it and the message stand."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            names = [one.arg for one in node.args.args if one.arg != "self"]
            says = next((names.index(n) for n in ("message", "messages", "said", "what") if n in names), -1)
            if "code" in names:
                found[node.name] = (names.index("code"), says)
    return found


def refusing(tree: ast.Module, known: set[str]) -> set[str]:
    """Functions of a file that make errors, themselves or through one another."""
    calls = {
        node.name: {getattr(n.func, "id", "") for n in ast.walk(node) if isinstance(n, ast.Call)}
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
    }
    found: set[str] = set()
    while more := {name for name, called in calls.items() if called & (known | found)} - found:
        found |= more
    return found


def table() -> str:
    """Both lists as Markdown."""
    parsed = trees()
    shared = positions_of(parsed[PACKAGE / "solids" / "notes.py"])
    classes = error_classes(parsed)
    errors: dict[str, str] = {}
    findings: dict[str, str] = {}
    for tree in parsed.values():
        own = positions_of(tree)
        refuses = refusing(tree, set(classes))
        for code, name, message in codes_in(tree, {**shared, **own}):
            kept = errors if name in classes or (name in own and name in refuses) else findings
            kept[code] = kept.get(code) or message
    lines = ["| kind of error | code | |", "|---|---|---|"]
    lines += [f"| `{name}` | `{code}` | {doc} |" for name, (code, doc) in sorted(classes.items())]
    lines += ["", "Errors that say more closely what is wrong:", "", "| code | message |", "|---|---|"]
    lines += [f"| `{code}` | {escaped(text)} |" for code, text in sorted(errors.items())]
    lines += ["", "| finding | message |", "|---|---|"]
    lines += [f"| `{code}` | {escaped(text)} |" for code, text in sorted(findings.items()) if code != "x"]
    return "\n".join(lines)


def escaped(text: str) -> str:
    """Text that is safe in a cell."""
    return text.replace("|", "\\|").replace("<", "&lt;").strip()


def written() -> str:
    """What DEVELOPERS.md has between its marks."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.split(BEGIN)[1].split(END)[0].strip()


def listed(text: str) -> list[str]:
    """The codes and kinds in a list, whatever their messages."""
    return re.findall(r"(?m)^\| `([^`]*)` \|", text)


def main() -> None:
    """Write the list anew."""
    path = ROOT / "DEVELOPERS.md"
    before, rest = path.read_text(encoding="utf-8").split(BEGIN)
    path.write_text(f"{before}{BEGIN}\n{table()}\n{END}{rest.split(END)[1]}", encoding="utf-8")


if __name__ == "__main__":
    main()
