"""A seepage pit in words: by which method it is built, and what to mind at it."""

from __future__ import annotations

from runoff.discharge.pit import PitCheck
from runoff.discharge.ways import Caution, SeepagePit
from runoff.quantities import Shown
from runoff.site.model import Site

_NOT_GIVEN = "is not given: the bottom must stay"
_DISPOSAL_WELL = (
    "it may count as a disposal well (EPA Class V) that must be registered: ask the state before "
    "it is dug"
)


def pit_basis(site: Site, pit: SeepagePit) -> str:
    """Which method the pit is built by, and why."""
    given = "a" if pit.by_durations is not None else "no"
    why = f"since {given} rain table is given: {site.rains.pit.basis}"
    return f"{pit.governing.method}, {why}"


def check_warnings(check: PitCheck) -> list[str]:
    """What to mind about a check."""
    words = {
        "longest rain governs": (
            "the longest rain of the table governs: a longer one may ask for a larger pit"
        ),
    }
    return [words[each] for each in check.warnings]


def pit_warnings(shown: Shown, pit: SeepagePit) -> list[str]:
    """What to mind at a pit: about its soil's rate, its size, and the pit itself."""
    own = [_caution(shown, pit, each) for each in pit.warnings]
    return [*pit.rate.warnings, *check_warnings(pit.governing), *own]


def _caution(shown: Shown, pit: SeepagePit, caution: Caution) -> str:
    far = [shown.far(each) for each in caution.figures]
    match caution.code:
        case "silt trap drop":
            return (
                "the ground falls over the pit: in the silt trap before it the water drops "
                f"{shown.height(caution.figures[0])}, so that soil lies over all its stone"
            )
        case "freezes below pit":
            return (
                f"the ground freezes {far[0]} deep, below the pit's bottom: in "
                "hard frost it takes no water, and roof water overflows"
            )
        case "groundwater not given":
            return f"how deep groundwater lies {_NOT_GIVEN} {far[0]} above it"
        case "bedrock not given":
            return f"how deep bedrock lies {_NOT_GIVEN} {far[0]} above it"
        case "roofs that poison":
            return (
                "no roof of copper, zinc or treated wood, or with moss killer on it, may drain to "
                "a pit"
            )
        case "lot not given":
            return f"the lot lines are not given: the pit must stay {far[0]} from each"
        case "basement not given":
            return (
                f"whether {' and '.join(caution.names)} has a basement is not given: the pit must "
                f"stay {far[0]} from one"
            )
        case "disposal well by depth":
            return f"deeper than wide, {_DISPOSAL_WELL}"
        case "disposal well by pipe":
            return f"with perforated pipe in it, {_DISPOSAL_WELL}"
        case "overflow may drift":
            return (
                "when the pit is full some of the water may drift over "
                f"{pit.overflow.end.side} onto the neighbor's ground: it lies too flat to lead it"
            )
    raise ValueError(f"no words for the caution {caution.code!r} of a pit")
