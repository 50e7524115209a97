"""
What a site asks to be drawn with, beside its layers: a style, people, shadows and planting.

Site files and scripts say these as words, numbers and tables; here they become values.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Mapping
from dataclasses import fields
from datetime import UTC, date, datetime, time, tzinfo
from typing import Any, Final

from ..checks import finite, nearest, one_of
from ..errors import SheetError, ViewError
from ..view.sun import Sun
from .crowd import Crowd
from .stylefile import style_of
from .trees import DETAILS

CONVENTIONAL: Final = "conventional"
_SHADOW_KEYS: Final = ("light", "bearing", "elevation", "date", "time", "time_zone")


def check_asked(*, style: Any = None, people: Any = None, shadows: Any = None, planting: Any = None) -> None:
    """
    Refuse what a site cannot be drawn with; parameters are those of the site.

    Raises
    ------
    SiteaxoError
        Of the kind that fits; the message says what is known instead.
    """
    if style is not None:
        style_of(style)
    crowd_of(people)
    light_of(shadows)
    detail_of(planting)


def crowd_of(asked: Any) -> Crowd | bool | None:
    """
    Return the people that are asked for.

    Parameters
    ----------
    asked : Crowd, bool, mapping or None
        A mapping has parameters of :class:`Crowd`, and ``shown = false`` where nobody is to
        be shown all the same.

    Returns
    -------
    Crowd, bool or None
        None where nothing is said.

    Raises
    ------
    SheetError
        If a key is unknown, or a value is not what it should be.

    Examples
    --------
    >>> crowd_of({"density": 0.05}).density, crowd_of({"shown": False})
    (0.05, False)
    """
    if asked is None or isinstance(asked, (Crowd, bool)):
        return asked
    table = dict(_table(asked, "people", ("shown", *(field.name for field in fields(Crowd)))))
    shown = table.pop("shown", True)
    if not isinstance(shown, bool):
        raise SheetError(f"shown in [people] is true or false, not {shown!r}.", field="shown", value=shown)
    if not isinstance(table.get("seed", 0), int) or isinstance(table.get("seed"), bool):
        raise SheetError(
            f"seed in [people] is a whole number, not {table['seed']!r}.", field="seed", value=table["seed"]
        )
    crowd = Crowd(**table)
    return crowd if shown else False


def light_of(asked: Any) -> Sun | datetime | str | bool | None:
    """
    Return the light that casts the shadows that are asked for.

    Parameters
    ----------
    asked : Sun, datetime, "conventional", bool, mapping or None
        A mapping has ``light = "conventional"``; or ``bearing`` and ``elevation``; or a
        ``date`` and a ``time`` of the clock in a ``time_zone``, which is a name such as
        "Europe/London" or an offset from UTC such as "+01:00". A time may carry its date and
        its offset itself.

    Returns
    -------
    Sun, datetime, "conventional", False or None
        False for no shadows, None where nothing is said.

    Raises
    ------
    SheetError, ViewError
        If a key is unknown; or if something is missing, unknown, or said twice.

    Examples
    --------
    >>> light_of({"date": date(2026, 6, 21), "time": time(15), "time_zone": "+01:00"}).isoformat()
    '2026-06-21T15:00:00+01:00'
    """
    if asked is None or isinstance(asked, Sun) or asked == CONVENTIONAL:
        return asked
    if isinstance(asked, bool):
        return CONVENTIONAL if asked else False
    if isinstance(asked, datetime):
        return _zoned(asked, None)
    if isinstance(asked, str):
        one_of(asked, (CONVENTIONAL,), "light for shadows", ViewError)
    table = _table(asked, "shadows", _SHADOW_KEYS)
    ways = {
        "light": "light" in table,
        "bearing and elevation": bool({"bearing", "elevation"} & set(table)),
        "date and time": bool({"date", "time", "time_zone"} & set(table)),
    }
    chosen = [way for way, used in ways.items() if used]
    if len(chosen) != 1:
        what = " and ".join(chosen) or "nothing"
        raise ViewError(f"[shadows] says {what}: give one of {', '.join(ways)}.", field="shadows", value=what)
    if "light" in table:
        return one_of(table["light"], (CONVENTIONAL,), "light for shadows", ViewError)
    if "time" in table or "date" in table or "time_zone" in table:
        return _moment(table)
    missing = [key for key in ("bearing", "elevation") if key not in table]
    if missing:
        raise ViewError(
            f"[shadows] has no {missing[0]}. Give bearing and elevation, in degrees.", field=missing[0]
        )
    numbers = {key: finite(table[key], f"{key} in [shadows]", ViewError) for key in ("bearing", "elevation")}
    return Sun(**numbers)


def detail_of(asked: Any) -> str | None:
    """
    Return the degree of detail of planting that is asked for; None where nothing is said.

    Parameters
    ----------
    asked : str, mapping or None
        One of ``DETAILS``, or a mapping with it as ``detail``.

    Raises
    ------
    SheetError
        If it is unknown.

    Examples
    --------
    >>> detail_of({"detail": "texture"})
    'texture'
    """
    if asked is None:
        return None
    if not isinstance(asked, str):
        asked = _table(asked, "planting", ("detail",)).get("detail", DETAILS[0])
    return one_of(asked, DETAILS, "detail of planting", SheetError)


def _table(asked: Any, name: str, known: tuple[str, ...]) -> Mapping[str, Any]:
    if not isinstance(asked, Mapping):
        raise SheetError(
            f"{name} is {asked!r}; write a table [{name}] with any of {', '.join(known)}.",
            field=name,
            value=asked,
        )
    for key in asked:
        if key not in known:
            raise SheetError(f"Unknown key {key!r} in [{name}]. {nearest(str(key), known)}", field=key)
    return asked


def _moment(table: Mapping[str, Any]) -> datetime:
    """A date and a time as one moment with its time zone."""
    when, day = table.get("time"), table.get("date")
    if isinstance(when, datetime):
        if day is not None:
            raise ViewError(
                "[shadows] says its date twice: leave out date, or the date in time.", field="date", value=day
            )
        return _zoned(when, table.get("time_zone"))
    if not isinstance(when, time) or not isinstance(day, date) or isinstance(day, datetime):
        raise ViewError(
            "[shadows] needs a date such as 2026-06-21 and a time such as 15:00:00, written without quotes.",
            field="time",
            value=when,
        )
    return _zoned(datetime.combine(day, when), table.get("time_zone"))


def _zoned(when: datetime, zone: Any) -> datetime:
    """A moment with a time zone, its own or the one given."""
    if (when.tzinfo is None) == (zone is None):
        what = "no time zone" if zone is None else "two time zones"
        raise ViewError(
            f"The time of shadows, {when.isoformat()}, has {what}. Give one: time_zone, a name such as "
            '"Europe/London" or an offset such as "+01:00", or in a script the tzinfo of the datetime.',
            field="time_zone",
            value=when.isoformat(),
        )
    return when if zone is None else when.replace(tzinfo=_zone(zone))


def _zone(zone: Any) -> tzinfo:
    try:
        if str(zone)[:1] in "+-":
            return datetime.fromisoformat(f"2000-01-01T00:00:00{zone}").tzinfo or UTC
        return zoneinfo.ZoneInfo(str(zone))
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        raise ViewError(
            f"time_zone {zone!r} is not known here. Give an offset from UTC such as '+01:00', or a name such "
            "as 'Europe/London'.",
            field="time_zone",
            value=zone,
        ) from None
