"""
Whether a file that another file names lies in that file's folder.
"""

from __future__ import annotations

from pathlib import Path


def leads_outside(path: Path, folder: Path) -> bool:
    """
    Whether a path leads out of a folder, itself or by a link.

    Parameters
    ----------
    path : Path
        As written; relative to the folder.
    folder : Path
        Where it has to stay.

    Returns
    -------
    bool
        True for an absolute path, for one with "..", and where the file or one of the same
        stem beside it, which is read along with it, is a link that leads out.

    Examples
    --------
    >>> leads_outside(Path("../roofs.shp"), Path("yard")), leads_outside(Path("roofs.shp"), Path("yard"))
    (True, False)
    """
    if path.is_absolute() or ".." in path.parts:
        return True
    own, named = folder.resolve(), folder / path
    try:
        beside = [p for p in named.parent.iterdir() if p.stem == named.stem and p.is_symlink()]
    except OSError:
        beside = []
    try:
        return not all(p.resolve().is_relative_to(own) for p in (named, *beside))
    except (OSError, RuntimeError):
        return True
