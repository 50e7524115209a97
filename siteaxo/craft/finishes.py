"""
Finishes: which pattern a material shows, lying flat and standing upright.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from ..checks import finite, nearest, one_of
from ..errors import SheetError
from .bonds import BONDS, units_per_area
from .textures import COURSED, TEXTURES

PATTERNS: Final = (*BONDS, *COURSED, *TEXTURES)
"""Names of all patterns."""
ALONG: Final = ("base line", "longest edge")
"""What a pattern may be laid along, beside an angle to the base line."""


@dataclass(frozen=True, kw_only=True)
class Laying:
    """
    A pattern and how it is laid.

    Parameters
    ----------
    pattern : str
        One of ``PATTERNS``.
    length, width : float, optional
        Of a unit with its joint, or their means where sizes vary [m]; textures have none.
    along : float or str
        "base line", "longest edge" (of the feature), or an angle to the base line [degrees
        anticlockwise]. What slopes or stands is laid level along its own contour.

    Raises
    ------
    SheetError
        If the pattern is unknown or a size is missing, superfluous or not above zero.
    """

    pattern: str
    length: float | None = None
    width: float | None = None
    along: float | str = "base line"

    def __post_init__(self) -> None:
        one_of(self.pattern, PATTERNS, "pattern", SheetError)
        sizes = (self.length, self.width)
        if self.is_texture:
            if sizes != (None, None):
                raise SheetError(
                    f"{self.pattern} has no units; leave out its length and width.",
                    field="pattern",
                    value=self.pattern,
                )
        elif any(size is None or finite(size, "size of a unit", SheetError) <= 0 for size in sizes):
            raise SheetError(
                f"{self.pattern} needs the length and width of its units, in metres.",
                field="pattern",
                value=self.pattern,
            )
        elif self.width > self.length:  # type: ignore[operator]
            raise SheetError(
                f"{self.pattern}: units are {self.width:g} m wide and only {self.length:g} m long.",
                field="width",
                value=self.width,
            )
        if self.pattern in ("basket weave", "herringbone", "herringbone 45"):
            self._check_ratio()
        if isinstance(self.along, str):
            one_of(self.along, ALONG, "direction of a pattern", SheetError)
        else:
            finite(self.along, "along", SheetError)

    def _check_ratio(self) -> None:
        ratio = self.length / self.width  # type: ignore[operator]
        if abs(ratio - round(ratio)) > 1e-6 or round(ratio) < 2:
            raise SheetError(
                f"{self.pattern} needs units whose length is 2, 3 or more whole widths, not {ratio:g}.",
                field="length",
                value=self.length,
            )

    @property
    def is_texture(self) -> bool:
        """Whether its size is one on paper."""
        return self.pattern in TEXTURES

    @property
    def units_per_m2(self) -> float:
        """
        Units to the square metre, joints included in their size; 0 for textures [1/m²].

        Examples
        --------
        >>> Laying(pattern="running bond", length=0.2, width=0.1).units_per_m2
        50.0
        """
        if self.is_texture or self.length is None or self.width is None:
            return 0.0
        return round(units_per_area(self.length, self.width), 9)


@dataclass(frozen=True, kw_only=True)
class Finish:
    """
    What a material looks like.

    Parameters
    ----------
    flat, upright : Laying, optional
        On what is walked on, ramps and slopes included, and on sides; nothing when left out.
    """

    flat: Laying | None = None
    upright: Laying | None = None


def _units(pattern: str, length: float, width: float) -> Laying:
    return Laying(pattern=pattern, length=length, width=width)


_COURSES: Final = _units("running bond", 0.225, 0.075)
_ASHLAR: Final = _units("running bond", 0.6, 0.3)
_FLAGS: Final = _units("random courses", 0.75, 0.5)
_GRAVEL: Final = Finish(flat=Laying(pattern="gravel"))
_GRASS: Final = Finish(flat=Laying(pattern="grass"))
_SOIL: Final = Finish(flat=Laying(pattern="soil"))
_BOARDS: Final = _units("boards", 3.6, 0.15)

FINISHES: Final[Mapping[str, Finish]] = MappingProxyType(
    {
        "bark": _SOIL,
        "brick": Finish(flat=_units("herringbone", 0.2, 0.1), upright=_COURSES),
        "cobbles": Finish(flat=_units("running bond", 0.1, 0.1)),
        "concrete": Finish(flat=_units("stack bond", 2.0, 2.0)),
        "extensive": _GRASS,
        "flags": Finish(flat=_FLAGS, upright=_ASHLAR),
        "granite": Finish(flat=_units("running bond", 0.8, 0.4), upright=_ASHLAR),
        "grass": _GRASS,
        "gravel": _GRAVEL,
        "green roof": _GRASS,
        "hoggin": _GRAVEL,
        "lawn": _GRASS,
        "limestone": Finish(flat=_FLAGS, upright=_ASHLAR),
        "meadow": _GRASS,
        "pavers": Finish(flat=_units("running bond", 0.2, 0.1)),
        "sandstone": Finish(flat=_FLAGS, upright=_ASHLAR),
        "sedum": _GRASS,
        "setts": Finish(flat=_units("running bond", 0.2, 0.1)),
        "slabs": Finish(flat=_units("stack bond", 0.6, 0.6)),
        "slate": Finish(flat=_FLAGS, upright=_units("running bond", 0.5, 0.1)),
        "soil": _SOIL,
        "stone": Finish(flat=_FLAGS, upright=_ASHLAR),
        "timber": Finish(flat=_BOARDS, upright=_BOARDS),
        "water": Finish(flat=Laying(pattern="water")),
    }
)
"""Finishes of materials by word; "lawn" and "water" serve those roles where no material is given."""
NAMING_ROLES: Final = ("lawn", "water")
"""Roles that name a material themselves."""


def known_word(material: str, words: Mapping[str, Any]) -> str | None:
    """
    Return the whole name of a material, or the last of its words, that a table knows.

    Examples
    --------
    >>> known_word("Clay brick", {"brick": 1, "clay": 2})
    'brick'
    """
    name = material.casefold()
    return next((word for word in (name, *reversed(name.split())) if word in words), None)


def finish_from(table: Mapping[str, Any], where: str) -> Finish:
    """
    Make a finish of a table such as ``{"flat": {"pattern": "grass"}}``.

    Raises
    ------
    SheetError
        If it says something unknown.
    """
    parts = {}
    for side, laying in table.items():
        one_of(side, ("flat", "upright"), f"side in {where}", SheetError)
        if not isinstance(laying, Mapping):
            raise SheetError(f"{where}: {side} must be a table with a pattern.", field=side, value=laying)
        known = ("pattern", "length", "width", "along")
        for key in laying:
            if key not in known:
                raise SheetError(f"{where}, {side}: unknown key {key!r}. {nearest(key, known)}", field=key)
        if "pattern" not in laying:
            raise SheetError(
                f"{where}, {side}: which pattern? Known: {', '.join(PATTERNS)}.", field="pattern"
            )
        parts[side] = Laying(**laying)
    return Finish(**parts)
