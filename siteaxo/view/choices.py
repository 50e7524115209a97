"""
Views to choose among: kinds, turns, height factors, and the other hand of each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from inspect import signature
from typing import Final

import numpy as np

from ..checks import finite, one_of
from ..errors import ViewError
from .projection import KINDS, View, make_view

TURNS: Final = (30.0, 45.0, 60.0, 120.0, 135.0, 150.0, 210.0, 225.0, 240.0, 300.0, 315.0, 330.0)
"""Usual turns of a plan and the same from its other three sides [degrees anticlockwise]."""
FLIP: Final = np.diag([-1.0, 1.0, 1.0])


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """
    A view that may be taken.

    Parameters
    ----------
    view : View
        The view.
    mirrored : bool
        Whether it is the other hand of the view as asked for.
    """

    view: View
    mirrored: bool = False

    @property
    def name(self) -> str:
        """
        Short name of the view.

        Examples
        --------
        >>> Candidate(view=make_view("planometric", turn=60, height_factor=2 / 3)).name
        'planometric 60°, heights × 0.667'
        """
        view = self.view
        high = f", heights × {view.height_factor:.3g}" if view.kind == "planometric" else ""
        other = ", other hand" if self.mirrored and view.kind not in _TURNED else ""
        turn = "" if view.kind == "dimetric" else f" {view.turn:g}°".replace("-", "−")
        if view.kind == "planometric" and view.height_factor == 1.0:
            high = ""
        return f"{view.kind}{turn}{high}{other}"


_TURNED: Final = ("planometric", "isometric", "trimetric")  # whose other hand is the turn the other way


def candidates(
    *,
    kinds: Iterable[str] = ("planometric",),
    turns: Iterable[float] = TURNS,
    height_factors: Iterable[float] = (1.0,),
    mirrored: bool = False,
) -> tuple[Candidate, ...]:
    """
    List the views that may be taken.

    Parameters
    ----------
    kinds : iterable of str
        Kinds of view.
    turns : iterable of float
        Turns of the plan, for kinds that have one [degrees anticlockwise].
    height_factors : iterable of float
        Page metres per metre of height, for planometric views [-].
    mirrored : bool
        Add the other hand of every view: the one whose page is the mirror image of how a
        mirrored site would be drawn. It is the turn the other way, or for cavalier and
        cabinet views the receding axis to the other side.

    Returns
    -------
    tuple of Candidate
        Each view once, in the order given.

    Raises
    ------
    ViewError
        If there is none, a kind is unknown, or a number is not finite.

    Examples
    --------
    >>> [one.name for one in candidates(turns=[30], height_factors=[1], mirrored=True)]
    ['planometric 30°', 'planometric −30°']
    """
    for name, given in (("kinds", kinds), ("turns", turns), ("height_factors", height_factors)):
        if isinstance(given, str) or not isinstance(given, Iterable):
            raise ViewError(f"{name} is {given!r}; give a list such as [{given!r}].", field=name, value=given)
    wanted_turns = [finite(turn, "turns", ViewError) for turn in turns]
    factors = [finite(one, "height_factors", ViewError, least=0.0) for one in height_factors]
    found: dict[View, Candidate] = {}
    for kind in kinds:
        one_of(kind, KINDS, "kind of view", ViewError)
        takes = signature(KINDS[kind]).parameters
        own_turns: Sequence[float | None] = wanted_turns if "turn" in takes else [None]
        own_factors: Sequence[float | None] = factors if "height_factor" in takes else [None]
        for factor in own_factors:
            for turn in own_turns:
                options = {"turn": turn, "height_factor": factor}
                view = make_view(kind, **{key: one for key, one in options.items() if one is not None})
                for one in _hands(view, mirrored=mirrored):
                    found.setdefault(_same(one.view), one)
    if not found:
        raise ViewError("There is no view to study. Give at least one kind and one turn.", field="kinds")
    return tuple(found.values())


def _hands(view: View, *, mirrored: bool) -> list[Candidate]:
    one = Candidate(view=view)
    return [one, Candidate(view=other_hand(view), mirrored=True)] if mirrored else [one]


def _same(view: View) -> View:
    """A view that is equal where two draw alike."""
    return replace(view, matrix=np.round(view.matrix, 12) + 0.0, turn=0.0)


def other_hand(view: View) -> View:
    """
    The same kind of view from the other hand.

    Parameters
    ----------
    view : View
        A view that is not squared up to a base line yet.

    Returns
    -------
    View
        What it shows of a mirrored site is the mirror image of what *view* shows of the
        site; the site itself is not mirrored.

    Examples
    --------
    >>> other_hand(make_view("planometric", turn=30)) == make_view("planometric", turn=-30)
    True
    """
    return replace(view, matrix=FLIP @ view.matrix @ FLIP + 0.0, turn=-view.turn + 0.0)
