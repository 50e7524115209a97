"""
Base, top and height of every feature of a layer, in metres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import FieldError, Finding, LevelError, some_ids
from ..saying import having
from ..units import metres_per
from .keys import ANGLES, COUNTS, FALLS, FINISHED, LEVELS, OPTIONAL, RATIOS, SIZES, STOREYS, UNASKED, WORDS
from .layers import Layer
from .lengths import read_lengths
from .own_z import z_word
from .reading import RawLayer
from .sources import filled

_EMPTY: Final = ("missing-size", "missing-level")
LEAST: Final = {"riser": 0.01, "beams": 0.02}  # what is laid closer cannot be built or told apart [m]
MOST: Final = {"width": 1e4}  # nothing that is laid along a line is wider [m]
AGREE: Final = 0.001  # levels that differ by no more than this agree [m]


@dataclass(frozen=True, kw_only=True)
class Levels:
    """
    Levels of a layer's features; columns as in ``Features``, shape (n,).

    Parameters
    ----------
    base, top, height : ndarray of float
        NaN where still open [m].
    below : ndarray of bool
        The base is to be taken from what the feature stands on.
    base_from, top_from : ndarray of object
        Where each came from; "" where still open.
    """

    base: np.ndarray
    top: np.ndarray
    height: np.ndarray
    below: np.ndarray
    base_from: np.ndarray
    top_from: np.ndarray


def levels_of(raw: RawLayer, *, unit: str = "m") -> tuple[RawLayer, Levels]:
    """
    Settle the levels of a layer's features.

    Any two of base, top and height settle a feature. A base that is not given is the
    lowest level of the site or what lies below, as the role has it; both stay open here.
    Roles that are flat need no height.

    Parameters
    ----------
    raw : RawLayer
        The layer as read.
    unit : {"m", "ft", "ft-us"}
        Unit of the site, for layers without their own.

    Returns
    -------
    raw : RawLayer
        Without the features that cannot be settled; each of those is a finding.
    levels : Levels
        Of the features that are left.

    Raises
    ------
    LevelError
        If a level is no number, infinite or upside down, or nothing in the layer can
        say how high its features are.
    """
    layer, given, findings = raw.layer, {}, []
    _check_enough(layer)
    unit = layer.unit or unit
    for key in LEVELS:
        given[key], found = _lengths(raw, key, unit)
        findings += found
    given, said, found = filled(raw, given, unit=unit, read=_lengths)
    findings += [*found, *_disagreements(raw, given)]
    levels = _settle(layer, given, said)
    _check_upright(raw, levels, given)
    return _drop_unsettled(raw.take(np.arange(len(raw)), *findings), levels)


def sizes_of(raw: RawLayer, *, unit: str = "m") -> tuple[RawLayer, dict[str, np.ndarray]]:
    """
    Read the sizes of a layer's features: width, diameter, riser and the others.

    Parameters
    ----------
    raw : RawLayer
        The layer as read.
    unit : {"m", "ft", "ft-us"}
        Unit of the site, for layers without their own.

    Returns
    -------
    raw : RawLayer
        The same features with more findings.
    sizes : dict of str to ndarray, shape (n,)
        By key; NaN where not given, or of no use [m, the pitch in degrees].

    Raises
    ------
    FieldError
        If a size is no number, or infinite.
    """
    sizes, findings = {}, []
    for key in SIZES:
        own_unit = "m" if key in (*ANGLES, *RATIOS, "fall_bearing") else raw.layer.unit or unit
        values, found = _lengths(raw, key, own_unit, error=FieldError)
        unusable = (values < 0) if key in (*OPTIONAL, *COUNTS) else (values <= 0) & (key not in FALLS)
        unusable |= (values > 0) & ((values < LEAST.get(key, 0)) | (values > MOST.get(key, np.inf)))
        sizes[key] = np.where(unusable, np.nan, values)
        findings += [note for note in found if key not in UNASKED or note.code not in _EMPTY]
        findings += [
            Finding(
                severity="warning",
                code="size-unusable",
                layer=raw.layer.name,
                source_id=str(raw.source_id[row]),
                field=str(getattr(raw.layer, key)),
                value=f"{values[row]:g} m",
                message=f"A {key.replace('_', ' ')} of {values[row]:g} m is of no use and taken as missing.",
            )
            for row in np.flatnonzero(unusable)
        ]
    findings += _half_told(raw, sizes)
    return raw.take(np.arange(len(raw)), *findings), sizes


def _half_told(raw: RawLayer, sizes: dict[str, np.ndarray]) -> list[Finding]:
    """Slopes with a level of their low side and no fall, or the other way round."""
    known = {key: ~np.isnan(sizes[key]) for key in FALLS}
    return [
        Finding(
            severity="warning",
            code="missing-level" if key == "low" else "missing-size",
            layer=raw.layer.name,
            source_id=str(raw.source_id[row]),
            field=str(getattr(raw.layer, key)),
            message=f"It has {other} but no {key}, so it is drawn level. Give both, or neither.",
        )
        for key, other in (FALLS, FALLS[::-1])
        for row in np.flatnonzero(~known[key] & known[other])
    ]


def _lengths(
    raw: RawLayer, key: str, unit: str, *, error: type[LevelError] | type[FieldError] = LevelError
) -> tuple[np.ndarray, list[Finding]]:
    """One of the layer's values for each feature, from its number or its field [m]."""
    value = getattr(raw.layer, key)
    if key in raw.columns:
        return read_lengths(
            raw.columns[key],
            layer=raw.layer.name,
            field=str(value),
            ids=raw.source_id,
            unit=unit,
            error=error,
            noun="level" if key in (*LEVELS, "low", *STOREYS) else "size",
        )
    open_ = value is None or value in WORDS.get(key, ())
    number = np.nan if open_ else float(value) * metres_per(unit)
    return np.full(len(raw), number), []


