"""A buried line's parts in words: why each fitting is there.

In: records of a line. Out: words for the one who lays it.
"""

from __future__ import annotations

from runoff.discharge.ways import Fitting

# A turn that the bends sold miss by more than this, degrees, is eased into the rest of the pipe.
_EASED = 2.0


def fitting_why(fitting: Fitting) -> str:
    """Why a fitting is there.

    Examples
    --------
    >>> fitting_why(Fitting(3.0, "bend", "route turns", (45.0,), 50.0))
    'the route turns by 50 degrees; ease the pipe into the rest over the next lengths'
    """
    if fitting.kind == "bend" and fitting.why != "foot":
        said = f"the {fitting.why} by {fitting.turn_degrees:.0f} degrees"
        missed = abs(sum(fitting.bends) - fitting.turn_degrees)
        eased = "; ease the pipe into the rest over the next lengths"
        return said + eased if missed > _EASED else said
    if fitting.kind == "cleanout":
        return {
            "foot": "at the foot of the leader",
            "sharp bend": "at a bend of more than 45 degrees",
        }.get(fitting.why, "so that no stretch is too long to clean")
    return {
        "leaf screen": (
            "leaves stay out, and where the line is blocked the water comes out here and is seen"
        ),
        "adapter": "the leader goes inside it",
        "bend": "from the leader into the line, not one 90",
        "outlet grate": "animals stay out",
        "connection": "sealed where the line enters",
        "overflow fitting": (
            "where the line is blocked beyond it, the water comes out here and keeps away"
        ),
    }[fitting.kind]
