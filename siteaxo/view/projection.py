"""
Parallel views of the trade: planometric, axonometric and oblique, by name and options.

References
----------
ISO 5456-3:1996, axonometric representations (isometric, dimetric, cavalier, cabinet,
planometric). Eastwood & Penrose, *Drawing with complex numbers*, arXiv math/0001097,
for the theorem of Gauss that tells orthogonal views from oblique ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from inspect import signature
from typing import Final

import numpy as np

from ..angles import cos_deg, sin_deg
from ..checks import finite, nearest, one_of
from ..errors import ViewError
from .parallel import View

ISOMETRIC_SIN: Final = math.sqrt(1 / 3)
ISOMETRIC_COS: Final = math.sqrt(2 / 3)


def planometric(turn: float = 60.0, height_factor: float = 1.0) -> View:
    """
    Plan oblique: the plan keeps its true shape, heights rise straight up the page.

    Parameters
    ----------
    turn : float
        Turn of the plan [degrees anticlockwise]; 30, 45 and 60 are usual, 0, 90 and
        180 make walls edge-on.
    height_factor : float
        Page metres per metre of height; 1 or 2/3 by ISO 5456-3, 0 gives the plan [-].

    Returns
    -------
    View

    References
    ----------
    ISO 5456-3:1996 §5.3, planometric representation (from memory).

    Examples
    --------
    >>> planometric(turn=90).matrix.tolist()
    [[0.0, -1.0, 0.0], [1.0, 0.0, 1.0], [0.0, 0.0, 1.0]]
    """
    angle = finite(turn, "turn", ViewError)
    factor = finite(height_factor, "height_factor", ViewError, least=0.0)
    sine, cosine = sin_deg(angle), cos_deg(angle)
    rows = [[cosine, -sine, 0.0], [sine, cosine, factor], [0.0, 0.0, 1.0]]
    return View(kind="planometric", matrix=np.array(rows) + 0.0, turn=angle, height_factor=factor)


def trimetric(turn: float = 30.0, tilt: float = 30.0) -> View:
    """
    Orthographic view from a height: the plan is turned, then looked down upon.

    Parameters
    ----------
    turn : float
        Turn of the plan [degrees anticlockwise].
    tilt : float
        Angle of the line of sight below the horizontal, above 0 and up to 90 [degrees].

    Returns
    -------
    View
        Foreshortenings: x² = cos²turn + sin²turn·sin²tilt, y² = sin²turn +
        cos²turn·sin²tilt, z = cos tilt; their squares sum to 2.

    Examples
    --------
    >>> round(trimetric(30, 30).height_factor, 6)
    0.866025
    """
    angle = finite(turn, "turn", ViewError)
    look = finite(tilt, "tilt", ViewError)
    if not 0 < look <= 90:
        raise ViewError(
            f"tilt must be above 0 and at most 90 degrees, not {tilt!r}.", field="tilt", value=tilt
        )
    return _orthographic("trimetric", angle, sin_deg(angle), cos_deg(angle), sin_deg(look), cos_deg(look))


def isometric(turn: float = 45.0, *, unit_axes: bool = True) -> View:
    """
    Isometric view: the three axes are drawn at one scale, plan axes at 30 degrees.

    Parameters
    ----------
    turn : float
        Turn of the plan [degrees anticlockwise]; 45 gives the 30°/30° axes.
    unit_axes : bool
        Draw the axes 1:1:1, as is done in practice, which makes the picture √1.5 times
        the true orthographic one.

    Returns
    -------
    View

    References
    ----------
    ISO 5456-3:1996 §5.1 (from memory).

    Examples
    --------
    >>> isometric().to_page([[0, 0, 2]])[0, :2].round(12).tolist()
    [0.0, 2.0]
    """
    angle = finite(turn, "turn", ViewError)
    view = _orthographic("isometric", angle, sin_deg(angle), cos_deg(angle), ISOMETRIC_SIN, ISOMETRIC_COS)
    return _enlarged(view, math.sqrt(1.5)) if unit_axes else view


def dimetric(*, unit_axes: bool = True) -> View:
    """
    Dimetric view 1 : ½ : 1, the x axis at 7.18° and the receding y axis at 41.41°.

    Parameters
    ----------
    unit_axes : bool
        Draw x and heights at full scale and y at half; else the true orthographic view.

    Returns
    -------
    View

    References
    ----------
    ISO 5456-3:1996 §5.2, which rounds the angles to 7° and 42°; sin²tilt = 1/9 and
    sin²turn = 1/8 follow from the ratios.

    Examples
    --------
    >>> dimetric().to_page([[0, 0, 1]])[0, :2].round(12).tolist()
    [0.0, 1.0]
    """
    turn = math.degrees(math.asin(math.sqrt(1 / 8)))
    view = _orthographic("dimetric", turn, math.sqrt(1 / 8), math.sqrt(7 / 8), 1 / 3, math.sqrt(8 / 9))
    return _enlarged(view, math.sqrt(9 / 8)) if unit_axes else view


def cavalier(turn: float = 0.0, *, receding_angle: float = 45.0) -> View:
    """
    Oblique view of the front in true shape; depth recedes at full scale.

    Parameters
    ----------
    turn : float
        Turn of the plan before it is looked at from the front [degrees anticlockwise].
    receding_angle : float
        Direction of the receding axis on the page [degrees anticlockwise].

    Returns
    -------
    View

    References
    ----------
    ISO 5456-3:1996 §5.3.

    Examples
    --------
    >>> round(float(np.hypot(*cavalier().matrix[:2, 1])), 9)  # what recedes keeps its length
    1.0
    """
    return _front_oblique("cavalier", turn, receding_angle, 1.0)


def cabinet(turn: float = 0.0, *, receding_angle: float = 45.0) -> View:
    """
    Oblique view of the front in true shape; depth recedes at half scale.

    Parameters
    ----------
    turn, receding_angle : float
        As for :func:`cavalier` [degrees anticlockwise].

    Returns
    -------
    View

    References
    ----------
    ISO 5456-3:1996 §5.3.

    Examples
    --------
    >>> round(float(np.hypot(*cabinet().matrix[:2, 1])), 9)  # what recedes is halved
    0.5
    """
    return _front_oblique("cabinet", turn, receding_angle, 0.5)


def make_view(kind: str, **options: float) -> View:
    """
    Make a view by the name of its projection, as a site file does.

    Parameters
    ----------
    kind : str
        "planometric", "isometric", "dimetric", "trimetric", "cavalier" or "cabinet".
    **options
        The parameters of the function of that name.

    Raises
    ------
    ViewError
        If the kind is unknown, or an option is not one of its parameters.

    Examples
    --------
    >>> make_view("planometric", turn=30).turn
    30.0
    """
    maker = KINDS[one_of(kind, KINDS, "kind of view", ViewError)]
    known = list(signature(maker).parameters)
    for name in options:
        if name not in known:
            raise ViewError(f"A {kind} view has no {name!r}. {nearest(name, known)}", field=name)
    return maker(**options)


def _front_oblique(kind: str, turn: float, receding_angle: float, ratio: float) -> View:
    angle = finite(turn, "turn", ViewError)
    receding = finite(receding_angle, "receding_angle", ViewError)
    right = [1.0, ratio * cos_deg(receding), 0.0]
    up = [0.0, ratio * sin_deg(receding), 1.0]
    view = View(kind=kind, matrix=np.array([right, up, [0.0, -1.0, 0.0]]), turn=angle)
    return view.after_turning(angle)


def _orthographic(
    kind: str, turn: float, sin_turn: float, cos_turn: float, sin_tilt: float, cos_tilt: float
) -> View:
    rows = [
        [cos_turn, -sin_turn, 0.0],
        [sin_turn * sin_tilt, cos_turn * sin_tilt, cos_tilt],
        [-sin_turn * cos_tilt, -cos_turn * cos_tilt, sin_tilt],
    ]
    return View(kind=kind, matrix=np.array(rows) + 0.0, turn=turn, height_factor=cos_tilt)


def _enlarged(view: View, factor: float) -> View:
    rows = np.array([[factor], [factor], [1.0]])  # depth stays a true distance
    return replace(view, matrix=view.matrix * rows, height_factor=view.height_factor * factor)


KINDS: Final[dict[str, Callable[..., View]]] = {
    maker.__name__: maker for maker in (planometric, isometric, dimetric, trimetric, cavalier, cabinet)
}
