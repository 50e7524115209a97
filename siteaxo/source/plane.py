"""
The local plane: a projected CRS in metres on which the site is drawn.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pyproj
import shapely
from numpy.typing import ArrayLike
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion

from ..errors import CrsError
from .datum import same_datum
from .plane_report import PlaneReport
from .texts import horizontal
from .ways import Bounds, check_plane, way_between

_CONFORMAL: Final = 1e-5  # angular distortion below which a plane counts as conformal [degrees]


@dataclass(frozen=True, kw_only=True)
class LocalPlane:
    """
    A projected CRS in metres, and the way onto it.

    Use :meth:`centred_on` or :meth:`from_crs` to make one.

    Parameters
    ----------
    crs : pyproj.CRS
        The projected CRS.
    area : tuple of float, optional
        West, south, east and north of the site, to choose datum shifts for [degrees].

    Examples
    --------
    >>> plane = LocalPlane.centred_on(5.0, 52.0)
    >>> round(float(plane.scale_at(0.0, 0.0)), 9)
    1.0
    >>> plane
    <LocalPlane on Local plane at 52.000000, 5.000000, in metres>
    >>> plane.wkt[:7], plane.shift_accuracy(plane.crs)
    ('PROJCRS', 0.0)
    >>> there = plane.to_plane([shapely.Point(5, 52)], "EPSG:4326")[0]
    >>> round(there.x, 6) + 0.0, round(there.y, 6) + 0.0
    (0.0, 0.0)
    >>> plane.from_plane([[0.0, 0.0]], "EPSG:4326").round(9).tolist()
    [[5.0, 52.0]]
    >>> round(plane.convergence_at(0.0, 0.0), 6) + 0.0
    0.0
    >>> plane.report((-50, -40, 50, 40), ["EPSG:4326"]).datum_shift_accuracy_m["WGS 84"]
    0.0
    """

    crs: pyproj.CRS
    area: Bounds | None = field(default=None, compare=False)

    def __repr__(self) -> str:
        return f"<LocalPlane on {self.crs.name}, in metres>"

    def __getstate__(self) -> dict[str, Any]:
        """What is copied to another process: not the ways found so far, which belong to this one."""
        return {"crs": self.crs, "area": self.area}

    @classmethod
    def centred_on(
        cls, lon: float, lat: float, *, datum: Any = "EPSG:4326", area: Bounds | None = None
    ) -> LocalPlane:
        """
        Make a transverse Mercator plane with scale 1 along the meridian of a place.

        Parameters
        ----------
        lon, lat : float
            Centre of the site on *datum* [degrees].
        datum : optional
            Geographic CRS of the plane: anything pyproj takes.
        area : tuple of float, optional
            West, south, east and north of the site [degrees].

        Returns
        -------
        LocalPlane
            Its origin, where both coordinates are zero, is the centre.

        Raises
        ------
        CrsError
            If *datum* is not a geographic CRS, or the centre is not on the Earth.
        """
        geographic = pyproj.CRS.from_user_input(datum).to_2d()
        if not geographic.is_geographic or not (abs(lat) <= 90 and abs(lon) <= 360):
            raise CrsError(
                f"A local plane cannot be centred on longitude {lon}, latitude {lat} of {geographic.name}.",
                field="plane crs",
                value=f"{lon}, {lat}",
            )
        crs = ProjectedCRS(
            conversion=TransverseMercatorConversion(float(lat), float(lon), 0.0, 0.0, 1.0),
            geodetic_crs=geographic,
            name=f"Local plane at {lat:.6f}, {lon:.6f}",
        )
        return cls(crs=pyproj.CRS(crs.to_wkt()), area=area or (lon, lat, lon, lat))

    @classmethod
    def from_crs(cls, crs: Any, *, area: Bounds | None = None) -> LocalPlane:
        """
        Use a projected CRS in metres of the user's choice.

        Parameters
        ----------
        crs
            Anything pyproj takes.
        area : tuple of float, optional
            West, south, east and north of the site [degrees].

        Raises
        ------
        CrsError
            If it is unknown, not projected, not in metres, not east and north, or a
            Mercator whose metres are not metres.

        Examples
        --------
        >>> LocalPlane.from_crs("EPSG:25832").crs.name
        'ETRS89 / UTM zone 32N'
        """
        try:
            plane = horizontal(pyproj.CRS.from_user_input(crs))
        except (pyproj.exceptions.CRSError, RecursionError) as problem:
            raise CrsError(
                f"plane crs = {str(crs)[:200]!r} is no known coordinate reference system ({problem}). "
                "Use 'auto', a code such as 'EPSG:25832', or WKT.",
                field="plane crs",
                value=str(crs)[:200],
            ) from None
        check_plane(plane)
        return cls(crs=plane, area=area)

    @property
    def wkt(self) -> str:
        """The CRS as WKT 2."""
        return str(self.crs.to_wkt("WKT2_2019"))

    def to_plane(self, geometries: ArrayLike, crs: Any) -> np.ndarray:
        """
        Bring geometries from their CRS onto the plane.

        Parameters
        ----------
        geometries : array_like of shapely geometries, shape (n,)
            In *crs*, x before y whatever its official axis order.
        crs
            Anything pyproj takes.

        Returns
        -------
        ndarray of object, shape (n,)
            2D geometries [m]; coordinates that cannot be transformed are infinite.

        Raises
        ------
        CrsError
            If there is no way from one CRS to the other.
        """
        flat = shapely.force_2d(np.asarray(geometries, dtype=object))
        source = horizontal(pyproj.CRS.from_user_input(crs))
        if source.equals(self.crs, ignore_axis_order=True):
            return flat
        transformer = self._way_from(source)
        return shapely.transform(flat, lambda x, y: transformer.transform(x, y), interleaved=False)

    def from_plane(self, xy: ArrayLike, crs: Any) -> np.ndarray:
        """
        Bring points of the plane into another CRS.

        Parameters
        ----------
        xy : array_like, shape (n, 2)
            Points of the plane [m].
        crs
            Anything pyproj takes.

        Returns
        -------
        ndarray, shape (n, 2)
            x before y whatever the official axis order, in the unit of *crs*.

        Raises
        ------
        CrsError
            If there is no way from one CRS to the other.
        """
        points = np.asarray(xy, dtype=float).reshape(-1, 2)
        source = horizontal(pyproj.CRS.from_user_input(crs))
        if source.equals(self.crs, ignore_axis_order=True):
            return points.copy()
        found = self._way_from(source).transform(points[:, 0], points[:, 1], direction="INVERSE")
        return np.column_stack(found)

    def to_lonlat(self, x: ArrayLike, y: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        """
        Longitude and latitude, on the plane's own datum, of points of the plane [degrees].

        Examples
        --------
        >>> lon, lat = LocalPlane.centred_on(5.0, 52.0).to_lonlat([0.0], [0.0])
        >>> lon.round(9).tolist(), lat.round(9).tolist()
        ([5.0], [52.0])
        """
        lon, lat = self._projection()(np.asarray(x, float), np.asarray(y, float), inverse=True)
        return np.asarray(lon), np.asarray(lat)

    def scale_at(self, x: ArrayLike, y: ArrayLike) -> np.ndarray:
        """
        Plane metres per true metre at points of the plane.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            Places on the plane [m].

        Returns
        -------
        ndarray, shape (n,)
            Where scale depends on the direction, the one farthest from 1 [-].

        Examples
        --------
        The central meridian of UTM has the scale 0.9996.

        >>> LocalPlane.from_crs("EPSG:25832").scale_at([5e5], [5.7e6]).round(6).tolist()
        [0.9996]
        """
        factors = self._projection().get_factors(*self.to_lonlat(x, y))
        mean = np.sqrt(np.asarray(factors.areal_scale))
        most, least = np.asarray(factors.tissot_semimajor), np.asarray(factors.tissot_semiminor)
        farthest = np.where(np.abs(most - 1) >= np.abs(least - 1), most, least)
        return np.where(np.asarray(factors.angular_distortion) < _CONFORMAL, mean, farthest)

    def convergence_at(self, x: float, y: float) -> float:
        """Angle from true north to grid north at a point of the plane, clockwise positive [degrees]."""
        return float(self._projection().get_factors(*self.to_lonlat(x, y)).meridian_convergence)

    def report(self, bounds: Bounds, sources: Iterable[Any] = ()) -> PlaneReport:
        """
        Say how true the plane is over a site.

        Parameters
        ----------
        bounds : tuple of float
            Left, bottom, right and top of the site on the plane [m].
        sources : iterable
            CRSs that the site's layers come in.
        """
        left, bottom, right, top = bounds
        corners = self.scale_at([left, right, right, left], [bottom, bottom, top, top])
        centre = self.convergence_at((left + right) / 2, (bottom + top) / 2)
        accuracies = {}
        for source in sources:
            flat = horizontal(pyproj.CRS.from_user_input(source))
            accuracies[flat.name] = self.shift_accuracy(flat)
        return PlaneReport(
            scale_at_corners=tuple(float(k) for k in corners),  # type: ignore[arg-type]
            convergence_at_centre=centre,
            datum_shift_accuracy_m=MappingProxyType(accuracies),
        )

    def shift_accuracy(self, crs: pyproj.CRS) -> float | None:
        """Accuracy of the datum shift from *crs* [m]: zero where there is none, None if not known."""
        if same_datum(crs, self.crs):
            return 0.0
        accuracy = float(self._way_from(crs).accuracy)
        return accuracy if accuracy >= 0 else None

    def _projection(self) -> pyproj.Proj:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)
            return pyproj.Proj(self.crs)

    @cached_property
    def _ways(self) -> dict[pyproj.CRS, pyproj.Transformer]:
        """Ways onto the plane that have been found: looking for one takes longer than going it."""
        return {}

    def _way_from(self, source: pyproj.CRS) -> pyproj.Transformer:
        if source not in self._ways:
            self._ways[source] = way_between(source, self.crs, area=self.area)
        return self._ways[source]
