"""
What siteaxo raises and what it notices.

Errors stop the work; findings are carried along and handed out with the result.
Every error derives from :class:`SiteaxoError` and has a stable ``code``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["info", "warning", "error"]


class SiteaxoError(Exception):
    """
    Anything siteaxo refuses to do, with a message a stranger can act on.

    Parameters
    ----------
    message : str
        What was refused, where, and what to do about it.
    code : str, optional
        Stable short name of what is wrong; the name of the kind of error when left out.
    layer, field, value : str, optional
        Where it is: the layer's name, the field, and the offending value.
    source_ids : iterable, optional
        Ids of the features concerned.
    remedy : str, optional
        What to do about it, where the message does not say so already; it is added to it.

    Examples
    --------
    >>> error = LayerError("Layer 'a' is empty.", code="layer-empty", layer="a", remedy="Take it out.")
    >>> str(error), error.code, error.layer
    ("Layer 'a' is empty. Take it out.", 'layer-empty', 'a')
    >>> error.within("site.toml").layer, str(error.saying("Nothing is in it.", field="source"))
    ('a', 'Nothing is in it.')
    """

    code = "siteaxo"

    def __init__(
        self,
        message: object = "",
        *,
        code: str = "",
        layer: str = "",
        source_ids: Iterable[object] = (),
        field: str = "",
        value: object = "",
        remedy: str = "",
    ) -> None:
        super().__init__(f"{message} {remedy}" if remedy else message)
        self.code = code or type(self).code
        self.layer, self.field, self.value, self.remedy = layer, field, str(value), remedy
        self.source_ids = tuple(str(i) for i in source_ids)

    def within(
        self, place: str, *, kind: type[SiteaxoError] | None = None, layer: str = "", field: str = ""
    ) -> SiteaxoError:
        """Return the same error with where it was met before its message; options as of :meth:`saying`."""
        return self.saying(f"{place}: {self}", kind=kind, layer=layer, field=field)

    def saying(
        self, message: str, *, kind: type[SiteaxoError] | None = None, layer: str = "", field: str = ""
    ) -> SiteaxoError:
        """
        Return the same error in other words.

        Parameters
        ----------
        message : str
            The words; they say the remedy too.
        kind : type of SiteaxoError, optional
            The kind it becomes; a code that says more than the kind it was is kept.
        layer, field : str, optional
            Where it is, where the error does not say so yet.
        """
        made = kind or type(self)
        other = made(
            message,
            code=made.code if self.code == type(self).code else self.code,
            layer=self.layer or layer,
            source_ids=self.source_ids,
            field=self.field or field,
            value=self.value,
        )
        other.remedy = self.remedy
        return other


class SiteFileError(SiteaxoError, ValueError):
    """The site file is missing, is not TOML, or says something unknown."""

    code = "site-file"


class LayerError(SiteaxoError, ValueError):
    """A layer cannot be read, is empty, or lacks what its role needs."""

    code = "layer"


class FieldError(LayerError):
    """A field is named that the layer does not have, or holds what it cannot hold."""

    code = "field"


class CrsError(SiteaxoError, ValueError):
    """A coordinate reference system is missing, unusable, or fails to transform."""

    code = "crs"


class LevelError(SiteaxoError, ValueError):
    """A base or top level is missing, infinite or upside down."""

    code = "level"


class GeometryError(SiteaxoError, ValueError):
    """A geometry is not finite, not valid, or not of the kind a role needs."""

    code = "geometry"


class ViewError(SiteaxoError, ValueError):
    """A view cannot be made, or its matrix has no inverse."""

    code = "view"


class SheetError(SiteaxoError, ValueError):
    """A sheet, scale or style is unknown, or the drawing does not fit."""

    code = "sheet"


class OutputError(SiteaxoError, OSError):
    """An output cannot be written; what stood there before is untouched."""

    code = "output"


class CancelledError(SiteaxoError):
    """The caller's progress callback asked to stop."""

    code = "cancelled"


class InputError(SiteaxoError, ValueError):
    """An input of an operation or a command is unknown, missing, or not what it should be."""

    code = "input"


class LimitError(SiteaxoError, ValueError):
    """The work is larger or takes longer than its limits allow; the user can raise them."""

    code = "limit"


@dataclass(frozen=True, kw_only=True)
class Finding:
    """
    One thing noticed in the data.

    Parameters
    ----------
    severity : {"info", "warning", "error"}
        How much it matters.
    code : str
        Stable short name of the kind of finding.
    layer, source_id, field, value : str
        Where it is: layer name, feature id, field and the offending value.
    message : str
        What was found, and what was done about it.
    place : tuple of two floats, optional
        Where on the local plane it is, where that is not the whole feature [m].

    Examples
    --------
    >>> Finding(severity="warning", code="flat", layer="decks", message="It has no height.").severity
    'warning'
    """

    severity: Severity
    code: str
    layer: str = ""
    source_id: str = ""
    field: str = ""
    value: str = ""
    message: str
    place: tuple[float, float] | None = None


def worst(findings: Iterable[Finding]) -> Severity | None:
    """
    Return the highest severity among *findings*, or None when there are none.

    Examples
    --------
    >>> worst([Finding(severity="info", code="x", message="")])
    'info'
    """
    order: tuple[Severity, ...] = ("info", "warning", "error")
    ranks = [order.index(finding.severity) for finding in findings]
    return order[max(ranks)] if ranks else None


def some_ids(ids: Iterable[object], most: int = 5) -> str:
    """
    Name the first few feature ids for a message.

    Examples
    --------
    >>> some_ids([4, 7, 9], most=2)
    '4, 7 and 1 more'
    """
    names = [str(i) for i in ids]
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
