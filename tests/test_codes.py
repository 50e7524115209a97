"""Errors and findings have codes, and DEVELOPERS.md lists them all."""

import ast
import importlib
import inspect
import pickle
import pkgutil

import codes

import siteaxo
from siteaxo.errors import CancelledError, LayerError, OutputError, SiteaxoError


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
