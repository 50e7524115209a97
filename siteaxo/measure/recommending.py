"""
The view that a study recommends, and why, in plain words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from ..view.choices import Candidate
from ..view.projection import View


@dataclass(frozen=True, kw_only=True, eq=False)
class Recommendation:
    """
    The view that scores highest.

    Parameters
    ----------
    name : str
        Its name in the tables.
    view : View
        The view, to be drawn with.
    score : float
        Its score [-].
    reason : str
        Why, in plain words.
    """

    name: str
    view: View
    score: float
    reason: str

    def __repr__(self) -> str:
        return f"<Recommendation {self.name}, score {self.score:.3f}>"

    def __str__(self) -> str:
        return self.reason


def recommended(
    table: pd.DataFrame,
    candidates: Sequence[Candidate],
    weights: Mapping[str, float],
) -> Recommendation:
    """
    Take the first view of a table of studied views and say why.

    Parameters
    ----------
    table : pandas.DataFrame
        The views, the best first.
    candidates : sequence of Candidate
        The views.
    weights : mapping of str to float
        Weight of every column that counts.

    Returns
    -------
    Recommendation
    """
    first = table.iloc[0]
    chosen = candidates[int(first["candidate"])]
    counted = [key for key in weights if key in table.columns and key not in ("size", "coincidence")]
    parts = [_shown(first, key) for key in counted if weights[key] > 0]
    shows = " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)
    text = f"{chosen.name[0].upper()}{chosen.name[1:]} shows {shows or 'what there is'} (shares of surface); "
    text += f"{first['coincidence']:.0%} of the plan edges fall on others. "
    text += _against_next(table)
    return Recommendation(name=chosen.name, view=chosen.view, score=float(first["score"]), reason=text)


def _shown(row: Any, key: str) -> str:
    return f"{row[key]:.0%} of {'all there is' if key == 'all' else key.split(': ', 1)[1]}"


def _against_next(table: pd.DataFrame) -> str:
    """What is said about the other views."""
    aside = table["set_aside"].to_numpy(dtype=bool)
    words: list[Callable[[], str]] = []
    left = table[~aside]
    if aside.all():
        return "Every view of the study has plan edges that fall on one another; add other turns."
    if len(left) > 1:
        other = left.iloc[1]
        words.append(lambda: f"Next is {other['view']} with a score of {other['score']:.3f}")
    score = f"Its score is {table.iloc[0]['score']:.3f}. "
    following = f"{words[0]()}. " if words else ""
    gone = int(aside.sum())
    if not gone:
        return f"{score}{following}".strip()
    many = f"{gone} views were" if gone > 1 else "1 view was"
    return f"{score}{following}{many} set aside since plan edges fall on one another there."
