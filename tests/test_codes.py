"""Errors and findings have codes, and DEVELOPERS.md lists them all."""

import ast
import importlib
import inspect
import pickle
import pkgutil
import re

import codes

import siteaxo
from siteaxo.errors import CancelledError, InputError, LayerError, OutputError, SiteaxoError


def test_the_list_is_current():
    assert codes.listed(codes.written()) == codes.listed(codes.table()), "run: python tests/codes.py"


def every_error():
    for module in pkgutil.walk_packages(siteaxo.__path__, "siteaxo."):
        if not module.name.endswith("__main__"):
            for _, one in inspect.getmembers(importlib.import_module(module.name), inspect.isclass):
                if issubclass(one, SiteaxoError):
                    yield one


def test_every_kind_of_error_has_a_code_of_its_own():
    kinds = set(every_error())
    assert len({one.code for one in kinds}) == len(kinds) > 10
    assert all(one.__doc__ for one in kinds)


def test_only_errors_of_ours_are_raised_on_purpose():
    """Builtin ones that are not caught in the same file would reach whoever calls."""
    ours = set(codes.error_classes(codes.trees()))
    general = {"Exception", "BaseException", "RuntimeError", "OSError", "KeyError", "IndexError"}
    for path, tree in codes.trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
                name = getattr(node.exc.func, "id", "")
                assert name not in general - ours, f"{path.name}, line {node.lineno}: {name}"


def every_error_made():
    """Every place where an error of ours is made: file and line, name of the kind, message, what is given."""
    ours = {*codes.error_classes(codes.trees()), "error", "kind"}
    for path, tree in codes.trees().items():
        for node in ast.walk(tree):
            name = getattr(node.func, "id", "") if isinstance(node, ast.Call) else ""
            if name in ours and node.args:
                message = ast.unparse(said_by(node.args[0], tree))
                yield f"{path.name}, line {node.lineno}", name, message, {word.arg for word in node.keywords}


def said_by(node, tree):
    """The text that a name stands for, where it is given one in the same file."""
    if not isinstance(node, ast.Name):
        return node
    given = [
        one
        for one in ast.walk(tree)
        if isinstance(one, ast.Assign)
        and one.lineno <= node.lineno
        and node.id in {getattr(target, "id", "") for target in one.targets}
    ]
    return max(given, key=lambda one: one.lineno).value if given else node


def test_every_error_is_of_a_kind():
    found = [f"{place}: {name}" for place, name, _, _ in every_error_made() if name == "SiteaxoError"]
    assert not found, found


def wanted_of(message):
    """What has to be handed over beside a message that names it."""
    wanted = {"layer"} if re.search(r"\b[Ll]ayer \{", message) else set()
    wanted |= {"source_ids"} if re.search(r"some_ids\(|name_of\(", message) else set()
    wanted |= {"field"} if re.search(r"\b[Ff]ield \{|^f?['\"]\{(name|key)\}", message) else set()
    quoted = [one for one in re.findall(r"\{([^{}]*)!r\}", message) if not re.search(r"\blayer\b", one)]
    return wanted | ({"value or field"} if quoted else set())


def test_an_error_has_as_attributes_what_its_message_names():
    """Whoever catches it need not read the message for the layer, the features, or what is wrong."""
    made = list(every_error_made())
    assert len(made) > 250
    lacking = []
    for place, _, message, given in made:
        given |= {"value or field"} if given & {"value", "field"} else set()
        lacking += [f"{place}: {one}" for one in sorted(wanted_of(message) - given)]
    assert not lacking, lacking


def test_an_error_says_where_and_what_to_do():
    error = LayerError(
        "Layer 'a': wrong.", code="x", layer="a", source_ids=[1, "b"], field="top", value=3, remedy="Mend it."
    )
    assert str(error) == "Layer 'a': wrong. Mend it."
    assert (error.code, error.layer, error.source_ids) == ("x", "a", ("1", "b"))
    assert (error.field, error.value, error.remedy) == ("top", "3", "Mend it.")
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.code, again.source_ids) == (str(error), "x", ("1", "b"))
    assert LayerError("w").code == "layer"
    assert CancelledError().code == "cancelled"


def test_an_error_met_elsewhere_says_so():
    inner = OutputError("full", code="output-failed", value="x.pdf", remedy="Make room.")
    outer = inner.within("site.toml")
    assert isinstance(outer, OutputError)
    assert str(outer) == "site.toml: full Make room."
    assert (outer.code, outer.value, outer.remedy) == ("output-failed", "x.pdf", "Make room.")


def test_an_error_may_become_another_kind():
    """Its code is that of the new kind, unless it says more than its kind did."""
    plain = LayerError("odd", source_ids=[3]).within("step 'a'", kind=InputError, layer="a", field="features")
    assert type(plain) is InputError
    assert (str(plain), plain.code, plain.layer) == ("step 'a': odd", "input", "a")
    assert (plain.field, plain.source_ids) == ("features", ("3",))
    closer = LayerError("odd", code="layer-empty", layer="a").saying("is odd", kind=InputError, layer="b")
    assert (str(closer), closer.code, closer.layer) == ("is odd", "layer-empty", "a")


def test_nothing_in_data_is_run():
    """No module that runs what it reads, and no call that does."""
    banned = {"pickle", "marshal", "shelve", "yaml", "dill", "joblib", "code", "runpy"}
    for path, tree in codes.trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                assert not {name.name.split(".")[0] for name in node.names} & banned, path
            elif isinstance(node, ast.ImportFrom) and not node.level:
                assert (node.module or "").split(".")[0] not in banned, path
            elif isinstance(node, ast.Call):
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                assert not (isinstance(node.func, ast.Name) and name in ("eval", "exec", "compile")), path
                assert name not in ("read_pickle", "to_pickle", "enable_load_extension", "load_extension"), (
                    path
                )
                said = {w.arg: getattr(w.value, "value", True) for w in node.keywords}
                assert not said.get("allow_pickle", False), path
                assert not said.get("shell", False), path
