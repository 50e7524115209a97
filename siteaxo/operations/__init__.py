"""
The steps of the work as plain functions, each of them an operation.

Features go in and come out as GeoDataFrames wherever that makes sense, so that the steps can
be piped; nothing that is handed in is changed.

    from siteaxo import operations as op

    blocks = op.read("blocks.gpkg").pipe(op.local_plane).pipe(op.levels, role="structure", height="h")
    drawing = op.draw(op.stack(op.site([op.layer(blocks, name="blocks", role="structure")])), turn=60)
    op.export(drawing, "diagram.gpkg")
"""

from __future__ import annotations

from .drawing import draw, drawn_layer, shadows
from .handing import export, export_rows, figure
from .reading import levels, local_plane, read, read_site_file
from .sheets import board, side_by_side
from .siting import check, layer, site, stack
from .telling import cautions, compare, exploded_view, quantities, sequence, study

OPERATIONS = (
    read,
    read_site_file,
    local_plane,
    levels,
    layer,
    site,
    check,
    stack,
    draw,
    drawn_layer,
    shadows,
    exploded_view,
    sequence,
    study,
    quantities,
    cautions,
    compare,
    figure,
    side_by_side,
    board,
    export,
    export_rows,
)
"""The operations of siteaxo, in the order of the work."""

__all__ = ["OPERATIONS", *(function.__name__ for function in OPERATIONS)]
