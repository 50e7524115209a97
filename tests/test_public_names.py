"""Every public name has a page: a summary, its parameters, and an example that runs."""

import doctest
import importlib
import inspect
import logging
import re
import subprocess
import sys
import warnings

import pytest

import siteaxo
from siteaxo.process.docstrings import docstring_of

NAMES = siteaxo.__all__


def test_names_are_those_that_can_be_had():
    assert list(NAMES) == sorted(NAMES)
    assert set(NAMES) <= set(dir(siteaxo))
    assert all(getattr(siteaxo, name) is not None for name in NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_name_has_a_page(name):
    thing = getattr(siteaxo, name)
    told = docstring_of(thing)
    assert told.summary.endswith("."), f"{name} has no summary"
    if inspect.isfunction(thing):
        takes = set(inspect.signature(thing).parameters) - {"self", "cls"}
        assert takes <= set(told.parameters), f"{name}: {takes - set(told.parameters)} are not described"


@pytest.mark.parametrize("name", NAMES)
def test_a_page_has_an_example_that_runs(name):
    thing = getattr(siteaxo, name)
    module = importlib.import_module(thing.__module__)
    tests = doctest.DocTestFinder(recurse=True).find(thing, name, module=module, globs=dict(vars(module)))
    examples = [one for one in tests if one.examples]
    assert examples, f"{name} has no example"
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for one in examples:
            runner.run(one, out=lambda text: None)
    assert runner.failures == 0, f"the example of {name} fails"


def methods_of(thing):
    """Public methods and properties of a class and of those of ours that it is made of, by name."""
    for cls in thing.__mro__:
        if cls.__module__.startswith("siteaxo"):
            for name, value in vars(cls).items():
                inner = getattr(value, "fget", None) or getattr(value, "func", None)
                function = inner or getattr(value, "__func__", value)
                if not name.startswith("_") and inspect.isfunction(function):
                    yield name, function


def shown_in(*pages):
    """The code of all examples on some pages."""
    parser = doctest.DocTestParser()
    return "".join(example.source for page in pages for example in parser.get_examples(page or ""))


@pytest.mark.parametrize("name", [name for name in NAMES if inspect.isclass(getattr(siteaxo, name))])
def test_a_method_has_a_page_and_is_shown_in_an_example(name):
    thing = getattr(siteaxo, name)
    methods = dict(methods_of(thing))
    classes = [cls.__doc__ for cls in thing.__mro__ if cls.__module__.startswith("siteaxo")]
    shown = shown_in(*classes, *(inspect.getdoc(function) for function in methods.values()))
    bare = [method for method, function in methods.items() if not docstring_of(function).summary]
    assert not bare, f"{name}: {bare} have no summary"
    unseen = {method for method in methods if not re.search(rf"\.{method}\b", shown)}
    assert not unseen, f"{name}: no example shows {unseen}"


def test_importing_is_quiet_and_quick():
    """Nothing heavy is loaded before it is used, and nothing is printed."""
    code = "import sys, siteaxo; print(sorted({'matplotlib', 'geopandas', 'pyogrio'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
    assert done.stderr == ""


def test_a_drawing_at_a_scale_loads_nothing_that_makes_sheets(tmp_path):
    code = f"""
import sys, geopandas, shapely, siteaxo
yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
siteaxo.Site(layers=[layer]).stack().draw(scale=200).to_gpkg({str(tmp_path / "yard.gpkg")!r})
print(sorted({{"matplotlib", "fontTools", "siteaxo.sheet.canvas"}} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_the_logger_is_quiet_until_somebody_listens():
    logger = logging.getLogger("siteaxo")
    assert any(isinstance(handler, logging.NullHandler) for handler in logger.handlers)
    assert logger.level == logging.NOTSET
