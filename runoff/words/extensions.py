"""Where an extension's water goes, and what protects the ground at its end, in words."""

from __future__ import annotations

from runoff.discharge.ways import Extension, Onward
from runoff.flow.sentences import ice_words
from runoff.words.downspouts import BEYOND


def extension_ends(onward: Onward) -> str:
    """Where its water goes from the end, such as to follow *the water*."""
    end = onward.end
    if end.kind == "lot side":
        words = f"leaves the lot over {end.own_side}, {BEYOND[end.neighbor]}"
    elif end.kind == "outlet":
        words = f"reaches the outlet '{end.name}'"
    elif end.kind == "drain":
        words = f"goes down the drain '{end.name}'"
    else:
        words = f"stands in {end.name or 'a shallow dip'}, away from the foundations"
    return f"{words}; {ice_words(onward.crosses)}" if onward.crosses else words


def extension_protection(extension: Extension) -> str:
    """What protects the ground at its end, and whose leave that needs."""
    leave = [
        f"it reaches over the '{side}' side of the lot: get leave first"
        for side in extension.reaches_over
    ]
    return "; ".join([extension.protection, *leave])
