"""
What a model was, and is to be, stage by stage.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Self

import numpy as np

from ..checks import one_of
from ..diagram.tiers import groups_of
from ..errors import FieldError, SiteaxoError
from ..solids.stack import stack_features
from ..source.own_fields import field_values, spoken_of
from .drawn import Draws


class Stages(Draws):
    """
    Parts a model into its stages.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame({"phase": [1]}, geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> list(siteaxo.Site(name="Yard", layers=[layer]).stack().stages("phase"))
    ['1']
    """

    def stages(
        self,
        by: str | Mapping[str, str | Sequence[str]],
        *,
        until: str | None = None,
        order: Sequence[str] | None = None,
    ) -> dict[str, Self]:
        """
        Part the model into its stages.

        Parameters
        ----------
        by : str or mapping of str to names
            Field in the layers that says at which stage a feature comes; or names of stages in
            their order, each with the themes, roles or layers that come. What has no stage is
            there from the first on; a note without one comes and goes with the smallest
            footprint it lies in.
        until : str, optional
            Field that says at which stage a feature is there no more.
        order : sequence of str, optional
            Stages in their order; sorted by their words when left out.

        Returns
        -------
        dict of str to Model
            The model at each stage, stacked anew on the same plane.

        Raises
        ------
        FieldError
            If no layer has a field, or a feature has a stage that is not in *order*.
        ViewError
            If a name in a mapping is no theme, role or layer.
        """
        own = self.gathered.features
        if isinstance(by, str):
            comes = field_values(self.site.layers, own, by)
        else:
            names = np.array([*by, ""], dtype=object)
            comes, order = names[groups_of(own, by)], order or list(by)
        goes = field_values(self.site.layers, own, until) if until else np.full(len(comes), "", dtype=object)
        speaks_of = np.where((comes == "") & (goes == ""), spoken_of(own), np.arange(len(own)))
        comes, goes = comes[speaks_of], goes[speaks_of]
        found = sorted({str(one) for one in (*comes, *goes) if one})
        words = [str(one) for one in order] if order is not None else found
        for one in found:
            one_of(one, words, "stage" if not isinstance(by, str) else f"stage in field {by!r}", FieldError)
        place = {word: number for number, word in enumerate(words)}
        first = np.array([place[one] if one else -1 for one in comes])
        last = np.array([place[one] if one else len(words) for one in goes])
        kept = {word: (first <= number) & (number < last) for word, number in place.items()}
        return {word: self._stage(word, rows) for word, rows in kept.items()}

    def _stage(self, word: str, rows: np.ndarray) -> Self:
        """The model at a stage."""
        try:
            return self._some(rows)
        except SiteaxoError as error:
            raise error.within(f"Stage {word!r}") from error

    def _some(self, rows: np.ndarray) -> Self:
        """The model with some of its features as read only, stacked anew unless they are all there."""
        if rows.all():
            return replace(self, page_origin=self.origin)  # type: ignore[type-var]
        features = self.gathered.features.take(np.flatnonzero(rows))
        step = self.site.contour_interval_m
        return replace(
            self,  # type: ignore[type-var]
            gathered=replace(self.gathered, features=features),
            stack=stack_features(features, contour_interval=step),
            page_origin=self.origin,
        )
