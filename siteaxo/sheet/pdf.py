"""
PDF files whose layers can be switched off.

Groups that belong to a layer are wrapped in marked content, the layers are listed in the
catalogue as optional content groups, and every page is tagged as one figure with an
alternative text in a stated language.

References
----------
ISO 32000-1:2008, 8.11 (optional content), 14.6 (marked content), 14.7 and 14.8.4.4 (structure, figures),
14.9.2 (language) and 14.9.3 (alternative descriptions).
"""

from __future__ import annotations

import contextlib
import io
import threading
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from fontTools import subset
from matplotlib.backends.backend_pdf import Name, PdfFile, Reference, RendererPdf
from matplotlib.figure import Figure

from ..units import POINTS_PER_INCH

LayerName = tuple[str, str]
"""Heading under which a layer is listed, "" for none, and its name."""
_VERSION: Final = "1.7"
_SHAPING: Final = ("GDEF", "GPOS", "GSUB", "kern")
"""Tables of a font by which words are shaped; in a PDF it is said where each sign stands."""
_LOCK: Final = threading.Lock()


class LayeredFile(PdfFile):
    """
    A PDF file with optional content, a language and one tagged figure to a page.

    Parameters
    ----------
    stream : binary stream
        Where it is written.
    metadata : mapping
        For the information dictionary.
    language : str
        As in BCP 47.
    """

    def __init__(self, stream: io.BytesIO, *, metadata: Mapping[str, str | None], language: str) -> None:
        self.language = language
        self.layers: dict[LayerName, Reference] = {}
        self.further: dict[str, Reference] = {}
        self.pages: list[tuple[Reference, tuple[float, float]]] = []
        self.descriptions: list[str] = []
        super().__init__(stream, metadata=dict(metadata))

    def later(self, name: str) -> Reference:
        """Return the reference of an object that is written at the end."""
        if name not in self.further:
            self.further[name] = self.reserveObject(name)
        return self.further[name]

    def writeObject(self, object: Reference, contents: Any) -> None:  # noqa: N802
        """Write an object, the catalogue, the page and the resources with what layers need."""
        if isinstance(contents, dict):
            if contents.get("Type") == Name("Catalog"):
                contents = {**contents, **self._catalogue()}
            elif contents.get("Type") == Name("Page"):
                contents = {**contents, "StructParents": len(self.pages), "Tabs": Name("S")}
                self.pages.append((object, (self.width, self.height)))
            elif "ProcSet" in contents:
                contents = {**contents, "Properties": self.later("properties")}
        super().writeObject(object, contents)

    def layer(self, name: LayerName) -> bytes:
        """Return the resource name of a layer, made when first asked for."""
        if name not in self.layers:
            self.layers[name] = self.reserveObject(f"layer {name[1]}")
        return b"/L%d" % list(self.layers).index(name)

    def finalize(self) -> None:
        """Write the layers and the structure, then all the rest."""
        self.endStream()
        for (_, label), reference in self.layers.items():
            self.writeObject(reference, {"Type": Name("OCG"), "Name": label})
        groups = list(self.layers.values())
        named = {f"L{number}": reference for number, reference in enumerate(groups)}
        self.writeObject(self.later("properties"), named)
        every = {"Name": "Layers", "Order": self._order(), "ON": groups, "BaseState": Name("ON")}
        self.writeObject(self.later("optional content"), {"OCGs": groups, "D": every})
        self._write_structure()
        super().finalize()

    def writeFonts(self) -> None:  # noqa: N802
        """Embed the signs that are used, and nothing that is for shaping words."""
        with _without_shaping():
            super().writeFonts()

    def _order(self) -> list[Any]:
        """Layers as they are listed: those without a heading, then each heading with its own."""
        top: list[Any] = [reference for (heading, _), reference in self.layers.items() if not heading]
        headings = dict.fromkeys(heading for heading, _ in self.layers if heading)
        return top + [
            [heading, *(ref for (under, _), ref in self.layers.items() if under == heading)]
            for heading in headings
        ]

    def _catalogue(self) -> dict[str, Any]:
        return {
            "Version": Name(_VERSION),
            "Lang": self.language,
            "OCProperties": self.later("optional content"),
            "StructTreeRoot": self.later("structure"),
            "MarkInfo": {"Marked": True},
            "ViewerPreferences": {"DisplayDocTitle": True},
        }

    def _write_structure(self) -> None:
        root, parents = self.later("structure"), self.later("parents")
        figures = [self.later(f"figure {number}") for number in range(len(self.pages))]
        count = len(figures)
        tree = {"K": figures, "ParentTree": parents, "ParentTreeNextKey": count}
        self.writeObject(root, {"Type": Name("StructTreeRoot"), **tree})
        for figure, (page, (width, height)), words in zip(
            figures, self.pages, self.descriptions, strict=True
        ):
            box = [0, 0, POINTS_PER_INCH * width, POINTS_PER_INCH * height]
            self.writeObject(
                figure,
                {
                    "Type": Name("StructElem"),
                    "S": Name("Figure"),
                    "P": root,
                    "Pg": page,
                    "K": 0,
                    "Alt": words,
                    "A": {"O": Name("Layout"), "BBox": box},
                },
            )
        entries = [entry for number, figure in enumerate(figures) for entry in (number, [figure])]
        self.writeObject(parents, {"Nums": entries})


