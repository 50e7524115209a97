"""
What a set of views shows of a site, as tables and as pictures side by side.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from ..craft.style import Style
from ..export.atomic import write_bytes
from ..export.tables import write_csv
from ..measure.viewing import StudyTables
from .shown import study_text

if TYPE_CHECKING:
    from ..sheet.canvas import SheetFigure
    from ..sheet.studies import Picture


@dataclass(frozen=True, kw_only=True, eq=False)
class ViewStudy(StudyTables):
    """
    What a set of views shows of a site. See :class:`siteaxo.measure.viewing.StudyTables`.

    Parameters
    ----------
    matrices : tuple of ndarray, shape (3, 3)
        Matrix of each view, squared up.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> study = siteaxo.Site(name="Yard", layers=[layer]).stack().study(turns=(30, 60), pictures=False)
    >>> len(study.table)
    2
    >>> import pathlib, tempfile
    >>> file = pathlib.Path(tempfile.mkdtemp(), "views.csv")
    >>> study.to_csv(file)
    >>> file.is_file()
    True
    >>> seen = siteaxo.Site(name="Yard", layers=[layer]).stack().study(turns=(30, 60))
    >>> seen.sheet(sheet="A4").get_size_inches().round(2).tolist()
    [11.69, 8.27]
    """

    matrices: tuple[np.ndarray, ...] = ()

    def __repr__(self) -> str:
        return study_text(self)

    def _repr_png_(self) -> bytes | None:
        """Picture for notebooks: the views side by side on a sheet; none where no pictures were kept."""
        from ..export.images import picture

        return picture(self.sheet()) if self._pictured() else None

    def _repr_html_(self) -> str:
        """Preview for notebooks: the views side by side, or their table where no pictures were kept."""
        if self._pictured():
            from ..export.images import picture_html

            return picture_html(self.sheet())
        return f"<div><pre>{escape(study_text(self))}</pre>{self.table.to_html(index=False)}</div>"

    def _pictured(self) -> bool:
        """Whether pictures of views were kept."""
        return any(len(look.polygon) for look in self.looks)

    def sheet(
        self,
        *,
        sheet: str = "A3",
        orientation: str = "landscape",
        title: str = "View study",
        most: int = 12,
        columns: int | None = None,
        style: Style | None = None,
    ) -> SheetFigure:
        """
        Show the views side by side, the best first.

        Parameters
        ----------
        sheet, orientation, title : str
            Size, "landscape" or "portrait", and heading.
        most : int
            How many views are shown.
        columns : int, optional
            How many lie side by side; what lets them be largest when left out.
        style : Style, optional
            Ink, paper and pale tones; the muted style when left out.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        SheetError
            If pictures were not kept, or do not fit.
        """
        from ..sheet.studies import study_sheet

        return study_sheet(
            [self._picture(row) for row in self.table.head(most).itertuples(index=False)],
            stack=self.stack,
            targets=self.target_rows,
            site=self.name,
            reason=self.best.reason,
            sheet=sheet,
            orientation=orientation,
            title=title,
            columns=columns,
            style=style,
            keep=write_bytes,
        )

    def to_csv(self, path: str | os.PathLike[str]) -> None:
        """
        Write the table of views.

        Parameters
        ----------
        path : path
            The file; it is replaced whole or not at all.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        write_csv(self.table, path)

    def _picture(self, row: Any) -> Picture:
        from ..sheet.studies import Picture

        look = self.looks[row.candidate]
        counted = self.table.set_index("candidate").loc[row.candidate]
        shares = {name: float(counted[f"target: {name}"]) for name in self.target_rows}
        return Picture(
            name=row.view[0].upper() + row.view[1:],
            matrix=self.matrices[row.candidate],
            face=look.face,
            polygon=look.polygon,
            shares=shares or {"all surface": float(counted["all"])},
            note="set aside" if row.set_aside else f"score {row.score:.2f}",
            aside=bool(row.set_aside),
        )
