"""The ways for one downspout side by side, and the simplest that keeps the water away.

In: the lot as surveyed and as corrected grade would make it, a downspout, its water. Out: each way
with its design or the reason against it, and one recommendation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from runoff.discharge.correction import Grounds
from runoff.discharge.model import Task, WaterToMove
from runoff.discharge.reasons import NotNeeded, NotPossible, RoofNotGiven
from runoff.discharge.ways import WAYS, Ask, Design, Option, Recommendation, failures_of
from runoff.discharge.work import work_of
from runoff.site.model import Downspout

# What is left where nothing on the lot takes the water.
LEFT_OVER: tuple[Ask, ...] = ("swale over the yard", "storm sewer", "pumped basin")
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
            every.append(Option(way.kind, False, NotNeeded(way.kind), graded=graded))
            continue
        try:
            ground, soil = grounds.corrected(downspout) if graded else (grounds.surveyed, None)
            design = way.design(Task(ground, downspout, water, soiled, before))
        except NotPossible as reason:
            every.append(Option(way.kind, False, reason.why, graded=graded))
            continue
        option = Option(way.kind, True, None, design, soil, graded)
        failures = failures_of(ground, downspout, option, lambda: grounds.corrected(downspout)[0])
        for failure in failures:
            if failure.fitting_m is not None:
                design = way.with_fitting(ground.site, design, failure.fitting_m)
        option = replace(option, design=design, failures=failures)
        work, shopping = work_of(ground.site, option)
        every.append(replace(option, work=work, shopping=shopping))
        works.add(way.kind)
    every.append(Option("refer", True, None, asks=LEFT_OVER))
    chosen = next(option for option in every if option.feasible)
    return Recommendation(downspout.name, water, tuple(every), chosen)


def _of_unknown_water(downspout: Downspout, water: WaterToMove) -> Recommendation:
    """No way is judged for water that nobody knows; what to say in the site file is asked."""
    options = [Option(way.kind, False, RoofNotGiven(), graded=graded) for way, graded in _TRIED]
    refer = Option("refer", True, None, asks=("roof",))
    return Recommendation(downspout.name, water, (*options, refer), refer)
