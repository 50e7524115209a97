"""
Which geodetic datum a CRS is about, and what its vertical axis measures in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import pyproj


def same_datum(one: pyproj.CRS, other: pyproj.CRS) -> bool:
    """
    Whether two CRSs are about the same geodetic datum.

    Examples
    --------
    >>> same_datum(pyproj.CRS("EPSG:3857"), pyproj.CRS("EPSG:4326"))
    True
    """
    bound = one.is_bound or other.is_bound
    return not bound and _datum(one).equals(_datum(other), ignore_axis_order=True)


def _datum(crs: pyproj.CRS) -> pyproj.CRS:
    geodetic = crs.geodetic_crs
    return crs if geodetic is None else geodetic.to_2d()


def shared_datum(sources: Sequence[pyproj.CRS]) -> pyproj.CRS:
    """
    Return the geographic CRS that most sources rest on, or WGS 84 where none prevails.

    So most layers of a site are placed without a datum shift. Datums with another prime
    meridian than Greenwich, or in grads, give way to WGS 84 as well.
    """
    wgs84 = pyproj.CRS("EPSG:4326")
    counts = Counter(sources)  # layers share their CRSs: few are compared
    votes = {one: sum(n for other, n in counts.items() if same_datum(one, other)) for one in counts}
    best = max(votes.values())
    winners = [source for source, count in votes.items() if count == best]
    if not best or any(not same_datum(winners[0], other) for other in winners[1:]):
        return wgs84
    datum = _datum(winners[0])
    meridian = datum.prime_meridian
    plain = meridian is not None and meridian.longitude == 0
    plain = plain and all(a.unit_name == "degree" for a in datum.axis_info)
    return datum if plain and datum.is_geographic else wgs84


def vertical_axis(crs: Any) -> float | None:
    """
    Metres in one unit of a CRS's vertical axis, negative where it points down.

    Parameters
    ----------
    crs : optional
        Anything pyproj takes; None where there is none.

    Returns
    -------
    float or None
        None where the CRS has no vertical axis, or cannot be understood.

    Examples
    --------
    >>> vertical_axis("EPSG:7415"), vertical_axis("EPSG:27700")
    (1.0, None)
    """
    if crs is None:
        return None
    try:
        axes = pyproj.CRS.from_user_input(crs).axis_info
    except pyproj.exceptions.CRSError:
        return None  # what is wrong with it is said where the plan is read
    for axis in axes:
        if axis.direction.lower() in ("up", "down"):
            return float(axis.unit_conversion_factor) * (1 if axis.direction.lower() == "up" else -1)
    return None
