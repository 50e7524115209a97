"""
Styles written down as TOML: a base style and what is different from it.
"""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

from ..checks import nearest, one_of, regular_bytes, toml_of
from ..errors import SheetError
from ..plugins import PlugInError, PlugIns, ids_in, is_foreign, plug_ins
from .finishes import finish_from
from .light import Light
from .lines import LineWeights
from .style import STYLES, Style

_PLAIN: Final = (
    "name",
    "neutral",
    "shade",
    "crown_shade",
    "pattern_step",
    "ink",
    "fine_ink",
    "slight_ink",
    "hidden_ink",
    "contour_ink",
    "paper",
)
_TABLES: Final = ("tones", "materials", "lines", "light", "patterns")


def style_of(asked: Style | Mapping[str, Any] | str | os.PathLike[str]) -> Style:
    """
    Return the style that is asked for.

    Parameters
    ----------
    asked : Style, mapping, str or path
        A style, a table as :func:`style_from` takes it, the name of a style, or a TOML file
        (its name ends in ".toml").

    Returns
    -------
    Style

    Raises
    ------
    SheetError
        If it is unknown or says something unknown; the message names the nearest, or all, those of
        plug-ins among them.

    Examples
    --------
    >>> style_of("dark ground").name
    'dark ground'
    """
    if isinstance(asked, Style):
        return asked
    if isinstance(asked, Mapping):
        return style_from(asked)
    if isinstance(asked, os.PathLike) or str(asked).lower().endswith(".toml"):
        return read_style(asked)
    if is_foreign(asked):
        found: Style = added_styles().get(asked, "style")
        return found
    return Style.named(one_of(asked, (*STYLES, *ids_in("siteaxo.styles")), "style", SheetError))


def added_styles() -> PlugIns:
    """Styles of plug-ins."""
    return plug_ins("siteaxo.styles", _fits)


def _fits(name: str, value: object) -> Style:
    """Make a plug-in's style: a Style, or a table as in a style file."""
    if isinstance(value, Mapping):
        return style_from({"name": name, **value})
    if not isinstance(value, Style):
        raise PlugInError(
            f"its entry point names {type(value).__name__}, not a style or a table",
            value=type(value).__name__,
        )
    return value


def read_style(path: str | os.PathLike[str]) -> Style:
    """
    Read a style from a TOML file, from its table ``[style]`` if it has one.

    Parameters
    ----------
    path : path
        The file; what it may say is told at :func:`style_from`.

    Returns
    -------
    Style

    Raises
    ------
    SheetError
        If the file is missing, is not TOML, or says something unknown.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "ours.toml"
    ...     _ = path.write_text('base = "muted"\\nink = "#203040"', encoding="utf-8")
    ...     read_style(path).ink
    '#203040'
    """
    file = Path(path)
    try:
        content = toml_of(regular_bytes(file, SheetError, what="style file"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as problem:
        raise SheetError(f"The style file {str(file)!r} cannot be read: {problem}.", value=file) from None
    try:
        return style_from(content.get("style", content))
    except SheetError as problem:
        raise problem.within(str(file)) from None


def style_from(table: Mapping[str, Any]) -> Style:
    """
    Make a style of a table.

    Parameters
    ----------
    table : mapping
        ``base``, the name of the style it starts from ("muted" when left out); any plain
        parameter of :class:`Style`; and the tables ``tones`` (by role), ``materials``,
        ``lines`` (parameters of :class:`LineWeights`), ``light`` (of :class:`Light`) and
        ``patterns`` (by material; false for none).

    Returns
    -------
    Style

    Raises
    ------
    SheetError
        If a key is unknown, with the nearest known one, or a value is not what it should be.

    Examples
    --------
    >>> style_from({"name": "ours", "lines": {"profile_mm": 0.35}}).weights.profile_at(100)
    0.35
    """
    _check_keys(table, ("base", *_PLAIN, *_TABLES), "the style")
    base = Style.named(table.get("base", STYLES[0]))
    changes: dict[str, Any] = {key: table[key] for key in _PLAIN if key in table}
    for name in ("tones", "materials"):
        if name in table:
            changes[name] = {**getattr(base, name), **_table(table, name)}
    if "lines" in table:
        changes["weights"] = _made(LineWeights, base.weights, _table(table, "lines"), "lines")
    if "light" in table:
        changes["light"] = _made(Light, base.light, _table(table, "light"), "light")
    if "patterns" in table:
        changes["finishes"] = _finishes(base, _table(table, "patterns"))
    if "name" not in changes:
        changes["name"] = f"{base.name}, changed" if changes else base.name
    if not isinstance(changes["name"], str):
        raise SheetError(
            f"The name of a style is a text, not {changes['name']!r}.", field="name", value=changes["name"]
        )
    return replace(base, **changes)


def _finishes(base: Style, table: Mapping[str, Any]) -> dict[str, Any]:
    finishes = dict(base.finishes)
    for material, finish in table.items():
        word = material.casefold()
        if finish is False:
            finishes.pop(word, None)
        elif isinstance(finish, Mapping):
            finishes[word] = finish_from(finish, f"pattern of {material!r}")
        else:
            raise SheetError(
                f"Pattern of {material!r}: give a table with flat or upright, or false for none.",
                field=material,
                value=finish,
            )
    return finishes


def _made(kind: Callable[..., Any], base: Any, table: Mapping[str, Any], where: str) -> Any:
    """Change some parameters of a part of a style; tables in it are added to."""
    _check_keys(table, [field.name for field in fields(base)], f"[style.{where}]")
    merged = {
        key: {**getattr(base, key), **value} if isinstance(value, Mapping) else value
        for key, value in table.items()
    }
    current = {field.name: getattr(base, field.name) for field in fields(base)}
    return kind(**{**current, **merged})


def _table(content: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    table = content[name]
    if not isinstance(table, Mapping):
        raise SheetError(f"{name} must be a table, written as [style.{name}].", field=name, value=table)
    return table


def _check_keys(table: Mapping[str, Any], known: Iterable[str], where: str) -> None:
    """Refuse keys that are not known, and numbers that are not finite."""
    words = list(known)
    for key, value in table.items():
        if key not in words:
            raise SheetError(f"Unknown key {key!r} in {where}. {nearest(key, words)}", field=key, value=value)
        if isinstance(value, float) and not math.isfinite(value):
            raise SheetError(
                f"{key} in {where} must be a finite number, not {value}.", field=key, value=value
            )
