"""
The role table: what the features of a layer are, and how they behave.

Adding a role is one row here. ``order`` is the order in which things are stacked,
and the tie-break where two faces lie in one plane: the later wins.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal, get_args

from ..checks import one_of
from ..errors import LayerError
from ..plugins import PlugInError, PlugIns, ids_in, is_foreign, plug_ins

Form = Literal[
    "prism",
    "terrain",
    "drape",
    "steps",
    "ramp",
    "rail",
    "roof",
    "canopy",
    "planter",
    "tree",
    "levels",
    "none",
]
Theme = Literal["ground", "surfaces", "structures", "planting", "furniture", "notes"]


@dataclass(frozen=True, kw_only=True)
class Role:
    """
    How features of one role are stacked and built.

    Parameters
    ----------
    name : str
        The word used in site files.
    order : int
        Place in the stacking order; a feature stands only on roles before its own.
    form : str
        The way its solid is made, a row of ``solids.forms.FORMS``, or a plug-in's; "none" is
        drawn on the plan only, "levels" give the ground, or what is laid on it, its surface.
    theme : str
        The group it belongs to in legends and exploded views.
    supports : bool
        Other features may stand on it.
    cuts : bool
        Where it lies lower than what it lies in, it cuts the ground open down to itself.
    base : {"lowest", "below"}
        Where its base comes from when the layer does not say: the lowest level of the
        site, or whatever is under it.
    flat : bool
        It needs no height: without one it is drawn flush with what it lies on.
    slopes : bool
        Its top may be a plane that falls.
    width : float or None
        Width of a centre line whose layer gives none [m]; None where lines are not allowed.
    shapes : tuple of str
        Words that the layer's ``shape`` may be; the first is taken where none is given. Trees
        may be plan symbols of plug-ins besides.

    Examples
    --------
    >>> Role(name="quayside.coping", order=11, theme="structures", supports=True, width=0.5).form
    'prism'
    >>> role_named("rail").words
    ('bars', 'panel')
    """

    name: str
    order: int
    form: Form | str = "prism"
    theme: Theme
    supports: bool = False
    cuts: bool = False
    base: Literal["lowest", "below"] = "below"
    flat: bool = False
    slopes: bool = False
    width: float | None = None
    shapes: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """Shapes, and for trees the ids of plan symbols that are installed."""
        return (*self.shapes, *(ids_in("siteaxo.symbols") if self.form == "tree" else ()))


_ROWS: Final = (
    Role(name="ground", order=0, theme="ground", supports=True, cuts=True, slopes=True, base="lowest"),
    Role(name="terrace", order=1, theme="ground", supports=True, cuts=True, slopes=True, base="lowest"),
    Role(name="lawn", order=2, theme="surfaces", supports=True, cuts=True, flat=True, slopes=True),
    Role(name="water", order=3, theme="surfaces", cuts=True, flat=True),
    Role(name="paving", order=4, theme="surfaces", supports=True, cuts=True, flat=True, slopes=True),
    Role(name="path", order=5, theme="surfaces", supports=True, flat=True, slopes=True, width=1.5),
    Role(name="ramp", order=6, form="ramp", theme="surfaces", supports=True, width=1.5),
    Role(name="steps", order=7, form="steps", theme="surfaces", supports=True, width=1.5),
    Role(name="deck", order=8, theme="structures", supports=True, slopes=True),
    Role(name="structure", order=9, theme="structures", supports=True),
    Role(
        name="roof",
        order=10,
        form="roof",
        theme="structures",
        supports=True,
        shapes=("flat", "shed", "gable", "hip"),
    ),
    Role(name="wall", order=11, theme="structures", supports=True, width=0.3),
    Role(name="planter", order=12, form="planter", theme="furniture", supports=True),
    Role(name="seat", order=13, theme="furniture", width=0.45),
    Role(name="rail", order=14, form="rail", theme="furniture", width=0.05, shapes=("bars", "panel")),
    Role(name="hedge", order=15, theme="planting", width=0.6),
    Role(name="canopy", order=16, form="canopy", theme="structures"),
    Role(
        name="tree",
        order=17,
        form="tree",
        theme="planting",
        shapes=("round", "conical", "columnar", "spreading", "palm", "shrub"),
    ),
    Role(name="people", order=18, form="none", theme="notes", flat=True),
    Role(name="note", order=19, form="none", theme="notes", flat=True),
    Role(name="breakline", order=20, form="levels", theme="ground"),
    Role(name="contour", order=21, form="levels", theme="ground"),
    Role(name="spot level", order=22, form="levels", theme="ground"),
    Role(name="finished level", order=23, form="levels", theme="ground"),
)
ROLES: Final[dict[str, Role]] = {row.name: row for row in _ROWS}


def sloping_roles() -> tuple[str, ...]:
    """Names of the roles whose top may be a plane that falls."""
    return tuple(row.name for row in _ROWS if row.slopes)


def added_roles() -> PlugIns:
    """Roles of plug-ins."""
    return plug_ins("siteaxo.roles", _fits)


def role_named(name: str) -> Role:
    """
    Return the role called *name*, one of siteaxo's or, with a dot in its name, a plug-in's.

    Raises
    ------
    LayerError
        If there is none; the message names the nearest.
    PlugInError
        If the plug-in is broken or not installed.

    Examples
    --------
    >>> role_named("terrace").order
    1
    """
    if is_foreign(name):
        found: Role = added_roles().get(name, "role")
        return found
    return ROLES[one_of(name, ROLES, "role", LayerError)]


def in_order(names: Iterable[str]) -> list[str]:
    """
    Names of roles, each once: those of siteaxo in their order, then those of plug-ins.

    Examples
    --------
    >>> in_order(["tree", "quayside.coping", "lawn", "tree"])
    ['lawn', 'tree', 'quayside.coping']
    """
    there = {str(name) for name in names}
    return [*(name for name in ROLES if name in there), *sorted(there - ROLES.keys())]


def spoken(name: str) -> str:
    """
    A role as it is called in words: without the office of a plug-in.

    Examples
    --------
    >>> spoken("quayside.bank_tree"), spoken("spot level")
    ('bank tree', 'spot level')
    """
    return name.rsplit(".", 1)[-1].replace("_", " ") if is_foreign(name) else name


def _fits(name: str, value: object) -> Role:
    """Check a plug-in's role: its name, its form, and the role whose place in the stack it shares."""
    if not isinstance(value, Role):
        raise PlugInError(
            f"its entry point names {type(value).__name__}, not a siteaxo.Role",
            field=name,
            value=type(value).__name__,
        )
    if value.name != name:
        raise PlugInError(
            f"its entry point is called {name!r} and its role {value.name!r}", field=name, value=value.name
        )
    if not (value.form in get_args(Form) or is_foreign(value.form)):
        raise _unknown(name, "form", value.form, get_args(Form))
    if value.theme not in get_args(Theme):
        raise _unknown(name, "theme", value.theme, get_args(Theme))
    if value.order not in {role.order for role in _ROWS}:
        raise _unknown(name, "order", value.order, sorted({role.order for role in _ROWS}))
    return value


def _unknown(name: str, what: str, value: object, known: Iterable[object]) -> PlugInError:
    """Say that a plug-in's role has a form, theme or order that there is not."""
    words = ", ".join(map(str, known))
    return PlugInError(f"its {what} {value!r} is none of {words}", field=name, value=value)
