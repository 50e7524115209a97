"""
A matplotlib figure that is always saved at its true size.

Drawing and saving happen inside matplotlib's own defaults, so that what a user has set
(tight boxes, other fonts, paths simplified) cannot change the scale, and the same figure
gives the same bytes.
"""

from __future__ import annotations

import contextlib
import io
import os
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from ..checks import finite, nearest
from ..errors import OutputError, SheetError
from ..units import MM_PER_INCH
from .fonts import FAMILY, missing_signs
from .page import SHEETS_MM
from .pdf import LayerName, pdf_bytes
from .png import png_bytes

IMAGE_KINDS: Final = ("pdf", "png", "svg")
PREVIEW_DPI: Final = 75.0  # of pictures in notebooks
_SETTINGS: Final = {
    "font.family": ["sans-serif"],
    "font.sans-serif": ["DejaVu Sans"],
    "path.simplify": False,
    "pdf.compression": 4,  # half the time of 6, and files 2 % larger
    "path.snap": False,
    "pdf.fonttype": 42,
    "svg.fonttype": "none",
    "svg.hashsalt": "siteaxo",
    "text.parse_math": False,
}
Keep = Callable[[Path, bytes], object]
Progress = Callable[[str, float], None]


@contextlib.contextmanager
def drawing_defaults() -> Iterator[None]:
    """Draw and save with matplotlib's defaults and the library's own settings; then put all back."""
    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")  # told once, by render
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield


class LetteringWarning(UserWarning):
    """Letters of a sheet have no sign in its typeface, and boxes stand in for them."""


class SheetFigure(Figure):
    """
    A figure the size of a sheet, drawn at a true scale.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the sheet [mm].
    title, description : str
        Written into the files; the description is the alternative text.
    language : str
        Language of both, as in BCP 47.
    keep : callable, optional
        What puts the finished bytes of :meth:`savefig` at a path; plain writing when left out.
    layers : dict of str to (str, str)
        Heading and name of the layer that can be switched off in a PDF, of each named group;
        filled as things are drawn.
    drawing : DiagramLayers or None
        What the sheet shows, with all that was put on it.
    numbers : dict of str to int
        Numbers that stand for call-outs on the sheet, by their words.
    **options
        Passed on to ``matplotlib.figure.Figure``.
    """

    def __init__(
        self,
        *,
        width_mm: float,
        height_mm: float,
        title: str = "",
        description: str = "",
        language: str = "en",
        keep: Keep | None = None,
        **options: Any,
    ) -> None:
        super().__init__(figsize=(width_mm / MM_PER_INCH, height_mm / MM_PER_INCH), **options)
        FigureCanvasAgg(self)
        self.title = title
        self.description = description
        self.language = language
        self.keep = keep or Path.write_bytes
        self.layers: dict[str, LayerName] = {}
        self.drawing: Any = None
        self.numbers: dict[str, int] = {}

    def __repr__(self) -> str:
        wide, high = (round(inches * MM_PER_INCH) for inches in self.get_size_inches())
        sizes = (name for name, sides in SHEETS_MM.items() if sorted(sides) == sorted((wide, high)))
        shown = list(self.drawing.values()) if isinstance(self.drawing, dict) else self.drawing or []
        drawings = shown if isinstance(shown, (list, tuple)) else [shown]
        scales = dict.fromkeys(f"1:{one.scale:g}" for one in drawings if one.scale)
        told = (*sizes, f"{wide} × {high} mm", *scales)
        return f"<SheetFigure {self.title!r}: {', '.join(told)}>"

    def _repr_png_(self) -> bytes:
        """Preview for notebooks."""
        return render(self, "png", dpi=PREVIEW_DPI)

    def savefig(
        self,
        fname: Any,
        *,
        dpi: float = 300.0,
        format: str | None = None,
        progress: Progress | None = None,
        **options: Any,
    ) -> None:
        """
        Save the sheet at its true size as PDF, SVG or PNG.

        Parameters
        ----------
        fname : path-like or binary stream
            Where to.
        dpi : float
            Dots per inch of a PNG; it takes little memory however many there are.
        format : {"pdf", "svg", "png"}, optional
            Kind of image; from the suffix of *fname* when left out.
        progress : callable, optional
            Called as ``progress("write", share)``; it may raise to stop, and then nothing is written.

        Raises
        ------
        SheetError
            If anything else is asked for: cropping or padding would break the scale.
        OutputError
            If the kind of image is unknown.
        """
        if options:
            raise SheetError(
                f"A sheet is saved whole and at its true scale; leave out {', '.join(sorted(options))}.",
                field=min(options),
            )
        say = progress or (lambda stage, share: None)
        stream = hasattr(fname, "write")
        kind = format or ("png" if stream else kind_of(fname))
        say("write", 0.0)
        content = render(self, kind, dpi=dpi)
        say("write", 0.9)
        if stream:
            fname.write(content)
        else:
            self.keep(Path(fname), content)
        say("write", 1.0)


