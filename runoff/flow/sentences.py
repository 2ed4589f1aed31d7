"""What forbids letting water go on its way, in words."""

from __future__ import annotations

from collections.abc import Sequence

from runoff.flow.downspouts import PUBLIC
from runoff.site.model import Paving

_FORBIDDEN = ", which city codes commonly forbid"


def over_sidewalk(crossed: Sequence[Paving]) -> str:
    """What forbids letting water go that crosses a public sidewalk; empty where it crosses none."""
    for paving in crossed:
        if paving.kind == PUBLIC:
            return f"over the public sidewalk '{paving.name}'{_FORBIDDEN}"
    return ""
