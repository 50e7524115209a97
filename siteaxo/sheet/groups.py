"""
Artists that belong together: a named group in an SVG, a layer in a PDF.
"""

from __future__ import annotations

from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes


class Group(Artist):
    """
    Artists drawn one after another inside a group of their own.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where they are drawn; they take its data coordinates.
    gid : str
        Name of the group.
    zorder : float
        Place of the group among the axes' artists.
    """

    def __init__(self, axes: Axes, gid: str, zorder: float) -> None:
        super().__init__()
        self.members: list[Artist] = []
        self.on = axes
        self.set_gid(gid)
        self.set_zorder(zorder)
        axes.add_artist(self)
        self.set_clip_on(False)

    def add(self, artist: Artist) -> None:
        """Put one more artist on top of the group."""
        artist.set_figure(self.on.figure)
        artist.axes = self.on
        if not artist.is_transform_set():
            artist.set_transform(self.on.transData)
        self.members.append(artist)

    def get_children(self) -> list[Artist]:
        """Return the artists of the group, undermost first."""
        return list(self.members)

    def draw(self, renderer: Any) -> None:
        """Draw all of them."""
        if not self.get_visible():
            return
        renderer.open_group("group", gid=self.get_gid())
        for artist in self.members:
            artist.draw(renderer)
        renderer.close_group("group")
        self.stale = False

    def get_window_extent(self, renderer: Any = None) -> Any:
        """Box around all of them."""
        from matplotlib.transforms import Bbox

        boxes = [artist.get_window_extent(renderer) for artist in self.members]
        return Bbox.union(boxes) if boxes else Bbox.null()