def kind_of(path: str | os.PathLike[str]) -> str:
    """
    Kind of image that the suffix of a path stands for.

    Raises
    ------
    OutputError
        If it is none of PDF, SVG and PNG.

    Examples
    --------
    >>> kind_of("yard.PDF")
    'pdf'
    """
    kind = Path(path).suffix.lower().removeprefix(".")
    if kind not in IMAGE_KINDS:
        raise OutputError(
            f"Cannot tell the kind of image from {str(path)!r}. {nearest(kind, IMAGE_KINDS)} "
            "Let the name end in one of them.",
            value=path,
        )
    return kind


def render(figure: Figure, kind: str, *, dpi: float = 300.0) -> bytes:
    """
    Draw a figure into memory; the same figure gives the same bytes.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure, best a :class:`SheetFigure`.
    kind : {"pdf", "svg", "png"}
        Kind of image.
    dpi : float
        Dots per inch of a PNG.

    Returns
    -------
    bytes
        The whole file.

    Raises
    ------
    OutputError
        If the kind of image is unknown.
    SheetError
        If *dpi* is no number above zero.

    Warns
    -----
    LetteringWarning
        If the typeface has no sign for some letters, for which boxes are drawn.
    """
    if kind not in IMAGE_KINDS:
        raise OutputError(
            f"Unknown kind of image {kind!r}. {nearest(kind, IMAGE_KINDS)}", field="kind", value=kind
        )
    _tell_missing(figure)
    if kind == "pdf":
        with drawing_defaults():
            return pdf_bytes(
                figure, metadata=_metadata(figure, kind), language=getattr(figure, "language", "en")
            )
    if kind == "png":
        if finite(dpi, "dpi", SheetError) <= 0:
            raise SheetError(f"dpi is {dpi!r}; give dots per inch, above zero.", field="dpi", value=dpi)
        with drawing_defaults():
            return png_bytes(figure, dpi=dpi, metadata=_metadata(figure, kind))
    stream = io.BytesIO()
    with drawing_defaults():
        Figure.savefig(
            figure, stream, format=kind, metadata=_metadata(figure, kind), facecolor=figure.get_facecolor()
        )
    return _described(figure, stream.getvalue())


def _tell_missing(figure: Figure) -> None:
    """Warn once of all letters of a figure that the typeface has no sign for."""
    words = "".join(one.get_text() for one in figure.findobj(Text))
    signs = missing_signs(words)
    if signs:
        shown = ", ".join(f"{one!r} (U+{ord(one):04X})" for one in signs[:8])
        more = f" and {len(signs) - 8} others" if len(signs) > 8 else ""
        said = f"{FAMILY} has no sign for {shown}{more}: boxes are drawn. Write them in other letters."
        warnings.warn(said, LetteringWarning, stacklevel=4)


def _metadata(figure: Figure, kind: str) -> dict[str, str | None]:
    """Title and description under the names each kind of file has for them; never a date."""
    words = (getattr(figure, "title", ""), getattr(figure, "description", ""))
    title, description = (text.encode("utf-8", "replace").decode("utf-8") for text in words)
    if kind == "pdf":
        return {"Title": title, "Subject": description, "Creator": "siteaxo", "CreationDate": None}
    if kind == "svg":
        return {"Title": title, "Description": description, "Creator": "siteaxo", "Date": None}
    return {"Title": title, "Description": description, "Software": "siteaxo"}


def _described(figure: Figure, content: bytes) -> bytes:
    """Mark an SVG as one image with a description, for those who have it read to them."""
    language = escape(getattr(figure, "language", "en"), {'"': "&quot;"})
    description = escape(getattr(figure, "description", ""))
    before, root, after = content.decode("utf-8").partition("<svg ")
    head, end, body = after.partition("</title>")
    marked = f'{before}{root}role="img" xml:lang="{language}" {head}{end}'
    return f"{marked}\n <desc>{description}</desc>{body}".encode()
