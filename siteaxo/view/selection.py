"""
Choosing features by layer, role and id.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import nearest
from ..errors import LayerError, some_ids
from ..source.features import Features


@dataclass(frozen=True, kw_only=True)
class Selection:
    """
    Some features of a site: those that meet everything that is said here.

    Parameters
    ----------
    layer, role : str or iterable of str, optional
        Names of layers, and of roles.
    ids : iterable, optional
        The features' own ids.

    Raises
    ------
    LayerError
        If nothing is said.

    Examples
    --------
    >>> Selection(role="steps").role
    ('steps',)
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> features = siteaxo.Site(name="Yard", layers=[layer]).stack().stack.features
    >>> Selection.of("yard", features).rows(features).tolist()
    [0]
    """

    layer: Any = None
    role: Any = None
    ids: Any = None

    def __post_init__(self) -> None:
        if self.layer is None and self.role is None and self.ids is None:
            raise LayerError("A selection needs a layer, a role, or ids of features.", field="layer")
        for name in ("layer", "role", "ids"):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, _texts(value))

    @classmethod
    def of(cls, given: Selection | Mapping[str, Any] | str, features: Features) -> Selection:
        """
        Make a selection of what a user has given: one already, its keys, or the name of a layer or role.

        Raises
        ------
        LayerError
            If a key, or the name of a layer or role, is unknown.
        """
        if isinstance(given, Selection):
            return given
        if isinstance(given, Mapping):
            known = tuple(cls.__dataclass_fields__)
            for key in given:
                if key not in known:
                    raise LayerError(f"A selection has no {key!r}. {nearest(str(key), known)}", field=key)
            return cls(**given)
        layers = {key.name for key in features.layers}
        roles = {key.role.name for key in features.layers}
        if given in roles or given in layers:
            return cls(role=given) if given in roles else cls(layer=given)
        raise LayerError(
            f"The site has no layer or role {given!r}. {nearest(str(given), layers | roles)}", value=given
        )

    def rows(self, features: Features) -> np.ndarray:
        """
        Find the features it means.

        Parameters
        ----------
        features : Features
            Features of a site.

        Returns
        -------
        ndarray of int, shape (k,)
            Their rows.

        Raises
        ------
        LayerError
            If a layer, role or id is not there, or no feature meets everything.
        """
        names = {
            "layer": np.array([key.name for key in features.layers], dtype=object)[features.layer],
            "role": features.of_role("name").astype(object),
            "ids": features.source_id.astype(str).astype(object),
        }
        chosen = np.ones(len(features), dtype=bool)
        for key, have in names.items():
            wanted = getattr(self, key)
            if wanted is not None:
                _check_known(key, wanted, have)
                chosen &= np.isin(have, np.array(wanted, dtype=object))
        if not chosen.any():
            raise LayerError(f"No feature meets all of {self}. Loosen the selection.", value=self)
        return np.flatnonzero(chosen)


def _texts(value: object) -> tuple[str, ...]:
    if isinstance(value, str) or not isinstance(value, Iterable):
        return (str(value),)
    return tuple(str(one) for one in value)


def _check_known(key: str, wanted: tuple[str, ...], have: np.ndarray) -> None:
    known = set(have.tolist())
    missing = [one for one in wanted if one not in known]
    if missing:
        what = {"layer": "layer", "role": "role", "ids": "feature with the id"}[key]
        hint = nearest(missing[0], known) if len(known) <= 60 else f"It has {len(known)} ids."
        raise LayerError(
            f"The site has no {what} {some_ids(missing)}. {hint}",
            layer=missing[0] if key == "layer" else "",
            source_ids=missing if key == "ids" else (),
            field=key,
            value=missing[0],
        )
