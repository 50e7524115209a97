"""
What other packages add: found by their entry points, and kept apart where they are broken.

A plug-in is an entry point in one of ``GROUPS``. Its name is the id of what it adds, two
words joined by a dot: the office's and the thing's, such as ``quayside.bench``. Its module
says in ``SITEAXO_INTERFACE`` which interface it was written for. One that cannot be loaded
is left out and named; it never keeps the others, or siteaxo, from working.

References
----------
Entry points specification, Python Packaging User Guide (PyPA specifications).
"""

from __future__ import annotations

import functools
import importlib
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import metadata
from typing import Any, Final

from .checks import nearest
from .errors import Finding, SiteaxoError

INTERFACE: Final = 1
"""Number of the interface between siteaxo and plug-ins; it grows when old plug-ins would break."""
MARK: Final = "SITEAXO_INTERFACE"
GROUPS: Final = ("siteaxo.operations", "siteaxo.roles", "siteaxo.forms", "siteaxo.styles", "siteaxo.symbols")
FOREIGN_ID: Final = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+")


class PlugInError(SiteaxoError, LookupError):
    """A plug-in is broken, was written for another interface, or is not installed."""

    code = "plug-in"


@dataclass(frozen=True, kw_only=True)
class PlugIn:
    """
    One thing that another package adds.

    Parameters
    ----------
    id : str
        Its id, ``office.thing``.
    group : str
        What it is, one of ``GROUPS``.
    origin : str
        The package it comes from, with its version.
    value : object
        What its entry point names.
    """

    id: str
    group: str
    origin: str
    value: Any


@dataclass(frozen=True, kw_only=True)
class PlugIns:
    """
    The plug-ins of one group.

    Parameters
    ----------
    found : dict of str to PlugIn
        Those that work, by id.
    findings : tuple of Finding
        Those that do not, and why.
    """

    found: dict[str, PlugIn]
    findings: tuple[Finding, ...] = ()

    def get(self, name: str, what: str) -> Any:
        """
        What a plug-in adds.

        Parameters
        ----------
        name : str
            Its id.
        what : str
            What it is, for the message: "role", "style".

        Raises
        ------
        PlugInError
            If there is none of that id, or it is broken; the message says why.
        """
        if name in self.found:
            return self.found[name].value
        for finding in self.findings:
            if finding.field == name:
                raise PlugInError(finding.message, field=name, value=what)
        others = nearest(name, self.found) if self.found else "No plug-in adds any."
        raise PlugInError(f"No installed plug-in adds the {what} {name!r}. {others}", field=name, value=what)


def is_foreign(name: object) -> bool:
    """
    Whether an id belongs to a plug-in: words joined by dots.

    Examples
    --------
    >>> is_foreign("quayside.bench"), is_foreign("deck"), is_foreign(".toml")
    (True, False, False)
    """
    return isinstance(name, str) and FOREIGN_ID.fullmatch(name) is not None


Check = Callable[[str, Any], Any]


@functools.cache
def plug_ins(group: str, check: Check) -> PlugIns:
    """
    Find the plug-ins of one group among the installed packages, once in a process.

    Parameters
    ----------
    group : str
        One of ``GROUPS``.
    check : callable
        Called as ``check(id, value)`` for each; returns what to keep, or raises.

    Returns
    -------
    PlugIns
    """
    return sorted_out(group, metadata.entry_points(group=group), check)


@functools.cache
def ids_in(group: str) -> tuple[str, ...]:
    """Ids that installed packages declare in one of ``GROUPS``, whether they work or not."""
    return tuple(sorted({point.name for point in metadata.entry_points(group=group)}))


def look_again() -> None:
    """Forget what was found, so that plug-ins installed since are seen."""
    importlib.invalidate_caches()
    ids_in.cache_clear()
    plug_ins.cache_clear()


def sorted_out(group: str, points: Iterable[metadata.EntryPoint], check: Check) -> PlugIns:
    """
    Load entry points, each on its own, and say what is wrong with those that cannot be used.

    Parameters
    ----------
    group : str
        The group they are in.
    points : iterable of EntryPoint
        As the packages declare them.
    check : callable
        As for :func:`plug_ins`.

    Returns
    -------
    PlugIns
    """
    unique = {(point.name, point.value, _origin(point)): point for point in points}
    several = Counter(name for name, _, _ in unique)
    found: dict[str, PlugIn] = {}
    findings: list[Finding] = []
    for (name, _, origin), point in sorted(unique.items()):
        try:
            if several[name] > 1:
                others = sorted(who for word, _, who in unique if word == name)
                raise PlugInError(f"its id is taken more than once, by {' and '.join(others)}; "
                                  "remove one of them", field=name)  # fmt: skip
            value = _loaded(point)
            found[name] = PlugIn(id=name, group=group, origin=origin, value=check(name, value))
        except Exception as problem:
            findings.append(_broken(group, name, origin, problem))
        except SystemExit as problem:
            findings.append(_broken(group, name, origin, problem))
    return PlugIns(found=found, findings=tuple(findings))


def _loaded(point: metadata.EntryPoint) -> Any:
    """What an entry point names, its id and its interface checked."""
    if not is_foreign(point.name):
        raise PlugInError(
            "its id must be words joined by a dot, the office's first, in small letters: office.thing",
            field=point.name,
        )
    module = importlib.import_module(point.module)
    said = getattr(module, MARK, None)
    if said != INTERFACE:
        told = "says no interface" if said is None else f"is written for interface {said}"
        raise PlugInError(
            f"its module {point.module} {told}; this siteaxo has {MARK} = {INTERFACE}, and CHANGELOG.md says "
            "what has changed between the two",
            field=point.name,
            value=said,
        )
    return point.load()


def _origin(point: metadata.EntryPoint) -> str:
    owner = point.dist
    return f"{owner.metadata['Name']} {owner.version}" if owner is not None else point.module


def _broken(group: str, name: str, origin: str, problem: BaseException) -> Finding:
    kind = "" if isinstance(problem, PlugInError) else f"{type(problem).__name__}: "
    ends = "" if str(problem)[-1:] in (".", "?") else "."
    return Finding(
        severity="warning",
        code="plug-in",
        layer=group,
        field=name,
        value=origin,
        message=f"The plug-in {name!r} of {origin} is left out ({group}): {kind}{problem}{ends}",
    )
