"""Designs and reasons in a homeowner's words and the site's own units."""

from __future__ import annotations

from collections.abc import Sequence

from runoff.discharge.ground import Reached
from runoff.discharge.line.record import Fitting
from runoff.flow.downspouts import PUBLIC
from runoff.foundation.model import Refusal
from runoff.foundation.walls import wall_words
from runoff.quantities import Shown, format_length, system_of
from runoff.site.model import Paving, Site

_POINTS = (
    "top",
    "upper right",
    "right",
    "lower right",
    "bottom",
    "lower left",
    "left",
    "upper left",
)
_COMPASS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def length(site: Site, metres: float, denominator: int = 4) -> str:
    """A length as the site's user writes it."""
    return format_length(metres, system_of(site.units), denominator)


def direction(site: Site, bearing: float) -> str:
    """A bearing (degrees clockwise from the plan's up) by the compass, or on the plan.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> direction(SimpleNamespace(north_degrees=90.0), 90.0)
    'north'
    >>> direction(SimpleNamespace(north_degrees=None), 90.0)
    'toward the right of the plan'
    """
    if site.north_degrees is None:
        return f"toward the {_POINTS[round(bearing / 45) % 8]} of the plan"
    return _COMPASS[round((bearing - site.north_degrees) / 45) % 8]


_BENDS = {
    (22.5,): "22.5 degree bend",
    (45.0,): "45 degree bend",
    (45.0, 22.5): "45 and 22.5 degree bends",
    (45.0, 45.0): "two 45 degree bends",
    (45.0, 45.0, 22.5): "two 45 and a 22.5 degree bends",
    (45.0, 45.0, 45.0): "three 45 degree bends",
}


def fitting_name(shown: Shown, fitting: Fitting) -> str:
    """What a fitting is called.

    Examples
    --------
    >>> fitting_name(Shown("us"), Fitting(0.0, "adapter", size="4 in"))
    'adapter from the leader to 4 in pipe'
    """
    if fitting.kind == "bend":
        return _BENDS[fitting.bends]
    names = {
        "leaf screen": "leaf screen with an overflow gap",
        "adapter": f"adapter from the {_leader(shown, fitting)} to {fitting.size} pipe",
        "cleanout": "cleanout",
        "outlet grate": f"{fitting.size} outlet grate",
        "connection": f"{fitting.size} connection",
        "overflow fitting": "overflow fitting with a grate",
    }
    return names[fitting.kind]


def _leader(shown: Shown, fitting: Fitting) -> str:
    leader = fitting.leader
    if leader is None:
        return "leader"
    if leader.shape == "round":
        return f"{shown.height(leader.width)} round leader"
    return f"{shown.height(leader.width)} x {shown.height(leader.depth)} leader"


def reached_words(site: Site, reached: Reached) -> str:
    """How water comes to a foundation, such as to follow a colon.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> reached_words(SimpleNamespace(units="ft"), Reached("runs along", 3.048))
    'it runs along the wall for 10 ft'
    """
    far = Shown.of(site).far(reached.metres)
    words = {
        "comes back": f"it comes back within {far} of a foundation",
        "stands near": f"it stands within {far} of '{reached.name}'",
        "slopes back": f"the ground there slopes back against the {reached.name} wall",
        "holds water": f"the ground there holds water against the {reached.name} wall",
        "runs along": f"it runs along the wall for {far}",
        "stays near": f"it stays within {far} of a foundation",
        "shut in": "it is shut in by walls",
        "gets in": f"it {gets_in(reached)}",
    }
    return words[reached.how]


def gets_in(reached: Reached) -> str:
    """Where water gets in."""
    named = " and ".join(f"the {each.kind} '{each.name}'" for each in reached.openings)
    return f"gets in at {named}"


_FORBIDDEN = ", which city codes commonly forbid"


def over_sidewalk(crossed: Sequence[Paving]) -> str:
    """What forbids letting water go that crosses a public sidewalk; empty where it crosses none."""
    for paving in crossed:
        if paving.kind == PUBLIC:
            return f"over the public sidewalk '{paving.name}'{_FORBIDDEN}"
    return ""


def refusal_words(site: Site, refusal: Refusal) -> str:
    """A clause for a homeowner: what soil would do, or what keeps it from being of use.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", lot=None)
    >>> refusal_words(site, Refusal("dams a wall", "rear", of="shed"))
    "it would dam water against the rear wall of 'shed'"
    """
    name, of = refusal.name, refusal.of
    over = format_length(refusal.over_m, system_of(site.units), 8)
    return {
        "buries paving": f"it would bury the {of} '{name}', which has to be relaid instead",
        "dams an easement": f"it would lie in the easement '{name}' and dam it",
        "water still stands": (
            f"the storm's water would still stand at the wall, {over} above the new ground"
        ),
        "reaches a neighbor": (
            "it would reach the lot line and send water onto the neighbor over "
            f"{_side_words(site, name)}"
        ),
        "dams a wall": f"it would dam water against {wall_words(name)} of {of!r}",
        "undoes another wall": "what it needs undoes what another wall nearby needs",
        "never passes": "no soil sloped away from it makes it pass",
    }[refusal.code]


def _side_words(site: Site, name: str) -> str:
    sides = () if site.lot is None else site.lot.sides
    return next((side.words for side in sides if side.name == name), name)
