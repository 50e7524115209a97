"""
Layers in a line of text.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Final

from .admitted import declared_crs

_SAID: Final = ("name", "role", "source")


def layer_text(layer: Any) -> str:
    """
    Tell a person what a layer is.

    Parameters
    ----------
    layer : Layer
        The layer.

    Examples
    --------
    >>> from siteaxo.source.layers import Layer
    >>> Layer(name="decks", role="deck", source="decks.shp", base="below", height=0.45)
    <Layer 'decks': deck from decks.shp, base 'below', height 0.45>
    """
    source = layer.source
    if isinstance(source, str | os.PathLike):
        origin = Path(source).name
    else:
        origin = f"{len(source)} rows in {source.crs.name if source.crs else 'no CRS'}"
    given = [
        f"{name} {getattr(layer, name)!r}"
        for name in layer.__dataclass_fields__
        if name not in _SAID and getattr(layer, name) is not None
    ]
    return f"<Layer {layer.name!r}: {', '.join([f'{layer.role} from {origin}', *given])}>"


def layer_features(layer: Any) -> dict[str, Any]:
    """
    Features of a layer that was given them, as GeoJSON in longitude and latitude.

    Parameters
    ----------
    layer : Layer
        The layer.

    Returns
    -------
    dict
        A FeatureCollection.

    Raises
    ------
    AttributeError
        If its features are in a file, which is not read before the site is, or have no CRS.
    """
    source = layer.source
    if isinstance(source, str | os.PathLike):
        raise AttributeError(
            f"Layer {layer.name!r}: its features are still in {Path(source).name}; "
            "read them with siteaxo.operations.read."
        )
    placed = source if layer.crs is None else source.set_crs(declared_crs(layer), allow_override=True)
    if placed.crs is None:
        raise AttributeError(f"Layer {layer.name!r}: its features have no CRS; say crs=.")
    return dict(placed.to_crs("OGC:CRS84").__geo_interface__)
