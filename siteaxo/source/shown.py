"""
Layers in a line of text.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Final

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
