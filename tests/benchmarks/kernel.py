"""
The exact hidden-line algorithm of a general-purpose geometry kernel, on siteaxo's faces.

A planometric view is an orthographic one from straight above of solids sheared by
(x, y, z) → (page right, page up, z). So every solid is built in the kernel as a
polyhedron of its sheared corners, on the same rounded page coordinates that the library
uses, and looked at along −z.

Needs the package ``cadquery-ocp-novtk`` or ``cadquery-ocp``; it is imported when used.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from siteaxo.solids.faces import Faces
from siteaxo.view.page import rounded_page
from siteaxo.view.projection import View


@dataclass(frozen=True, kw_only=True)
class KernelLines:
    """
    What the kernel found.

    Parameters
    ----------
    visible, hidden : ndarray, shape (n, 2, 2)
        Straight lines on the page, sharp edges and outlines together [m].
    seconds : float
        Processor time of the algorithm and of reading its result, building not counted.
    """

    visible: np.ndarray
    hidden: np.ndarray
    seconds: float


def kernel_solids(faces: Faces, view: View, origin: np.ndarray) -> list[Any]:
    """Solids of the kernel, their corners at page right, page up and depth."""
    page = rounded_page(faces.xyz, view, origin)
    order = np.argsort(faces.solid, kind="stable")
    runs = np.split(order, np.flatnonzero(np.diff(faces.solid[order])) + 1)
    return [_polyhedron(faces, page, rows) for rows in runs]


def _polyhedron(faces: Faces, page: np.ndarray, rows: np.ndarray) -> Any:
    """One closed solid, neighbouring faces sharing their edges."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    vertices: dict[tuple[float, ...], Any] = {}
    edges: dict[tuple[tuple[float, ...], tuple[float, ...]], Any] = {}
    builder.MakeShell(shell)
    for face in rows:
        starts = faces.ring_start[faces.face_start[face] : faces.face_start[face + 1] + 1]
        rings = [page[begin:end] for begin, end in itertools.pairwise(starts)]
        builder.Add(shell, _planar_face(builder, rings, vertices, edges))
    shell.Closed(True)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def _planar_face(builder: Any, rings: Sequence[np.ndarray], vertices: dict, edges: dict) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt

    middle = rings[0].mean(axis=0)
    local = [ring - middle for ring in rings]
    normal = sum(np.cross(ring, np.roll(ring, -1, axis=0)).sum(axis=0) for ring in local)
    wires = [_wire(builder, [tuple(point) for point in ring.tolist()], vertices, edges) for ring in rings]
    plane = gp_Pln(gp_Pnt(*middle.tolist()), gp_Dir(*normal.tolist()))
    maker = BRepBuilderAPI_MakeFace(plane, wires[0], False)
    for hole in wires[1:]:
        maker.Add(hole)
    return maker.Face()


def _wire(builder: Any, points: list[tuple[float, ...]], vertices: dict, edges: dict) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeVertex
    from OCP.gp import gp_Pnt
    from OCP.TopoDS import TopoDS_Wire

    wire = TopoDS_Wire()
    builder.MakeWire(wire)
    for point in points:
        if point not in vertices:
            vertices[point] = BRepBuilderAPI_MakeVertex(gp_Pnt(*point)).Vertex()
    for here, there in zip(points, points[1:] + points[:1], strict=True):
        if (there, here) in edges:
            builder.Add(wire, edges[there, here].Reversed())
        else:
            edges[here, there] = BRepBuilderAPI_MakeEdge(vertices[here], vertices[there]).Edge()
            builder.Add(wire, edges[here, there])
    wire.Closed(True)
    return wire


def kernel_lines(solids: Sequence[Any], *, apart: bool = False) -> KernelLines:
    """
    Run the kernel's exact hidden-line algorithm from straight above.

    Parameters
    ----------
    solids : sequence of solid
        From :func:`kernel_solids`.
    apart : bool
        Give each solid to the algorithm by itself; else all as one compound, which is
        much quicker.

    Returns
    -------
    KernelLines
    """
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape

    begun = time.process_time()
    algorithm = HLRBRep_Algo()
    for shape in solids if apart else [_compound(solids)]:
        algorithm.Add(shape)
    above = gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0))
    algorithm.Projector(HLRAlgo_Projector(above))
    algorithm.Update()
    algorithm.Hide()
    result = HLRBRep_HLRToShape(algorithm)
    visible = [result.VCompound(), result.OutLineVCompound(), result.Rg1LineVCompound()]
    hidden = [result.HCompound(), result.OutLineHCompound(), result.Rg1LineHCompound()]
    seconds = time.process_time() - begun
    return KernelLines(visible=_lines(visible), hidden=_lines(hidden), seconds=seconds)


def _compound(solids: Sequence[Any]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, compound = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(compound)
    for solid in solids:
        builder.Add(compound, solid)
    return compound


def _lines(shapes: Sequence[Any]) -> np.ndarray:
    """End points of all edges of the shapes, all of them straight."""
    found = [line for shape in shapes for line in _ends(shape)]
    return np.array(found, dtype=float).reshape(-1, 2, 2)


def _ends(shape: Any) -> Iterator[list[list[float]]]:
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepLib import BRepLib
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    if shape is None or shape.IsNull():
        return
    BRepLib.BuildCurves3d_s(shape)
    edges = TopExp_Explorer(shape, TopAbs_EDGE)
    as_edge = getattr(TopoDS, "Edge_s", None) or TopoDS.Edge
    while edges.More():
        curve = BRepAdaptor_Curve(as_edge(edges.Current()))
        points = [curve.Value(curve.FirstParameter()), curve.Value(curve.LastParameter())]
        yield [[point.X(), point.Y()] for point in points]
        edges.Next()
