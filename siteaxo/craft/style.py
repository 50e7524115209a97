"""
How a drawing looks: tones, lines and patterns follow from one frozen value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from html import escape
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from ..checks import finite, one_of
from ..errors import SheetError
from ..plugins import is_foreign
from ..source.roles import ROLES
from .colours import darker, rgb_from_hex, tone
from .dimming import dimmed, lightness
from .finishes import FINISHES, NAMING_ROLES, Finish, known_word
from .light import Light
from .lines import OUTLINES, LineWeights, kind_ranks, ranks_in
from .palettes import DARK_GROUND, MATERIAL_TONES, ROLE_TONES

STYLES: Final = ("muted", "line only", "dark ground")
"""Names that ``Style.named`` knows."""
SHADED_AS: Final = 58.0  # colours that are darker are shaded like one of this lightness [L*]


@dataclass(frozen=True, kw_only=True)
class Style:
    """
    One look: every tone, line and pattern of a drawing follows from it.

    Parameters
    ----------
    name : str
        Name of the style.
    weights : LineWeights
        The hierarchy of line.
    light : Light
        Where the light comes from, and how many tones a colour has.
    tones, materials : mapping of str to str
        Tone of the top by role and by material, ``"#rrggbb"``.
    neutral : str
        Tone of a role that is not in *tones*.
    shade : float
        Share of its L*, counted from −16, that the darkest tone of a colour lacks [0 to 1]. Of
        colours below 58 it is that of 58, so that steps can be seen in the dark too.
    crown_shade : float
        The same for the facets of crowns, which are shaded more softly.
    finishes : mapping of str to Finish
        Pattern of each material; what is not in it has none.
    pattern_step : float
        How much darker than what it lies on a pattern is [OKLab lightness]; lighter where
        negative.
    ink, fine_ink, slight_ink, hidden_ink, contour_ink, paper : str
        Colour of profiles and text, of other lines, of lines of what is too thin on paper for its
        usual line ("" for the same as of others), of hidden lines, of contours, and of the sheet.

    Raises
    ------
    SheetError
        If a colour is not ``"#rrggbb"``, or a share is not from 0 to 1.

    Examples
    --------
    >>> Style(ink="#203040", weights=LineWeights(profile_mm=0.35)).name
    'muted'
    """

    name: str = "muted"
    weights: LineWeights = field(default_factory=LineWeights)
    light: Light = field(default_factory=Light)
    tones: Mapping[str, str] = field(default_factory=lambda: ROLE_TONES)
    materials: Mapping[str, str] = field(default_factory=lambda: MATERIAL_TONES)
    neutral: str = tone(0.9, 0.0, 0.0)
    shade: float = 0.17
    crown_shade: float = 0.11
    finishes: Mapping[str, Finish] = field(default_factory=lambda: FINISHES)
    pattern_step: float = 0.13
    ink: str = tone(0.20, 0.008, 60)
    fine_ink: str = tone(0.21, 0.010, 60)
    slight_ink: str = ""
    hidden_ink: str = tone(0.48, 0.006, 60)
    contour_ink: str = tone(0.47, 0.055, 55)
    paper: str = "#ffffff"

    def __post_init__(self) -> None:
        for share in ("shade", "crown_shade"):
            if finite(getattr(self, share), share, SheetError, least=0.0) > 1.0:
                raise SheetError(
                    f"{share} is {getattr(self, share):g}; a share of lightness is from 0 to 1.",
                    field=share,
                    value=getattr(self, share),
                )
        if abs(finite(self.pattern_step, "pattern_step", SheetError)) > 1.0:
            raise SheetError(
                f"pattern_step is {self.pattern_step:g}; a step of lightness is from -1 to 1.",
                field="pattern_step",
                value=self.pattern_step,
            )
        inks = (self.ink, self.fine_ink, self.slight_ink or self.ink, self.hidden_ink, self.contour_ink)
        for colour in (self.neutral, *inks, self.paper):
            rgb_from_hex(colour)
        for colour in (*self.tones.values(), *self.materials.values()):
            rgb_from_hex(colour)
        for role in self.tones:
            if not is_foreign(role):
                one_of(role, ROLES, "role in tones", SheetError)
        object.__setattr__(self, "tones", MappingProxyType(dict(self.tones)))
        for name in ("materials", "finishes"):  # features name them in any case
            words = {word.casefold(): looks for word, looks in getattr(self, name).items()}
            object.__setattr__(self, name, MappingProxyType(words))

    def __repr__(self) -> str:
        toned = f"{len(self.tones)} roles and {len(self.materials)} materials have tones of their own"
        width = self.weights.profile_mm
        profile = f"{width:g} mm" if width else "as wide as the scale asks"
        light = f"light from {self.light.direction:g}°, {self.light.elevation:g}° high"
        return f"<Style {self.name!r}: ink {self.ink} on {self.paper}; {toned}; profiles {profile}; {light}>"

    def _repr_html_(self) -> str:
        """Preview for notebooks: a swatch for each tone."""
        cell = '<span style="display:inline-block;width:1em;height:1em;background:{}"></span> {}'
        tones = [*self.tones.items(), *self.materials.items()]
        swatches = "<br>".join(cell.format(colour, escape(word)) for word, colour in tones)
        return f"<div><p><b>{escape(self.name)}</b></p><p style='columns:4'>{swatches}</p></div>"

    @staticmethod
    def named(name: str) -> Style:
        """
        Return one of the library's styles.

        Parameters
        ----------
        name : {"muted", "line only", "dark ground"}
            Quiet tones by role and material; lines on bare paper; light lines and deep tones
            on a dark ground, for screens.

        Raises
        ------
        SheetError
            If there is no style of that name.

        Examples
        --------
        >>> Style.named("line only").fills(["lawn"], [""], [0]).tolist()
        ['#ffffff']
        """
        one_of(name, STYLES, "style", SheetError)
        muted = Style()
        own: Mapping[str, Mapping[str, Any]] = {
            "muted": {},
            "line only": {
                "tones": {},
                "materials": {},
                "neutral": muted.paper,
                "shade": 0.0,
                "crown_shade": 0.0,
                "pattern_step": 0.45,
                "contour_ink": muted.hidden_ink,
            },
            "dark ground": DARK_GROUND,
        }
        return replace(muted, name=name, **own[name])

    def fills(
        self, roles: ArrayLike, materials: ArrayLike, shades: ArrayLike, *, crown: ArrayLike | None = None
    ) -> np.ndarray:
        """
        Tone of every face.

        A material that the style does not know leaves the tone to the role; a role that
        it does not know is neutral.

        Parameters
        ----------
        roles, materials : array_like of str, shape (n,)
            Role and material of each face's feature; "" where there is no material.
        shades : array_like of int, shape (n,)
            How far down the tones, 0 lightest; see :meth:`Light.shades`.
        crown : array_like of bool, shape (n,), optional
            Facets of crowns.

        Returns
        -------
        ndarray of object, shape (n,)
            Colours as ``"#rrggbb"``.

        Raises
        ------
        SheetError
            If a shade is not one of the light's.

        Examples
        --------
        >>> Style(tones={"lawn": "#d0e0c0"}, shade=0.0).fills(["lawn", "lawn"], ["", ""], [0, 3]).tolist()
        ['#d0e0c0', '#d0e0c0']
        """
        steps = np.asarray(shades, dtype=int)
        if not steps.size:
            return np.empty(0, dtype=object)
        if steps.min() < 0 or steps.max() >= self.light.tones:
            raise SheetError(f"Shades are whole numbers from 0 to {self.light.tones - 1}.", field="shades")
        soft = np.zeros(len(steps), dtype=int) if crown is None else np.asarray(crown, dtype=int)
        role_at, role_names = pd.factorize(np.asarray(roles, dtype=object))
        material_at, material_names = pd.factorize(np.asarray(materials, dtype=object))
        key = ((role_at * len(material_names) + material_at) * 2 + soft) * self.light.tones + steps
        keys, at = np.unique(key, return_inverse=True)
        table = np.empty(len(keys), dtype=object)
        for place, one in enumerate(keys.tolist()):
            pair, shade = divmod(one, self.light.tones)
            role, material = divmod(pair // 2, len(material_names))
            top = self.top(str(role_names[role]), str(material_names[material]))
            table[place] = self.shaded(top, shade, soft=bool(pair % 2))
        return table[at]

    def shaded(self, top: str, shade: int, *, soft: bool = False) -> str:
        """
        Tone number *shade* of a colour, 0 lightest.

        Examples
        --------
        >>> Style().shaded("#ccccbb", 0)
        '#ccccbb'
        """
        share = (self.crown_shade if soft else self.shade) * shade / (self.light.tones - 1)
        return dimmed(top, share * (max(lightness(top), SHADED_AS) + 16)) if share else top

    def top(self, role: str, material: str = "") -> str:
        """
        Tone of the top of a feature of *role* made of *material*.

        A material is known by its whole name or by the last of its words that is known,
        in any case: "Clay brick" is brick.

        Examples
        --------
        >>> Style().top("paving", "Clay brick") == Style().top("wall", "brick")
        True
        """
        known = known_word(material, self.materials)
        return self.materials[known] if known else self.tones.get(role, self.neutral)

    def finish(self, role: str, material: str = "") -> Finish:
        """
        Patterns of a feature of *role* made of *material*; none where the material is unknown.

        Examples
        --------
        >>> Style().finish("terrace").flat is None
        True
        """
        name = material or (role if role in NAMING_ROLES else "")
        known = known_word(name, self.finishes)
        return self.finishes[known] if known else Finish()

    def pattern_ink(self, fill: str) -> str:
        """
        Colour of a pattern on a tone.

        Examples
        --------
        >>> Style(pattern_step=0.0).pattern_ink("#d0e0c0")
        '#d0e0c0'
        """
        return darker(fill, self.pattern_step)

    def line_colours(self, kinds: ArrayLike) -> np.ndarray:
        """
        Colour of each line by its kind, shape (n,) of ``"#rrggbb"``.

        Examples
        --------
        >>> Style(ink="#111111", fine_ink="#222222").line_colours(["edge", "profile"]).tolist()
        ['#222222', '#111111']
        """
        ink, fine, hidden = self.ink, self.fine_ink, self.hidden_ink
        inks = [fine, hidden, self.contour_ink, fine, fine, ink, hidden, ink]
        return np.array(inks, dtype=object)[kind_ranks(kinds)]

    def edge_order(self, kinds: ArrayLike, outlines: ArrayLike | None = None) -> np.ndarray:
        """
        Place of each line in the drawing order, shape (n,); what is higher lies on top.

        Examples
        --------
        >>> order = Style().edge_order(["profile", "foot"])
        >>> bool(order[0] > order[1])
        True
        """
        ranks = kind_ranks(kinds)
        if outlines is None:
            return ranks
        outer = ranks_in(outlines, OUTLINES, "outline")
        return np.where(outer > 0, ranks.max(initial=0) + outer, ranks)
