"""
What sites, models and drawings hold, in a few lines for a person, and previews for notebooks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from html import escape
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from ..saying import counted

MOST_SHAPES: Final = 3000  # of a preview
OFTEN: Final = 5  # what is noticed so many times is named
_SIDE: Final = 360  # of a preview [px]


def site_text(site: Any) -> str:
    """
    Tell what a site consists of.

    Examples
    --------
    >>> import siteaxo
    >>> siteaxo.Site(name="Yard", layers=[siteaxo.Layer(name="g", role="ground", source="g.gpkg", top=2)])
    <Site 'Yard'>
      1 layer: g (ground)
      planometric on A3
    """
    layers = ", ".join(f"{layer.name} ({layer.role})" for layer in site.layers)
    return _lines(
        f"<Site {site.name!r}>",
        f"{counted(len(site.layers), 'layer')}: {layers}",
        f"{site.view.kind} on {site.sheet.size}",
    )


def model_text(model: Any) -> str:
    """Tell how many features of which roles a model has, between which levels, and what was noticed."""
    features = model.stack.features
    roles = Counter(features.layers[layer].role.name for layer in features.layer.tolist())
    faces = model.stack.scene.faces
    return _lines(
        f"<Model {model.site.name!r}>",
        f"{counted(len(features), 'feature')} in {counted(len(features.layers), 'layer')}: {_told(roles)}",
        _levels(features.base, features.top),
        f"{counted(len(model.stack.scene.rank), 'solid')} with {counted(len(faces), 'face')}, "
        f"on {model.gathered.plane.crs.name}",
        _findings(model.findings),
    )


def diagram_text(diagram: Any) -> str:
    """Tell the view, the scale, the tables and the levels of a drawing."""
    view = diagram.view
    tables = {name: len(getattr(diagram, name)) for name in ("faces", "edges", "hidden_edges", "plan")}
    tables |= {name: len(rows) for name, rows in diagram.extra.items()}
    left, bottom, right, top = diagram.bounds
    scale = f"1:{diagram.scale:g}, " if diagram.scale else ""
    return _lines(
        f"<Diagram {diagram.name!r}>",
        f"{view.kind}, turned {view.turn:g}°, heights × {view.height_factor:g}, {scale}"
        f"style {diagram.style.name!r}",
        f"rows of its tables: {_told(tables, each='{name} {count}')}",
        f"{right - left:.1f} × {top - bottom:.1f} m on the page",
        _levels(diagram.faces["level_min"], diagram.faces["level_max"]),
        _findings(diagram.findings),
    )


def study_text(study: Any) -> str:
    """Tell how many views were looked at, and which is best and why."""
    return _lines(f"<ViewStudy {study.name!r}>", counted(len(study.table), "view"), study.best.reason)


def comparison_text(comparison: Any) -> str:
    """Tell the states, and how many features differ."""
    changes = Counter(comparison.differences["change"])
    return _lines(f"<Comparison of {', '.join(comparison.names)}>", _told(changes))


def model_html(model: Any) -> str:
    """Preview of a model for notebooks: its plan, and what it holds."""
    features = model.stack.features
    shapes = features.geometry[shapely.get_dimensions(features.geometry) > 0][:MOST_SHAPES]
    return f"<div>{plan_svg(shapes)}<pre>{escape(model_text(model))}</pre></div>"


def site_html(site: Any) -> str:
    """Preview of a site for notebooks: its layers."""
    rows = [{"layer": one.name, "role": one.role, "what": repr(one)[1:-1]} for one in site.layers]
    return f"<div><p><b>{escape(site.name)}</b></p>{pd.DataFrame(rows).to_html(index=False)}</div>"


def plan_svg(shapes: np.ndarray) -> str:
    """
    Draw outlines as an SVG picture.

    Parameters
    ----------
    shapes : ndarray of Geometry
        Lines and areas [m].

    Examples
    --------
    >>> plan_svg(np.array([shapely.box(0, 0, 2, 1)]))[:28]
    '<svg width="360" height="180'
    """
    if not len(shapes):
        return ""
    left, bottom, right, top = shapely.total_bounds(shapes)
    factor = _SIDE / max(right - left, top - bottom, 1e-9)
    wide, high = (right - left) * factor, (top - bottom) * factor
    paths = []
    for one in shapely.get_parts(shapes):
        rings = shapely.get_rings(one) if shapely.get_type_id(one) == shapely.GeometryType.POLYGON else [one]
        xy = [(shapely.get_coordinates(ring) - [left, top]) * [factor, -factor] for ring in rings]
        closed = "Z" if len(rings) and shapely.get_type_id(one) == shapely.GeometryType.POLYGON else ""
        paths.append(" ".join("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in part) + closed for part in xy))
    style = 'fill="#6b6255" fill-opacity="0.08" fill-rule="evenodd" stroke="#191512" stroke-width="0.6"'
    drawn = "".join(f'<path d="{path}"/>' for path in paths)
    size = f'width="{wide:.0f}" height="{high:.0f}"'
    return f'<svg {size} role="img" aria-label="Plan"><g {style}>{drawn}</g></svg>'


def _lines(head: str, *rest: str) -> str:
    return "\n".join([head, *(f"  {line}" for line in rest if line)])


def _told(counts: Any, *, each: str = "{count} {name}") -> str:
    return ", ".join(each.format(name=name, count=count) for name, count in counts.items())


def _levels(low: Iterable[float], high: Iterable[float]) -> str:
    both = np.concatenate([np.asarray(low, dtype=float), np.asarray(high, dtype=float)])
    both = both[np.isfinite(both)]
    return f"levels {both.min():.2f} to {both.max():.2f} m" if len(both) else ""


def _findings(findings: Any) -> str:
    if not len(findings):
        return "no findings"
    counts = findings["severity"].value_counts()
    shown = [counted(int(counts[one]), one if one != "info" else "note") for one in counts.index]
    codes = findings["code"].value_counts()
    often = codes[codes >= OFTEN].head(3)
    mostly = f", most often {_told(often, each='{name} ({count})')}" if len(often) else ""
    return f"findings: {', '.join(shown)}{mostly}"