def _check_enough(layer: Layer) -> None:
    role = layer.role_row
    said = (layer.top, layer.height, layer.pitch, layer.top_z, layer.storeys)
    if all(value is None for value in said) and not (role.flat or role.form == "levels"):
        raise LevelError(
            f"Layer {layer.name!r} says nothing about how high its features are, and role {role.name!r} "
            "needs it. Give `top` (an absolute level) or `height`: a number, or the name of a field; or say "
            "`top_z` where they have their own Z.",
            layer=layer.name,
            field="top",
        )


def _disagreements(raw: RawLayer, given: dict[str, np.ndarray]) -> list[Finding]:
    over = given["top"] - given["base"] - given["height"]
    return [
        Finding(
            severity="warning",
            code="levels-disagree",
            layer=raw.layer.name,
            source_id=str(raw.source_id[row]),
            field=str(raw.layer.height) if isinstance(raw.layer.height, str) else "",
            value=f"{given['height'][row]:.6g} m",
            message=(
                f"Top {given['top'][row]:.6g} m less base {given['base'][row]:.6g} m is not the height "
                f"{given['height'][row]:.6g} m; base and top are kept."
            ),
        )
        for row in np.flatnonzero(np.abs(over) > AGREE)
    ]


def _settle(layer: Layer, given: dict[str, np.ndarray], said: dict[str, np.ndarray]) -> Levels:
    base, top, height = given["base"], given["top"], given["height"]
    role, n = layer.role_row, len(base)
    base_from, top_from, by = said["base"].copy(), said["top"].copy(), said["height"]
    if layer.base != "below":
        fill = np.isnan(base) & ~np.isnan(top) & ~np.isnan(height)
        base = np.where(fill, top - height, base)
        base_from[fill] = "top less height (" + by[fill] + ")"
    if role.flat or layer.pitch is not None:  # a pitch raises its roof later
        by = np.where(np.isnan(height), "flat", by).astype(object)
        height = np.where(np.isnan(height) & np.isnan(top), 0.0, height)
    fill = np.isnan(top) & ~np.isnan(base) & ~np.isnan(height)
    top = np.where(fill, base + height, top)
    top_from[fill] = "base plus height (" + by[fill] + ")"
    height = np.where(np.isnan(base) | np.isnan(top), height, top - base)
    top_from[np.isnan(top) & (layer.top == FINISHED)] = FINISHED
    raised = np.isnan(top) & ~np.isnan(height) & (by != "flat") & (top_from == "")
    top_from[raised] = "height above base (" + by[raised] + ")"
    is_open = np.isnan(base)
    stands = layer.base == "below" or role.base == "below"
    base_from[is_open] = "below" if stands else "lowest"
    return Levels(
        base=base,
        top=top,
        height=height,
        below=is_open & np.full(n, stands),
        base_from=base_from,
        top_from=top_from,
    )


