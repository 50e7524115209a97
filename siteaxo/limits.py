"""
How much siteaxo takes on before it asks: bounds that a user can raise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from numbers import Real
from typing import Final

from .errors import LimitError
from .saying import unusual

MB: Final = 1_000_000  # bytes


@dataclass(frozen=True, kw_only=True)
class Limits:
    """
    Bounds of time, memory and size.

    Parameters
    ----------
    file_mb : float
        Largest file that is read [MB].
    unpacked_mb : float
        Most that is taken out of an archive [MB].
    archive_files : int
        Most files in an archive.
    archive_ratio : float
        How many times larger than packed a file in an archive may be.
    records : int
        Most records of one layer.
    vertices : int
        Most vertices of one layer.
    ring_vertices : int
        Most vertices of one feature.
    crossings : int
        Most crossings of one outline with itself that are mended.
    seconds : float
        Longest run of a command [s].
    memory_mb : float
        Most memory of a command [MB].

    Raises
    ------
    LimitError
        If one of them is no number above zero.

    Examples
    --------
    >>> Limits(records=10).check("records", 9, what="the table has records")
    >>> Limits(records=2_000_000).records
    2000000
    >>> Limits(records=2_000_000)
    <Limits: records 2000000, else the usual ones>
    """

    file_mb: float = 512
    unpacked_mb: float = 1024
    archive_files: int = 10_000
    archive_ratio: float = 200
    records: int = 500_000
    vertices: int = 5_000_000
    ring_vertices: int = 250_000
    crossings: int = 20_000
    seconds: float = 3600
    memory_mb: float = 8192

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, bool) or not isinstance(value, Real) or math.isnan(value) or value <= 0:
                raise LimitError(
                    f"The limit {field.name} must be a number above zero, not {value!r}.",
                    code="limit-value",
                    field=field.name,
                    value=value,
                )

    def __repr__(self) -> str:
        raised = unusual(self)
        return f"<Limits: {', '.join([*raised, 'else the usual ones' if raised else 'the usual ones'])}>"

    def check(self, name: str, amount: float, *, what: str, layer: str = "") -> None:
        """
        Refuse an amount above one of the limits.

        Parameters
        ----------
        name : str
            The limit.
        amount : float
            What there is, in the limit's own unit.
        what : str
            What has that amount, for the message.
        layer : str
            Name of the layer, for the message.

        Raises
        ------
        LimitError
            If it is above the limit; the message says how to raise it.
        """
        most = getattr(self, name)
        if amount > most:
            whose = f"Layer {layer!r}: " if layer else ""
            more = f"{name}={_above(amount)}"
            raise LimitError(
                f"{whose}{what}: {amount:.6g}, and the limit {name} is {most:.6g}. Simplify or cut it to the "
                f"site, or raise the limit: --limit {more}, or Limits({more}).",
                layer=layer,
                field=name,
                value=f"{amount:.6g}",
            )


USUAL: Final = Limits()


def _above(amount: float) -> int:
    """A round number that is not below an amount."""
    step = 10 ** max(int(math.log10(max(amount, 1))) - 1, 0)
    return math.ceil(amount / step) * step
