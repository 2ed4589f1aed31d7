"""Where a swale's water goes, and what to mind in cutting it, in words."""

from __future__ import annotations

from runoff.discharge.ways import Caution, Onward, Swale
from runoff.flow.sentences import ice_words
from runoff.quantities import Shown, format_slope


def swale_ends(onward: Onward) -> str:
    """Where it comes out and its water goes, such as to follow a semicolon."""
    end = onward.end
    where = {
        "lot side": f"leaves over {end.side}",
        "outlet": f"runs to the outlet '{end.name}'",
    }.get(end.kind, f"ends in the {end.kind}")
    ice = f"; {ice_words(onward.crosses)}" if onward.crosses else ""
    return f"comes out of the ground; its water {where}{ice}"


def swale_cautions(shown: Shown, swale: Swale) -> list[str]:
    """What the one who cuts it must know beyond its numbers."""
    return [_caution(shown, each) for each in swale.cautions]


def _caution(shown: Shown, caution: Caution) -> str:
    name = caution.name
    if caution.code == "bluegrass":
        return (
            f"Where it falls {format_slope(caution.figures[0])}, sod it with bluegrass: a seed "
            "mixture is for slopes up to 10 %."
        )
    if caution.code == "sod before water":
        return (
            "Its water runs faster than bare soil bears: lay sod or an erosion blanket, and lead "
            "the downspout into it only when the grass holds."
        )
    if caution.code == "dish the ground":
        return (
            "Dish the ground from the downspout to the swale, falling at least "
            f"{format_slope(caution.figures[0])} from the wall."
        )
    if caution.code == "dig by hand":
        return f"Dig by hand over '{name}' ({caution.note})."
    if caution.code == "easement":
        return f"It runs in the easement '{name}': ask whoever holds it."
    if caution.code == "near the wall":
        return (
            f"Its center line lies only {shown.far(caution.figures[0])} from the wall: the lot "
            "allows no more."
        )
    raise ValueError(f"no words for the caution {caution.code!r} of a swale")
