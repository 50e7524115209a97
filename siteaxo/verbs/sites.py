"""
Sites: read from a file or made of layers, and stacked.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace

from ..collecting import uncollected
from ..craft.asked import check_asked
from ..limits import USUAL, Limits
from ..solids.plausible import look_around
from ..solids.sound import look_over
from ..solids.stack import stack_features
from ..source.gather import gather
from ..source.site import SiteData
from ..source.sitefile import read_site_data
from .models import Model
from .shown import site_html, site_text

Progress = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class Site(SiteData):
    """
    A site: its layers and settings. See :class:`siteaxo.source.site.SiteData`.

    Examples
    --------
    >>> import geopandas, shapely, siteaxo
    >>> yard = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 8, 6)], crs="EPSG:25832")
    >>> layer = siteaxo.Layer(name="yard", role="terrace", source=yard, base=0, top=1.5)
    >>> siteaxo.Site(name="Yard", layers=[layer])
    <Site 'Yard'>
      1 layer: yard (terrace)
      planometric on A3
    >>> site = siteaxo.Site(name="Yard", layers=[layer], drawn_in_place=1.5)
    >>> site.layer("yard").top, site.drawn_in_place_m, site.contour_interval_m, site.inputs
    (1.5, 1.5, None, ())
    >>> len(site.stack().findings)
    0
    >>> site.sheet_unit, site.speaking("ft").stack().draw().figure(sheet="A4", scale="fit").description[:39]
    ('m', 'Yard, drawn 1 in = 10 ft (1:120) at A4.')
    """

    def __post_init__(self) -> None:
        super().__post_init__()
        check_asked(style=self.style, people=self.people, shadows=self.shadows, planting=self.planting)

    def __repr__(self) -> str:
        return site_text(self)

    def _repr_html_(self) -> str:
        """Preview for notebooks: its layers."""
        return site_html(self)

    @uncollected()
    def stack(self, *, progress: Progress | None = None) -> Model:
        """
        Read the layers, settle their levels and build their solids.

        Parameters
        ----------
        progress : callable, optional
            Called as ``progress(stage, share)``; it may raise to stop the work.

        Returns
        -------
        Model

        Raises
        ------
        SiteaxoError
            If a layer cannot be read or its levels cannot be settled; the message says
            where and what to do.
        """
        say = progress or (lambda stage, share: None)
        say("layers", 0.0)
        gathered = gather(self)
        say("solids", 0.4)
        stack = stack_features(gathered.features, contour_interval=self.contour_interval_m)
        say("checks", 0.8)
        noted = (
            *look_over(stack.features, stack.scene.faces, stack.solid_feature),
            *look_around(stack),
        )
        return Model(site=self, gathered=gathered, stack=replace(stack, findings=(*stack.findings, *noted)))


def read_site(path: str | os.PathLike[str], *, allow_outside: bool = False, limits: Limits = USUAL) -> Site:
    """
    Read a site file.

    Parameters
    ----------
    path : path
        A TOML file; paths in it are relative to it.
    allow_outside : bool
        Take sources outside its folder: absolute paths, paths with "..", links that lead out.
    limits : Limits
        Bounds of what is read.

    Returns
    -------
    Site

    Raises
    ------
    SiteFileError
        If it is missing, is not TOML, or says something unknown.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> file = pathlib.Path(tempfile.mkdtemp(), "site.toml")
    >>> _ = file.write_text('[[layer]]\\nname = "g"\\nrole = "ground"\\nsource = "g.gpkg"\\ntop = 2')
    >>> read_site(file).layer("g").top
    2
    """
    return read_site_data(path, Site, allow_outside=allow_outside, limits=limits)
