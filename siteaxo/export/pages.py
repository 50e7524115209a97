"""
Figures as the pages of one PDF.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from matplotlib.figure import Figure

from ..errors import OutputError
from ..sheet.canvas import drawing_defaults
from ..sheet.pdf import pdf_bytes
from .atomic import write_bytes


def write_pages(figures: Sequence[Figure], path: str | os.PathLike[str], *, title: str | None = None) -> None:
    """
    Write sheets as the pages of one PDF, each at its own size and true scale.

    Layers that can be switched off are those of all pages together; the same figures give the
    same bytes.

    Parameters
    ----------
    figures : sequence of matplotlib.figure.Figure
        Best sheets, such as those of :meth:`siteaxo.Diagram.figure`.
    path : path-like
        Where to; ends in .pdf.
    title : str, optional
        Title of the file; that of the first sheet when left out.

    Raises
    ------
    OutputError
        If there is no figure, the name does not end in .pdf, or it cannot be written; what stood
        there before is untouched.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> drawing = siteaxo.Site(name="Yard", layers=[layer]).stack().draw(siteaxo.planometric(turn=30))
    >>> import tempfile
    >>> file = f"{tempfile.mkdtemp()}/pages.pdf"
    >>> siteaxo.write_pages([drawing.figure(sheet="A4"), drawing.figure(sheet="A3")], file)
    """
    pages = list(figures)
    if not pages:
        raise OutputError(
            f"Cannot write {str(path)!r}: there is no figure. Give at least one.", field="figures", value=path
        )
    if Path(path).suffix.lower() != ".pdf":
        raise OutputError(
            f"Cannot write {str(path)!r}: pages go into one PDF, whose name ends in .pdf.", value=path
        )
    words = " ".join(text for text in (getattr(page, "description", "") for page in pages) if text)
    metadata = {
        "Title": title or getattr(pages[0], "title", ""),
        "Subject": words,
        "Creator": "siteaxo",
        "CreationDate": None,
    }
    with drawing_defaults():
        content = pdf_bytes(pages, metadata=metadata, language=getattr(pages[0], "language", "en"))
    write_bytes(path, content)
