"""
A process that draws tiles: started as ``python -m siteaxo.view.worker`` by :mod:`.workers`.

It reads one tile after another from its input and writes what it has drawn to its output, as arrays
of numbers. A tile that it cannot draw without an error or a warning is answered with nothing; the
one who asked then draws it itself and meets the same error or warning there. It opens no file,
ends when its input ends, and takes no notice of an interrupt at the terminal, which is for the one
who asked.
"""

from __future__ import annotations

import os
import platform
import signal
import sys
import warnings
from typing import IO, Final

import numpy as np
import shapely

from .. import __version__
from ..keeping import Arrays
from ..solids.edges import Edges
from ..solids.faces import Faces
from ..solids.scene import Scene
from .drawn import drawn
from .kept import columns, flat, table
from .messages import receive, send
from .projection import View
from .tiles import Piece
from .tolerance import Tolerance

GREETING: Final = " ".join(
    ["siteaxo", __version__, platform.python_version(), np.__version__, shapely.geos_version_string]
).encode()
"""What a worker says first: one of other versions would not draw the same to the last bit."""

QUIET: Final = (DeprecationWarning, PendingDeprecationWarning, ImportWarning, ResourceWarning)
"""Warnings for those who write programs: they concern no tile more than another."""


def question(piece: Piece, view: View, origin: np.ndarray, limits: Tolerance) -> Arrays:
    """
    Write what a worker needs to draw a tile as arrays.

    Parameters
    ----------
    piece : Piece
        Faces and edges of the tile.
    view, origin, limits
        As for :func:`.drawn.drawn`.
    """
    scene = piece.scene
    return {
        **columns(scene.faces, "faces"),
        **columns(scene.edges, "edges"),
        "rank": scene.rank,
        "group": scene.group,
        "core": piece.core,
        "matrix": view.matrix,
        "origin": np.asarray(origin, dtype=float),
        "length": np.array(limits.length),
    }


def answer(asked: Arrays) -> Arrays:
    """
    Draw the tile of a question.

    Parameters
    ----------
    asked : dict of str to ndarray
        What :func:`question` wrote.

    Returns
    -------
    dict of str to ndarray
        What :func:`.kept.raised` reads.
    """
    scene = Scene(
        faces=table(Faces, asked, "faces"),
        edges=table(Edges, asked, "edges"),
        rank=asked["rank"],
        group=asked["group"],
    )
    view, limits = View(kind="asked", matrix=asked["matrix"]), Tolerance(length=float(asked["length"]))
    part = drawn(scene, view, asked["origin"], limits, core=asked["core"], say=lambda stage, share: None)
    return flat(part.of_tile())


def serve(source: IO[bytes], target: IO[bytes]) -> None:
    """Answer questions until there are no more."""
    target.write(GREETING + b"\n")
    target.flush()
    while (asked := receive(source)) is not None:
        try:
            drawing = answer(asked)
        except Exception:
            drawing = {}
        send(target, drawing)


def main() -> None:
    """Serve the one who has started this process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    warnings.simplefilter("error")
    for kind in QUIET:
        warnings.simplefilter("ignore", kind)
    with os.fdopen(os.dup(sys.stdout.fileno()), "wb") as target:
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever else is printed is no answer
        try:
            serve(sys.stdin.buffer, target)
        except (OSError, ValueError):
            os._exit(1)  # the one who asked is gone, with half a message


if __name__ == "__main__":
    main()
