"""The ways for one downspout side by side, and the simplest that keeps the water away.

In: the lot as surveyed and as corrected grade would make it, a downspout, its water. Out: each way
with its design or the reason against it, and one recommendation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from runoff.discharge.correction import Grounds
from runoff.discharge.model import NotPossible, Task, WaterToMove
from runoff.discharge.ways import WAYS, Design, Option, Recommendation, failures_of
from runoff.discharge.work import work_of
from runoff.site.model import Downspout

# What is left where nothing on the lot takes the water, and who must be asked.
LEFT_OVER = (
    "regrade the yard with a swale (a landscaper or a civil engineer, and each neighbor that it "
    "drains to)",
    "connect to a storm sewer (the town's engineer or building department must approve it)",
    "a pumped basin with a check valve and an outlet of its own (a licensed plumber, and whoever "
    "owns the ground where it lets go)",
)
# Each way with and without corrected grade, in the order tried: what is dug for comes last.
_TRIED = [
    (way, graded)
    for digs in (False, True)
    for graded in (False, True)
    for way in WAYS
    if way.digs is digs
]


def compare_ways(
    grounds: Grounds,
    downspout: Downspout,
    water: WaterToMove,
    before: Sequence[Design | None] = (),
) -> Recommendation:
    """Judge every way for one downspout and take the simplest that keeps its water away.

    A way that is dug for is tried with corrected grade where it cannot be built without. Where
    none can be built, what is left is to refer. `before` are the designs for other downspouts, to
    keep away from. For a downspout without a roof no way is judged: how much water comes there is
    asked.
    """
    if not downspout.roofs:
        return _of_unknown_water(downspout, water)
    soiled = grounds.as_far_as_it_goes()[0].terrain
    every: list[Option] = []
    works: set[str] = set()
    for way, graded in _TRIED:
        if graded and way.digs and way.kind in works:
            reason = f"Not needed: the {way.kind} works without it."
            every.append(Option(way.kind, False, reason, graded=graded))
            continue
        try:
            ground, soil = grounds.corrected(downspout) if graded else (grounds.surveyed, None)
            design = way.design(Task(ground, downspout, water, soiled, before))
        except NotPossible as reason:
            told = f"{str(reason).rstrip('.')}."
            every.append(Option(way.kind, False, told, graded=graded))
            continue
        option = Option(way.kind, True, "", design, soil, graded)
        failures = failures_of(ground, downspout, option, lambda: grounds.corrected(downspout)[0])
        for failure in failures:
            if failure.fitting_m is not None:
                design = way.with_fitting(ground.site, design, failure.fitting_m)
        option = replace(option, design=design, failures=failures)
        work, shopping = work_of(ground.site, option)
        every.append(replace(option, work=work, shopping=shopping))
        works.add(way.kind)
    refer = f"What is left, each to be asked for first: {'; '.join(LEFT_OVER)}."
    every.append(Option("refer", True, refer, asks=LEFT_OVER))
    chosen = next(option for option in every if option.feasible)
    return Recommendation(downspout.name, water, tuple(every), chosen, _why(chosen, tuple(every)))


def _of_unknown_water(downspout: Downspout, water: WaterToMove) -> Recommendation:
    """No way is judged for water that nobody knows; what to say in the site file is asked."""
    why = "No roof is given for it, so that how much water comes here is not known"
    ask = (
        "the roof that it carries, named in the site file, or, where it is no downspout but "
        "another point of release, a [[sump]] with its rate in its place"
    )
    options = [Option(way.kind, False, f"{why}.", graded=graded) for way, graded in _TRIED]
    refer = Option("refer", True, f"To be told first: {ask}.", asks=(ask,))
    return Recommendation(
        downspout.name,
        water,
        (*options, refer),
        refer,
        f"{why}, and nothing can be planned for it.",
    )


def _why(chosen: Option, options: tuple[Option, ...]) -> str:
    """Why this one: what is simpler and why it does not do, and how it fails."""
    simpler = options[: options.index(chosen)]
    if chosen.kind == "refer":
        return _searched(simpler)
    if not simpler:
        return "Nothing simpler is possible: nothing needs to be built."
    last = simpler[-1]
    first, *more = last.reason.rstrip(".").split("; ")
    name = "leaving it as it is" if last.kind == "as it is" else last.kind
    told = f"It is the simplest that keeps the water away. Simpler would be {name}, but "
    told += _lowered(first)
    told += ", and more (see there)." if more else "."
    if not chosen.fails_safely:
        told += " Mind how it fails."
    return told


def _searched(tried: tuple[Option, ...]) -> str:
    """What was searched where nothing was found, and what was in the way of the line."""
    line = next((each for each in tried if each.kind == "buried line"), None)
    told = (
        "Nothing that was tried keeps the water away by the rules in force. Tried were leaving it, "
        "straight extensions, soil at the wall, swales, buried lines and seepage pits; with each "
        "stands what is in its way. A line with bends is tried only along a route that is drawn in "
        "the site file: draw one around what is in the way and plan again."
    )
    if line is None:
        return told
    first = line.reason.rstrip(".").split("; ")[0]
    return f"{told} In the way of the line: {_lowered(first)}."


def _lowered(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:] if sentence[1:2].islower() else sentence
