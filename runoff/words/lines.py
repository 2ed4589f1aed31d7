"""A buried line in words: where it ends, its fittings, what it passes and what to mind.

In: records of a line, and how quantities are shown. Out: words for the one who lays it.
"""

from __future__ import annotations

from runoff.discharge.pipes import PipeAtFlow
from runoff.discharge.ways import BuriedLine, Caution, Crossing, Fitting, LineEnd
from runoff.flow.sentences import ice_words
from runoff.quantities import Shown

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
    >>> from runoff.discharge.pipes import pipe_at_flow, pipe_of
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
    return [first, *(_caution(shown, each) for each in line.cautions)]


def _beside_footing(shown: Shown, cover_m: float) -> str:
    return f"as little as {shown.height(cover_m)} of cover beside the footing; {_PROTECT}"


def _caution(shown: Shown, caution: Caution) -> str:
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