class LayeredRenderer(RendererPdf):
    """
    Draws groups into the layers they belong to.

    Parameters
    ----------
    file : LayeredFile
        The file.
    layers : mapping of str to (str, str)
        Heading and name of the layer of each named group.
    width, height : float
        Size of the page [inches].
    """

    def __init__(
        self, file: LayeredFile, layers: Mapping[str, LayerName], width: float, height: float
    ) -> None:
        super().__init__(file, POINTS_PER_INCH, height, width)
        self.layer_of = layers
        self.open: list[bool] = []

    def open_group(self, s: str, gid: str | None = None) -> None:
        """Begin a group."""
        name = self.layer_of.get(gid) if gid else None
        self.open.append(name is not None)
        if name is not None:
            self.file.write(b"/OC %b BDC\n" % self.file.layer(name))

    def close_group(self, s: str) -> None:
        """End a group."""
        if self.open.pop():
            self.file.write(b"EMC\n")


@contextlib.contextmanager
def _without_shaping() -> Iterator[None]:
    """Leave tables that no PDF needs out of fonts; most of the time of embedding goes into them."""
    with _LOCK:
        usual = getattr(subset.Options, "_drop_tables_default", [])
        subset.Options._drop_tables_default = [*usual, *_SHAPING]
        try:
            yield
        finally:
            subset.Options._drop_tables_default = usual


def pdf_bytes(
    figures: Figure | Sequence[Figure], *, metadata: Mapping[str, str | None], language: str
) -> bytes:
    """
    Draw figures as the pages of a PDF.

    Parameters
    ----------
    figures : matplotlib.figure.Figure, or a sequence of them
        One to a page. Their attributes ``layers`` (heading and name of the layer that can be
        switched off, of each named group) and ``description`` (alternative text) are used where
        they have them.
    metadata : mapping
        For the information dictionary; None leaves an entry out.
    language : str
        As in BCP 47.

    Returns
    -------
    bytes
    """
    stream = io.BytesIO()
    file = LayeredFile(stream, metadata=metadata, language=language)
    try:
        for figure in [figures] if isinstance(figures, Figure) else figures:
            _add_page(file, figure)
        file.finalize()
    finally:
        file.close()
    return stream.getvalue()


def _add_page(file: LayeredFile, figure: Figure) -> None:
    """Draw one figure on a page of its own."""
    dpi, (width, height) = figure.dpi, figure.get_size_inches()
    try:
        figure.dpi = POINTS_PER_INCH
        file.newPage(width, height)
        file.descriptions.append(getattr(figure, "description", ""))
        file.write(b"/Figure <</MCID 0>> BDC\n")
        renderer = LayeredRenderer(file, getattr(figure, "layers", {}), width, height)
        figure.draw(renderer)
        renderer.finalize()
        file.write(b"EMC\n")
    finally:
        figure.dpi = dpi
