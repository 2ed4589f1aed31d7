"""Why soil must not be placed along a wall, in words such as to follow *it would*."""

from __future__ import annotations

from runoff.foundation.model import Refusal
from runoff.foundation.walls import wall_words
from runoff.quantities import format_length, system_of
from runoff.site.model import Site


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
