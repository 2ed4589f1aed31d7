"""What a way consists of, a sentence each: what to lay, cut, bury or dig, where its water goes,
what to mind, how it fails.

In: records of a line, and how quantities are shown. Out: words for the one who lays it.

In: an option's designs, and the site whose units are shown. Out: words for a homeowner.

In: a `Failure` and the site whose units are shown. Out: words for a homeowner.
"""

from __future__ import annotations

from typing import assert_never

from runoff.discharge.line.pipes import PipeAtFlow
from runoff.discharge.line.record import Crossing, Fitting, LineEnd
from runoff.discharge.model import Caution, Failure, FailureKind, Onward
from runoff.discharge.pit.size import PitCheck
from runoff.discharge.pit.soil import DesignRate, SoilRate, SoilWarning
from runoff.discharge.ways import AsItIs, BuriedLine, Design, Extension, Option, SeepagePit, Swale
from runoff.foundation.walls import wall_words
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.words.amounts import direction, length
from runoff.words.choices import left_sentence
from runoff.words.rains import pit_rain_basis
from runoff.words.reasons import gets_in, reached_words, reason_sentence
from runoff.words.water import BEYOND, downspout_sentence, ice_words


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
    return [_swale_caution(shown, each) for each in swale.cautions]


def _swale_caution(shown: Shown, caution: Caution) -> str:
    name = caution.name
    if caution.code == "bluegrass":
        return (
            f"Where it falls {shown.slope(caution.figures[0])}, sod it with bluegrass: a seed "
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
            f"{shown.slope(caution.figures[0])} from the wall."
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


# A turn that the bends sold miss by more than this, degrees, is eased into the rest of the pipe.
_EASED = 2.0
_ACTIONS = {
    "hand digging": "dig by hand here, and cut no root or line",
    "sleeve": "push the pipe through in a sleeve; do not open a trench here",
    "nothing": "do not dig here",
}
_UNDER = {
    "walk": "tunnel under it, or push a sleeve of schedule 40 pipe through",
    "patio": "tunnel under it, or push a sleeve of schedule 40 pipe through",
    "public sidewalk": "get the town's permit; push a sleeve of schedule 40 pipe through under it",
    "drive": "schedule 40 pipe, or the line in a sleeve; cut and patch the drive, or bore under it",
}
# Stiffness that bears wheels, from memory of ASTM D3034 and EN 1401; drain pipe of ASTM D2729 has
# a quarter of it.
_STIFF = {"us": "46 psi or more (SDR 35, schedule 40)", "metric": "SN 8 or more"}
_PROTECT = "schedule 40 pipe here, and keep wheels and digging off"
_SURFACE = f"the pipe comes up to the surface; {_PROTECT}"


def line_ends(ends: LineEnd) -> str:
    """Where a line comes out, such as to follow a semicolon."""
    if ends.kind == "outlet":
        return f"it ends in '{ends.outlet}' ({ends.outlet_kind})"
    if ends.kind == "pit":
        return "it runs into the seepage pit"
    if ends.crosses:
        return f"it comes to daylight; from there its water runs on, and {ice_words(ends.crosses)}"
    return "it comes to daylight"


def line_protection(shown: Shown, line: BuriedLine) -> str:
    """What protects the ground where a line comes out; empty where nothing needs to."""
    speed = f"the water comes out at {shown.velocity(line.end_velocity_m_per_s)}"
    if line.protection == "gutter paving":
        return "none: the gutter's paving bears the water"
    if line.protection == "splash pad":
        return f"a splash pad: {speed}"
    if line.apron is None:
        return ""
    apron = line.apron
    return (
        f"a stone apron {shown.height(apron.length_m)} long, {shown.height(apron.width_m)} wide "
        f"at the pipe and {shown.height(apron.end_width_m)} at its end, of stone "
        f"{shown.height(apron.stone_m)} or larger over fabric: {speed}"
    )


def crossing_name(crossing: Crossing) -> str:
    """What a line passes, by its name."""
    if crossing.kind == "off the lot":
        return "ground off the lot"
    if crossing.kind == "less than least cover":
        return "last stretch" if crossing.cover_m is None else "first stretch"
    return crossing.name


def crossing_words(crossing: Crossing) -> str:
    """Its name, with its kind where that is not in it."""
    name = crossing_name(crossing)
    return name if crossing.kind in name else f"{name} ({crossing.kind})"


def crossing_action(shown: Shown, crossing: Crossing) -> str:
    """What must be done where a line passes it."""
    if crossing.kind == "easement":
        return "ask whoever holds the easement before digging"
    if crossing.kind == "off the lot":
        return "ask whoever owns the ground beyond, usually the town, for a permit"
    if crossing.kind == "less than least cover":
        return _SURFACE if crossing.cover_m is None else _beside_footing(shown, crossing.cover_m)
    if crossing.cover_m is None:
        return _ACTIONS[crossing.allowed]
    return f"keep {shown.far(crossing.cover_m)} of cover; {_UNDER[crossing.kind]}"


def velocity_words(shown: Shown, flow: PipeAtFlow) -> str:
    """The self-cleaning check, with the flow it is judged at.

    Examples
    --------
    >>> from runoff.discharge.line.pipes import pipe_at_flow, pipe_of
    >>> velocity_words(Shown("us"), pipe_at_flow(pipe_of(4, "smooth"), 0.01, 0.003))
    'at 47.6 gpm the water runs at 2.72 ft/s: fast enough to keep the line clean (2 ft/s)'
    """
    verdict = "fast enough" if flow.self_cleaning else "too slow"
    return (
        f"at {shown.flow(flow.flow_m3_per_s)} the water runs at "
        f"{shown.velocity(flow.velocity_m_per_s)}: {verdict} to keep the line clean "
        f"({shown.velocity(flow.least_velocity_m_per_s)})"
    )


def line_cautions(shown: Shown, line: BuriedLine) -> list[str]:
    """What the one who digs a line must know beyond its numbers."""
    first = f"At the least slope, {velocity_words(shown, line.flow)}."
    return [first, *(_line_caution(shown, each) for each in line.cautions)]


def _beside_footing(shown: Shown, cover_m: float) -> str:
    return f"as little as {shown.height(cover_m)} of cover beside the footing; {_PROTECT}"


def _line_caution(shown: Shown, caution: Caution) -> str:
    name, figures = caution.name, [shown.height(each) for each in caution.figures]
    match caution.code:
        case "first stretch shallow":
            return (
                f"The first stretch, {figures[0]}, has less than {figures[1]} of cover: "
                f"{_beside_footing(shown, caution.figures[2])}."
            )
        case "last stretch shallow":
            return (
                f"The last stretch, {figures[0]}, has less than {figures[1]} of cover: {_SURFACE}."
            )
        case "stiff under drive":
            return (
                f"Under '{name}' the pipe is of a stiffness of {_STIFF[shown.system]}, or "
                f"lies in a sleeve; where the drive is unpaved or public, {figures[0]} of cover is "
                "asked for."
            )
        case "approved under building":
            return (
                f"As far as it lies within {figures[0]} of the {name}, lay pipe that is "
                "approved under buildings, such as schedule 40 (rule line_building_distance)."
            )
        case "less cover than districts ask":
            return f"It is laid with {figures[0]} of cover; some districts ask for {figures[1]}."
        case "not for hand digging":
            return (
                f"The trench is up to {figures[0]} deep: not for hand digging; have it "
                "dug by someone with the machine and the shoring."
            )
        case "shoring":
            return f"From {figures[0]} deep a trench must be shored or sloped back before entry."
        case "way out":
            return f"From {figures[0]} deep a way out must be within {figures[1]}."
        case "frost not given":
            return "The frost depth was not given: where the ground freezes, ask how deep."
        case "frost below cover":
            return (
                f"Frost goes {figures[0]} deep, below the pipe's least cover: the line is "
                "kept from freezing shut only by lying empty between rains, so it must fall all "
                "the way, with no sag, and its end must stay clear of ice and snow."
            )
        case "footing assumed":
            return (
                f"The footing of '{name}' is assumed to be {figures[0]} deep: dig beside it to see "
                "before the trench is dug."
            )
        case "sump near":
            return (
                f"The outlet of sump '{name}' is near the start of this line. It is not joined to "
                "it: join it only behind a check valve, and count its flow in the pipe's size."
            )
        case "permission":
            return f"'{name}': {caution.note}."
        case "no permission":
            return f"Ask who owns '{name}' for permission; none is noted."
        case "backwater valve":
            return (
                f"Where the sewer at '{name}' can back up, a backwater valve is asked for "
                "(International Plumbing Code 1101.9)."
            )
        case "invert not given":
            return (
                f"The invert of '{name}' was not given: measure that it lies at least "
                f"{figures[0]} below the ground there."
            )
        case "level too low":
            return (
                f"From the backsight on '{name}' the level stands below part of this line: set "
                "it up higher for rod readings."
            )
        case "apron over side":
            return (
                f"The stone apron reaches over the '{name}' side of the lot: get leave in writing "
                "from whoever owns the ground there before it is laid."
            )
    raise ValueError(f"no words for the caution {caution.code!r} of a line")


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


_NOT_GIVEN = "is not given: the bottom must stay"
_DISPOSAL_WELL = (
    "it may count as a disposal well (EPA Class V) that must be registered: ask the state before "
    "it is dug"
)


def pit_basis(site: Site, pit: SeepagePit) -> str:
    """Which method the pit is built by, and why."""
    given = "a" if pit.by_durations is not None else "no"
    why = f"since {given} rain table is given: {pit_rain_basis(site)}"
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
    own = [_pit_caution(shown, pit, each) for each in pit.warnings]
    soil = [soil_warning(shown, pit.rate, each) for each in pit.rate.warnings]
    return [*soil, *check_warnings(pit.governing), *own]


def soil_basis(soil: SoilRate) -> str:
    """How a soil's rate was found."""
    return {
        "measured": "measured rate from the site file",
        "trial pit": "trial pit, slowest filling (BRE Digest 365)",
        "percolation": "percolation test, by the hole's shape",
        "county form": "percolation test, county form",
        "texture": f"usual rate of {soil.texture} (Rawls, Brakensiek & Saxton 1982)",
    }[soil.basis]


def soil_warning(shown: Shown, rate: DesignRate, warning: SoilWarning) -> str:
    """What to be warned of in a soil's rate."""
    told = shown.rate(warning.rate_m_per_s)
    times = "once" if warning.count == 1 else f"{warning.count} times"
    return {
        "few fillings": (
            f"the trial pit was filled {times}, {warning.asked} are asked for: the rate may be too "
            "high"
        ),
        "county form": (
            "the county form gives a higher rate than the hole's shape does: it is less safe"
        ),
        "texture alone": (
            "the rate follows from the texture alone: test the soil before digging a pit"
        ),
        "maybe expansive": (
            f"{warning.texture} may be expansive: ask a local engineer before wetting it with a pit"
        ),
        "slow": (
            f"slow soil: {told} after the factor of safety of {rate.safety_factor:g}, below the "
            f"least design rate, {shown.rate(warning.least_m_per_s)}"
        ),
        "not counted on": f"no more than {told} is counted on",
    }[warning.code]


def _pit_caution(shown: Shown, pit: SeepagePit, caution: Caution) -> str:
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


def way_reason(site: Site, way: Option) -> str:
    """What a way is, or why it cannot be taken; of one that leaves the water also where it goes."""
    if way.reason is not None:
        return reason_sentence(site, way.reason)
    if way.design is None:
        return left_sentence(way.asks)
    said = design_sentence(site, way.design)
    if way.correction is not None:
        said = f"With the soil at the wall put right: {said[:1].lower()}{said[1:]}"
    if isinstance(way.design, AsItIs):
        return f"{said} {downspout_sentence(site, way.design.goes)}"
    return said


def design_sentence(site: Site, design: Design) -> str:
    """What is built of one way."""
    match design:
        case AsItIs():
            return splash_block_sentence(site, design)
        case Extension():
            return extension_sentence(site, design)
        case Swale():
            return swale_sentence(site, design)
        case BuriedLine():
            return line_sentence(site, design)
        case SeepagePit():
            return pit_sentence(site, design)
        case unknown:
            assert_never(unknown)


def splash_block_sentence(site: Site, way: AsItIs) -> str:
    """What does where the water is left as it is."""
    beside = "; ".join(
        f"it is let go {length(site, each.away_m, 1)} from the {each.paving.kind} "
        f"'{each.paving.name}': ice in winter"
        for each in way.ice_beside
    )
    enough = "A splash block is enough"
    if beside:
        return f"{enough}, but mind ice: {beside}."
    return f"{enough}, but mind ice." if way.goes.crosses else f"{enough}."


def extension_sentence(site: Site, extension: Extension) -> str:
    """What to lay on the ground, and where its water goes."""
    return (
        f"Lay {length(site, extension.length_m)} of extension {extension_way(site, extension)}"
        f", falling {length(site, extension.fall_m)}{_on_blocks(site, extension)}; "
        f"{extension_ends(extension.ends)}."
    )


def extension_way(site: Site, extension: Extension) -> str:
    """Which way it is laid, and where its end lies, by tape from the wall.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", north_degrees=None)
    >>> laid = Extension((0, -0.1), (0, -1.9), 1.8, 180.0, 0.1, 0.1, None, None, "", None, "front")
    >>> extension_way(site, laid)
    'straight out from the front wall, toward the bottom of the plan'
    """
    way = direction(site, extension.bearing)
    if not extension.wall:
        return f"{way} ({extension.bearing:.0f} degrees from the plan's up)"
    wall = wall_words(extension.wall)
    if extension.is_straight_out:
        return f"straight out from {wall}, {way}"
    side = "right" if extension.aside_m > 0 else "left"
    return (
        f"{way}, its end {length(site, extension.out_m, 1)} out from {wall} and "
        f"{length(site, abs(extension.aside_m), 1)} to the {side} as you look away from it"
    )


def _on_blocks(site: Site, extension: Extension) -> str:
    if not extension.props:
        return ""
    blocks = "a block" if extension.props == 1 else f"{extension.props} blocks"
    return (
        f", propped on {blocks} where up to {length(site, extension.gap_m, 1)} of air is under it"
    )


def swale_sentence(site: Site, swale: Swale) -> str:
    """What to cut, and where its water goes."""
    fall = float(swale.bottom_m[0] - swale.bottom_m[-1])
    return (
        f"Cut a swale {length(site, float(swale.stations_m[-1]), 1)} long and "
        f"{length(site, swale.section.depth_m)} deep, its bottom falling {length(site, fall, 1)}, "
        f"nowhere flatter than {Shown.of(site).slope(swale.slope)}; {swale_ends(swale.ends)}."
    )


def line_sentence(site: Site, line: BuriedLine) -> str:
    """What to bury, and where it comes out."""
    pipe = line.profile.pipe
    return (
        f"Bury {length(site, line.length_m, 1)} of {pipe.size} pipe at "
        f"{Shown.of(site).slope(line.profile.limits.slope)}, the trench up to "
        f"{length(site, line.greatest_cut_m, 1)} deep; {line_ends(line.ends)}."
    )


def pit_sentence(site: Site, pit: SeepagePit) -> str:
    """What to dig and fill with stone, and what it holds."""
    body = pit.governing.pit
    plan = (
        f"{length(site, body.length_m, 1)} across"
        if body.kind == "cylinder"
        else f"{length(site, body.length_m, 1)} by {length(site, body.width_m, 1)}"
    )
    return (
        f"Dig a seepage pit (dry well, roof water only) {plan} and "
        f"{length(site, pit.dig_depth_m, 1)} deep, {length(site, pit.line.length_m, 1)} away; its "
        f"stone holds {Shown.of(site).volume_as_good(body.stored_m3, None)} of water."
    )


_FAILS: dict[FailureKind, str] = {
    "greater storm": "a greater storm comes",
    "extension blocked": "the extension is crushed, blocked or frozen",
    "swale blocked": "the swale is blocked or over capacity",
    "line blocked": "the line is blocked, frozen or over capacity",
    "line to pit blocked": "the line to the pit is blocked or frozen",
    "pit full": "the pit is full",
}
_FOOT = "at the foot of the downspout"


def what_fails(failure: Failure) -> str:
    """What fails, such as to follow *if*."""
    return _FAILS[failure.kind]


def failure_sentence(site: Site, failure: Failure) -> str:
    """What fails, where the water then comes out and where it runs."""
    ice = f"; {ice_words(failure.crosses)}" if failure.crosses else ""
    if failure.kind == "pit full":
        return (
            "When the pit is full, its water comes up through the grated cap of the observation "
            f"pipe and {_runs_over(failure)}{ice}."
        )
    return (
        f"If {what_fails(failure)}, the water comes out {_where(site, failure)}"
        f"{_then(site, failure)}{ice}."
    )


def relief_sentence(site: Site, failure: Failure) -> str:
    """What is planned against it; empty where nothing is."""
    if failure.relief == "corrected grade":
        return (
            "Correct the grade at the foot of the downspout: on that ground the water keeps "
            "away from the foundations."
        )
    if failure.fitting_m is None:
        return ""
    return (
        f"Set an overflow fitting with a grate on it {Shown.of(site).far(failure.fitting_m)} from "
        "the downspout: its ground is lower than the gap at the foot, and water from it keeps "
        "away. It relieves what is blocked beyond it; keep the stretch before it clear."
    )


def failure_words(site: Site, failure: Failure) -> str:
    """Where the water goes when a way fails, and what is planned against it."""
    sentence, relief = failure_sentence(site, failure), relief_sentence(site, failure)
    if relief:
        helps = (
            "" if failure.relieved or not failure.reaches_foundation else " It does not suffice."
        )
        return f"{sentence} Against it: {relief[:1].lower()}{relief[1:]}{helps}"
    if failure.is_safe:
        return sentence
    return f"{sentence} Nothing here helps against it: watch it in every storm."


def _where(site: Site, failure: Failure) -> str:
    if failure.comes_out == "bank":
        return f"over its bank {Shown.of(site).far(failure.bank_m)} from the downspout"
    if failure.comes_out == "swale end":
        return "at its end"
    return f"of the overflow gap {_FOOT}" if failure.comes_out == "overflow gap" else _FOOT


def _then(site: Site, failure: Failure) -> str:
    """Where the water runs from there."""
    end, reached = failure.end, failure.reached
    if reached is not None:
        came = (
            gets_in(reached)
            if reached.how == "gets in"
            else f"comes to the foundation: {reached_words(site, reached)}"
        )
        onto = "; from there it runs onto the neighbor's ground" if failure.onto_neighbor else ""
        return f" and {came}{onto}"
    if failure.onto_neighbor:
        return (
            f", keeps away from the foundations, and runs over {end.side} onto the neighbor's "
            "ground"
        )
    where = {
        "lot side": f"leaves the lot over {end.side}",
        "outlet": f"runs to the outlet '{end.name}'",
        "drain": f"runs into the drain '{end.name}'",
        "survey edge": "leaves the survey",
    }.get(end.kind, f"stands in {end.name}")
    return f", keeps away from the foundations and {where}"


def _runs_over(failure: Failure) -> str:
    """Where a full pit's water goes."""
    end = failure.end
    if failure.spreads:
        return "spreads over flat ground and stands there, away from the foundations"
    if end.kind == "lot side":
        return f"runs off over {end.side} of the lot ({end.neighbor})"
    if end.kind == "outlet":
        return f"runs to the outlet '{end.name}'"
    if end.kind == "drain":
        return f"runs to the drain '{end.name}'"
    if end.kind in ("low spot", "terminal basin"):
        return f"stands in {end.name or 'a shallow dip'}, away from the foundations"
    return "runs off the surveyed ground"
