"""The ways for one downspout side by side, and the simplest that keeps the water away.

In: the lot as surveyed and as corrected grade would make it, a downspout, its water. Out: each way
with its design or the reason against it, and one recommendation.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from runoff.discharge.as_it_is import AsItIs, ice_beside, leave_as_it_is
from runoff.discharge.correction import Grounds
from runoff.discharge.extension.way import surface_extension
from runoff.discharge.failure import failures_of
from runoff.discharge.ground import LotGround
from runoff.discharge.line.design import buried_line
from runoff.discharge.line.parts import with_overflow_fitting
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import NotPossible, WaterToMove
from runoff.discharge.pit.place import seepage_pit
from runoff.discharge.pit.size import SeepagePit
from runoff.discharge.swale.design import swale_away
from runoff.discharge.ways import Option, Recommendation, WayKind
from runoff.discharge.work import work_of
from runoff.site.model import Downspout, Site
from runoff.terrain.model import Terrain

# What is left where nothing on the lot takes the water, and who must be asked.
LEFT_OVER = (
    "regrade the yard with a swale (a landscaper or a civil engineer, and each neighbor that it "
    "drains to)",
    "connect to a storm sewer (the town's engineer or building department must approve it)",
    "a pumped basin with a check valve and an outlet of its own (a licensed plumber, and whoever "
    "owns the ground where it lets go)",
)
_BASE: dict[WayKind, WayKind] = {
    "corrected grade and swale": "swale",
    "corrected grade and buried line": "buried line",
    "corrected grade and seepage pit": "seepage pit",
}


def compare_ways(
    grounds: Grounds,
    downspout: Downspout,
    water: WaterToMove,
    pits: Sequence[SeepagePit] = (),
) -> Recommendation:
    """Judge every way for one downspout and take the simplest that keeps its water away.

    A way with corrected grade is tried where the way alone cannot be built. Where none can, what
    is left is to refer. `pits` are those of other downspouts, to keep away from. For a downspout
    without a roof no way is judged: how much water comes there is asked.
    """

    def _pit(ground: LotGround, downspout: Downspout, water: WaterToMove) -> Option:
        return Option("seepage pit", True, "", seepage_pit(ground, downspout, water, pits))

    def extend(ground: LotGround, downspout: Downspout, water: WaterToMove) -> Option:
        # The soil that the walls need is ordered whatever is built, so it is laid on that.
        return _extension(ground, downspout, water, grounds.as_far_as_it_goes()[0].terrain)

    makers: dict[WayKind, Callable[[], Option]] = {
        "as it is": lambda: _as_it_is(grounds.surveyed, downspout, water),
        "extension": lambda: extend(grounds.surveyed, downspout, water),
        "corrected grade": lambda: _with_grade(grounds, downspout, water, _as_it_is),
        "corrected grade and extension": lambda: _with_grade(grounds, downspout, water, extend),
        "swale": lambda: _swale(grounds.surveyed, downspout, water),
        "buried line": lambda: _line(grounds.surveyed, downspout, water),
        "seepage pit": lambda: _pit(grounds.surveyed, downspout, water),
        "corrected grade and swale": lambda: _with_grade(grounds, downspout, water, _swale),
        "corrected grade and buried line": lambda: _with_grade(grounds, downspout, water, _line),
        "corrected grade and seepage pit": lambda: _with_grade(grounds, downspout, water, _pit),
    }
    if not downspout.roofs:
        return _of_unknown_water(downspout, water, tuple(makers))
    options: dict[WayKind, Option] = {}
    for kind, make in makers.items():
        base = _BASE.get(kind)
        if base is not None and options[base].feasible:
            options[kind] = Option(kind, False, f"Not needed: the {base} works without it.")
            continue
        try:
            option = replace(make(), kind=kind)
        except NotPossible as reason:
            options[kind] = Option(kind, False, f"{str(reason).rstrip('.')}.")
            continue
        options[kind] = _completed(grounds, downspout, option)
    options["refer"] = _refer()
    every = tuple(options.values())
    chosen = next(option for option in every if option.feasible)
    return Recommendation(downspout.name, water, every, chosen, _why(chosen, every))


def _of_unknown_water(
    downspout: Downspout, water: WaterToMove, kinds: tuple[WayKind, ...]
) -> Recommendation:
    """No way is judged for water that nobody knows; what to say in the site file is asked."""
    why = "No roof is given for it, so that how much water comes here is not known"
    ask = (
        "the roof that it carries, named in the site file, or, where it is no downspout but "
        "another point of release, a [[sump]] with its rate in its place"
    )
    options = [Option(kind, False, f"{why}.") for kind in kinds]
    refer = Option("refer", True, f"To be told first: {ask}.", asks=(ask,))
    return Recommendation(
        downspout.name,
        water,
        (*options, refer),
        refer,
        f"{why}, and nothing can be planned for it.",
    )


def _completed(grounds: Grounds, downspout: Downspout, option: Option) -> Option:
    """The option with how it fails, the work in it and what to buy."""
    ground = grounds.surveyed
    if option.correction is not None:
        ground, _ = grounds.corrected(downspout)
    failures = failures_of(ground, downspout, option, lambda: grounds.corrected(downspout)[0])
    option = _with_fittings(ground.site, replace(option, failures=failures))
    work, shopping = work_of(ground.site, option)
    return replace(option, work=work, shopping=shopping)


def _with_fittings(site: Site, option: Option) -> Option:
    """The option with the overflow fittings of its reliefs on its line, where it has one."""
    design = option.design
    for station in (each.fitting_m for each in option.failures if each.fitting_m is not None):
        if isinstance(design, BuriedLine):
            design = with_overflow_fitting(site, design, station)
        elif isinstance(design, SeepagePit):
            design = replace(design, line=with_overflow_fitting(site, design.line, station))
    return replace(option, design=design)


def _as_it_is(ground: LotGround, downspout: Downspout, water: WaterToMove) -> Option:
    answer = leave_as_it_is(ground, downspout, water)
    return Option("as it is", True, "", AsItIs(answer, ice_beside(ground.site, answer)))


def _extension(
    ground: LotGround, downspout: Downspout, water: WaterToMove, built: Terrain
) -> Option:
    return Option("extension", True, "", surface_extension(ground, downspout, water, built))


def _swale(ground: LotGround, downspout: Downspout, water: WaterToMove) -> Option:
    return Option("swale", True, "", swale_away(ground, downspout, water))


def _line(ground: LotGround, downspout: Downspout, water: WaterToMove) -> Option:
    return Option("buried line", True, "", buried_line(ground, downspout, water))


def _with_grade(
    grounds: Grounds,
    downspout: Downspout,
    water: WaterToMove,
    make: Callable[[LotGround, Downspout, WaterToMove], Option],
) -> Option:
    ground, correction = grounds.corrected(downspout)
    return replace(make(ground, downspout, water), correction=correction)


def _refer() -> Option:
    return Option(
        "refer",
        True,
        f"What is left, each to be asked for first: {'; '.join(LEFT_OVER)}.",
        asks=LEFT_OVER,
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
