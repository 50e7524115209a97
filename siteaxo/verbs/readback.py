"""
What a diagram can say of places on its page, and marks put on it.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..diagram.layers import ViewRecord
from ..errors import InputError
from ..export.written import read_written
from ..measure.reading import FeatureAt, feature_at, length_along, site_points


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadsBack:
    """
    Places of a drawing read back.

    Parameters
    ----------
    source_crs : mapping of str to Any
        CRS of each layer's own source.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[layer]).stack()
    >>> diagram = model.draw(siteaxo.planometric(turn=30))
    >>> bounds = diagram.bounds
    >>> point = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    >>> diagram.feature_at(point).layer, float(diagram.to_site([point], level=1.5)[0, 2])
    ('yard', 1.5)
    >>> diagram.measure((0, 0), (0, 1.5), along="height")
    1.5
    """

    source_crs: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))

    def to_site(
        self: Any, points: ArrayLike, *, level: ArrayLike | None = None, crs: Any = None
    ) -> np.ndarray:
        """
        Bring page points back to the site; see :func:`siteaxo.measure.reading.site_points`.

        Parameters
        ----------
        points : array_like, shape (n, 2)
            Page right and page up at full size [m].
        level : float or array_like, shape (n,), optional
            Their levels [m]; those of what is seen there when left out.
        crs : optional
            CRS of the result, or the name of a layer, for that of its source; the local
            plane when left out.

        Returns
        -------
        ndarray, shape (n, 3)
            x, y and level.
        """
        known = self.source_crs.get(crs, crs) if isinstance(crs, str) else crs
        return site_points(self, points, level=level, crs=known)

    def feature_at(self: Any, point: ArrayLike) -> FeatureAt | None:
        """
        Say what is seen at a page point; see :func:`siteaxo.measure.reading.feature_at`.

        Parameters
        ----------
        point : array_like, shape (2,)
            Page right and page up at full size [m].

        Returns
        -------
        FeatureAt or None
            Layer, feature, part, level, and the place in the local plane and in the CRS of
            the layer's source; None where nothing is drawn.
        """
        return feature_at(self, point, source_crs=self.source_crs)

    def measure(self: Any, start: ArrayLike, end: ArrayLike, *, along: str) -> float:
        """
        Length between page points along an axis; see :func:`siteaxo.measure.reading.length_along`.

        Parameters
        ----------
        start, end : array_like, shape (2,)
            Page points at full size [m].
        along : {"x", "y", "height"}
            Along the base line, across it, or upright.

        Returns
        -------
        float
            True length [m].
        """
        return length_along(self.view, start, end, along=along)


class TakesMarks:
    """
    Marks put on a drawing.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> model = siteaxo.Site(name="Yard", layers=[layer]).stack()
    >>> diagram = model.draw(siteaxo.planometric(turn=30))
    >>> "caution_marks" in diagram.with_cautions(model.cautions()).extra
    True
    """

    def with_cautions(self: Any, cautions: Any) -> Any:
        """
        Return the drawing with marks of cautions; figures list them beside it with their rules.

        Parameters
        ----------
        cautions : GeoDataFrame
            Those of the same site, or some of them, from ``model.cautions()``.

        Returns
        -------
        Diagram
            With a further table, ``caution_marks``.

        Raises
        ------
        InputError
            If *cautions* is another table, or none.
        """
        if "code" not in getattr(cautions, "columns", ()):
            raise InputError(
                "cautions must be the table that `model.cautions()` returns, or some rows of it, not "
                f"{type(cautions).__name__} without a column 'code'.",
                field="cautions",
            )
        from ..sheet.cautioned import TABLE, caution_marks

        marks = caution_marks(cautions, self, self.style)
        return replace(self, extra={**self.extra, TABLE: marks})


@dataclass(frozen=True, kw_only=True, eq=False)
class WrittenDrawing(ReadsBack):
    """
    A drawing read back from its GeoPackage, to be asked for places.

    Parameters
    ----------
    faces : GeoDataFrame
        What is seen, in page metres, without a CRS. Of faces that are not level the file does not tell the
        plane, so that a level has to be given for places on them.
    view : ViewRecord
        The view it was drawn in.
    """

    faces: Any
    view: ViewRecord

    def __repr__(self) -> str:
        layers = ", ".join(dict.fromkeys(self.faces["layer"]))
        view = f"{self.view.kind}, turned {self.view.turn:g}°, heights × {self.view.height_factor:g}"
        return f"<WrittenDrawing: {view}; {len(self.faces)} faces seen of {layers}>"


def read_drawing(path: str | os.PathLike[str]) -> WrittenDrawing:
    """
    Read a diagram GeoPackage back, to ask what is where.

    Parameters
    ----------
    path : path
        The file, in the sheet frame.

    Returns
    -------
    WrittenDrawing

    Raises
    ------
    OutputError
        If it cannot be read, is no diagram, or is in the map frame.

    Examples
    --------
    >>> import tempfile
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> file = f"{tempfile.mkdtemp()}/yard.gpkg"
    >>> siteaxo.Site(name="Yard", layers=[layer]).stack().draw(siteaxo.planometric(turn=30)).to_gpkg(file)
    >>> read_drawing(file).feature_at((0.0, 1.5)).layer
    'yard'
    """
    faces, view = read_written(path)
    return WrittenDrawing(faces=faces, view=view)
