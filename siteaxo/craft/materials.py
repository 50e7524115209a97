"""
Materials that no style knows.

They are drawn as if none were given, which nobody can tell from the drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from ..checks import near
from ..errors import Finding, some_ids
from ..source.features import Features
from ..source.roles import spoken
from .finishes import FINISHES, known_word
from .palettes import MATERIAL_TONES
from .style import Style

SLIP: Final = 0.82  # so much of a word is right where a slip of the pen is made in it [-]
_PLAIN: Final = ("none", "levels")  # forms without faces, whose materials nobody looks up


def unknown_materials(features: Features, style: Style, fields: Mapping[str, str]) -> tuple[Finding, ...]:
    """
    Find materials that neither a style nor the library has a tone or a pattern for.

    Parameters
    ----------
    features : Features
        The features that are drawn.
    style : Style
        What they are drawn in.
    fields : mapping of str to str
        By the name of each layer, the field that its materials are read from.

    Returns
    -------
    tuple of Finding
        One for each material of a layer: a warning where a known one is spelled much like
        it, else an information.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame({"made_of": ["granit"]}, geometry=[shapely.box(0, 0, 8, 6)], crs=25832)
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1, material="made_of")
    >>> stack = siteaxo.Site(name="Yard", layers=[layer]).stack().stack
    >>> unknown_materials(stack.features, Style(), {"yard": "made_of"})[0].value
    'granit'
    """
    drawn = (features.material != "") & ~np.isin(features.of_role("form"), _PLAIN)
    words = dict.fromkeys([*style.materials, *style.finishes, *MATERIAL_TONES, *FINISHES])
    unknown = [one for one in pd.unique(features.material[drawn]) if known_word(str(one), words) is None]
    rows = np.flatnonzero(drawn & pd.Series(features.material).isin(unknown).to_numpy())
    layer = np.array([key.name for key in features.layers], dtype=object)[features.layer[rows]]
    table = pd.DataFrame({"layer": layer, "value": features.material[rows], "row": rows})
    every = tuple(words)
    return tuple(
        _unknown(features, own["row"].to_numpy(), str(value), every, fields.get(str(name), ""))
        for (name, value), own in table.groupby(["layer", "value"], sort=False)
    )


def _unknown(features: Features, rows: np.ndarray, value: str, known: tuple[str, ...], field: str) -> Finding:
    """The finding about one material of one layer."""
    key = features.layers[features.layer[rows[0]]]
    ids = pd.unique(features.source_id[rows].astype(str))
    spelled = (near(word, known, alike=SLIP) for word in (value, *reversed(value.split())))
    close = next((word for word in spelled if word is not None), None)
    hint = f"Did you mean {close!r}?" if close else f"Known: {', '.join(sorted(known))}."
    message = (
        f"{value!r} (features {some_ids(ids)}) is a material that no style knows. "
        f"{hint} It is drawn as {spoken(key.role.name)} without a material; "
        "correct it, or give it a tone or a pattern in a style."
    )
    return Finding(
        severity="warning" if close else "info",
        code="material-unknown",
        layer=key.name,
        source_id=ids[0],
        field=field,
        value=value,
        message=message,
    )
