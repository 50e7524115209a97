"""Versions that are tested: locked ones, and the lowest that are allowed."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent


def pinned(name):
    """Versions in a file of constraints, by name."""
    lines = (ROOT / "tests" / name).read_text(encoding="utf-8").splitlines()
    return dict(line.split("==") for line in lines if line and not line.startswith("#"))


def wanted():
    """Lowest versions in pyproject.toml, by name."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return dict(re.fullmatch(r"([\w-]+)>=([\w.]+)", one).groups() for one in project["dependencies"])


def numbers(version):
    return [int(part) for part in re.findall(r"\d+", version)]


def test_the_lowest_versions_are_those_of_the_project():
    lowest = pinned("lowest.txt")
    assert set(lowest) == set(wanted())
    for name, least in wanted().items():
        assert numbers(lowest[name])[: len(numbers(least))] == numbers(least)
        assert not any(numbers(lowest[name])[len(numbers(least)) :])


def test_every_dependency_is_locked():
    locked = pinned("locked.txt")
    assert set(wanted()) <= set(locked)
    assert all(numbers(locked[name]) >= numbers(least) for name, least in wanted().items())
