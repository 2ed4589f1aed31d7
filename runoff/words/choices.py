"""Why one way is chosen, whom to ask where none is, and what still goes wrong with all of it built.

In: a downspout's ways side by side, or a proof, and the site whose units are shown. Out: sentences.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import takewhile

from runoff.discharge.proof import Trouble, WetterWall
from runoff.discharge.reasons import RoofNotGiven
from runoff.discharge.ways import Ask, Option, Recommendation
from runoff.foundation.walls import wall_words
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.words.reasons import reached_words, reason_clauses
from runoff.words.water import over_sidewalk

_ASKS: dict[Ask, str] = {
    "swale over the yard": (
        "regrade the yard with a swale (a landscaper or a civil engineer, and each neighbor that "
        "it drains to)"
    ),
    "storm sewer": (
        "connect to a storm sewer (the town's engineer or building department must approve it)"
    ),
    "pumped basin": (
        "a pumped basin with a check valve and an outlet of its own (a licensed plumber, and "
        "whoever owns the ground where it lets go)"
    ),
    "roof": (
        "the roof that it carries, named in the site file, or, where it is no downspout but "
        "another point of release, a [[sump]] with its rate in its place"
    ),
}


def ask_words(asks: Iterable[Ask]) -> list[str]:
    """What is left to be asked for, each with whom to ask."""
    return [_ASKS[each] for each in asks]


def left_sentence(asks: Sequence[Ask]) -> str:
    """What is left where no way can be built."""
    asked = "; ".join(ask_words(asks))
    if "roof" in asks:
        return f"To be told first: {asked}."
    return f"What is left, each to be asked for first: {asked}."


def why_chosen(site: Site, one: Recommendation) -> str:
    """Why this way: what is simpler and why it does not do, and how it fails."""
    chosen = one.chosen
    simpler = list(takewhile(lambda each: not each.feasible, one.options))
    if "roof" in chosen.asks:
        (told,) = reason_clauses(site, RoofNotGiven())
        return f"{told}, and nothing can be planned for it."
    if chosen.kind == "refer":
        return _searched(site, simpler)
    if not simpler or simpler[-1].reason is None:
        return "Nothing simpler is possible: nothing needs to be built."
    last = simpler[-1]
    first, *more = reason_clauses(site, simpler[-1].reason)
    name = "leaving it as it is" if last.kind == "as it is" else last.kind
    told = f"It is the simplest that keeps the water away. Simpler would be {name}, but "
    told += _lowered(first)
    told += ", and more (see there)." if more else "."
    return told if chosen.fails_safely else f"{told} Mind how it fails."


def _searched(site: Site, tried: Sequence[Option]) -> str:
    """What was searched where nothing was found, and what was in the way of the line."""
    told = (
        "Nothing that was tried keeps the water away by the rules in force. Tried were leaving it, "
        "straight extensions, soil at the wall, swales, buried lines and seepage pits; with each "
        "stands what is in its way. A line with bends is tried only along a route that is drawn in "
        "the site file: draw one around what is in the way and plan again."
    )
    for each in tried:
        if each.kind == "buried line" and each.reason is not None:
            first = reason_clauses(site, each.reason)[0]
            return f"{told} In the way of the line: {_lowered(first)}."
    return told


def _lowered(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:] if sentence[1:2].islower() else sentence


def trouble_words(site: Site, trouble: Trouble) -> str:
    """Why a downspout's water still does not keep away, with all of it built."""
    if trouble.why is not None:
        return "; ".join(reason_clauses(site, trouble.why))
    if trouble.code == "no way takes it":
        return "nothing that can be built here takes it"
    return ", and ".join(
        {
            "foundation": "" if harm.reached is None else reached_words(site, harm.reached),
            "neighbor": "it runs onto a neighbor",
            "sidewalk": f"it runs {over_sidewalk(harm.sidewalk)}",
            "survey's edge": "it leaves the survey",
        }[harm.code]
        for harm in trouble.harms
    )


def wetter_words(site: Site, wall: WetterWall) -> str:
    """How much wetter a wall is with all of it built, and what leaves the water there."""
    shown = Shown.of(site)
    what = "the soil" if wall.code == "soil" else "what is built"
    return (
        f"{what} would leave more water at {wall_words(wall.wall)} of {wall.building!r}: up to "
        f"{shown.height(wall.now_m)} deep, {shown.height(wall.before_m)} as it is now"
    )