def _check_upright(raw: RawLayer, levels: Levels, given: dict[str, np.ndarray]) -> None:
    wrong = levels.height < -AGREE
    if not wrong.any():
        return
    counted = wrong & (np.isnan(given["base"]) | np.isnan(given["top"]))  # from a height that is given
    wrong = counted if counted.any() else wrong
    row, keys = int(np.flatnonzero(wrong)[0]), LEVELS
    what = "its top below its base" if wrong.sum() == 1 else "their top below their base"
    first = f"base {levels.base[row]:.6g} m, top {levels.top[row]:.6g} m"
    remedy = "Swap the two fields, or mend or drop these features."
    if counted.any():
        keys, what = ("height", "storeys", "storey_height"), "a height below zero"
        first = f"height {given['height'][row]:.6g} m"
        remedy = "A height counts upward: give it without its sign. What lies lower than what is around it "
        remedy += "takes that level as `top`, or a `drop` if it is water, lawn or paving."
    named = (getattr(raw.layer, key) for key in keys)
    fields = " and ".join(repr(v) for v in named if isinstance(v, str) and v != "below")
    raise LevelError(
        f"Layer {raw.layer.name!r}: {having(int(wrong.sum()), 'feature')} {what} "
        f"(ids {some_ids(raw.source_id[wrong])}; fields {fields or 'none'}; first: {first}). {remedy}",
        layer=raw.layer.name,
        source_ids=raw.source_id[wrong],
        field=fields,
        value=first,
    )


def _drop_unsettled(raw: RawLayer, levels: Levels) -> tuple[RawLayer, Levels]:
    """Set aside what has neither top nor height; lift tops a hair below their base to it."""
    short = np.isnan(levels.top) & np.isnan(levels.height) & (raw.layer.top not in WORDS["top"])
    if short.all():
        raise LevelError(
            f"Layer {raw.layer.name!r}: none of its {len(raw)} features has a level "
            f"(nothing usable in {_looked_in(raw.layer)}). Fill it, or give a number.",
            layer=raw.layer.name,
            source_ids=raw.source_id,
            field="top",
        )
    findings = [
        Finding(
            severity="error",
            code="no-level",
            layer=raw.layer.name,
            source_id=str(raw.source_id[row]),
            field=_looked_in(raw.layer),
            message="It has neither a top nor a height and is set aside.",
        )
        for row in np.flatnonzero(short)
    ]
    keep = np.flatnonzero(~short)
    kept = {name: getattr(levels, name)[keep] for name in Levels.__dataclass_fields__}
    upright = Levels(**kept)
    hair = upright.height < 0
    upright = replace(
        upright,
        height=np.where(hair, 0.0, upright.height),
        top=np.where(hair & ~np.isnan(upright.base), upright.base, upright.top),
    )
    return raw.take(keep, *findings), upright


def _looked_in(layer: Layer) -> str:
    names = [v for v in (layer.top, layer.height, layer.storeys) if isinstance(v, str)]
    return " and ".join([*names, *(["Z"] if z_word(layer, "top") else [])])
