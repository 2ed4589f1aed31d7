"""What water freezes on along its way, and what forbids it there, in words."""

from __future__ import annotations

from collections.abc import Sequence

from runoff.flow.downspouts import PUBLIC
from runoff.site.model import Paving

_FORBIDDEN = ", which city codes commonly forbid"


def ice_words(crossed: Sequence[Paving]) -> str:
    """What water freezes on along its way, such as to follow *it*; empty where on nothing."""
    named = [
        f"the {each.kind} '{each.name}'{_FORBIDDEN * (each.kind == PUBLIC)}" for each in crossed
    ]
    return f"on its way it crosses {' and '.join(named)}: ice in winter" if named else ""


def over_sidewalk(crossed: Sequence[Paving]) -> str:
    """What forbids letting water go that crosses a public sidewalk; empty where it crosses none."""
    for paving in crossed:
        if paving.kind == PUBLIC:
            return f"over the public sidewalk '{paving.name}'{_FORBIDDEN}"
    return ""
