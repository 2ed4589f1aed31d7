"""Why a way cannot be built here, why one is chosen, and whom to ask: sentences of the reasons.

In: the records of `runoff.discharge.reasons`, and the site whose units are shown. Out: clauses that
semicolons join, the first of which says most; a sentence; words for a place.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

from runoff.discharge.ground import Reached
from runoff.discharge.line.pipes import size_words
from runoff.discharge.reasons import (
    ApronOnNeighbor,
    AtTheWall,
    BelowOutlet,
    ByHowMuch,
    Clearance,
    ComesTo,
    DrawnRoute,
    EndsWrongly,
    EveryPlace,
    GrowsAtFoundation,
    Harm,
    Hindrance,
    InTheWay,
    LacksFall,
    LayerTooNear,
    LineToPit,
    LittleCover,
    Met,
    NeverAway,
    NoBuilding,
    NoDepthLeft,
    NoExtension,
    NoPlace,
    NoStraightLine,
    NoSwale,
    NotHere,
    NothingToCorrect,
    NothingToStore,
    NotLeft,
    NotNeeded,
    NoWayOut,
    OverflowsOn,
    PipeTooSmall,
    RoofNotGiven,
    Simple,
    Simply,
    SoilDoesNot,
    SoilTooSlow,
    StandsBack,
    Stopped,
    SwaleEnds,
    SwaleFails,
    TooDeep,
    TooFlat,
    TooMuchForSwale,
    TooMuchWater,
    TowardOutlet,
    Undercuts,
    WaterDoesHarm,
    WhyNot,
)
from runoff.foundation.model import Refusal, SafeReason
from runoff.foundation.walls import wall_words
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.words.amounts import direction, length
from runoff.words.water import over_sidewalk

_SIMPLY: dict[Simple, str | tuple[str, ...]] = {
    "no roof drains here": "no roof drains to this downspout, so that no line can be sized",
    "no length": "it has no length",
    "too short": "the line would be too short to lay",
    "no ground at the foot": "no ground was surveyed at the foot of the downspout",
    "does not come out": "it does not come out",
    "little cover under paving": "it would pass under paving with too little cover",
    "comes out under a drive": "it would come out under a drive",
    "farther than tried": "it would come out farther off than the nearest that were tried",
    "no ground at the swale's head": "there is no surveyed ground where the swale begins",
    "no ground where a swale would begin": (
        "there is no surveyed ground where the swale would begin"
    ),
    "leaves the swale": "the water would leave the swale on its way and not follow it out",
    "more water than the swale carries": "more water comes to it than it carries",
    "too fast for grass": (
        "its water would run faster than grass bears",
        "stone would be needed",
    ),
    "expansive soil": (
        "the soil is expansive: wetted by a pit, it would swell and move the foundation"
    ),
    "karst": (
        "the ground is karst: water led into it can open a sinkhole",
        "ask a geologist",
    ),
    "soil not tested": (
        "test the soil first: nothing is known of how fast it takes water, and a seepage pit is "
        "sized by that"
    ),
    "roof too large for a pit": "the roof brings more water than any pit of a lot's size holds",
    "outgrows its place": "the line comes in so deep that the pit outgrows its place",
    "no low ground for a pit": (
        "no dry ground on the lot lies as low as the downspout's foot: a full pit would come out "
        "at the wall"
    ),
    "no straight line to a pit": (
        "no straight line gets from the downspout to dry ground as low as its foot, clear of the "
        "buildings and of what must not be dug"
    ),
    "no depth for a pit": (
        "nowhere would enough depth be left for a pit below the line that feeds it"
    ),
}


def reason_sentence(site: Site, why: WhyNot) -> str:
    """Why a way cannot be built, as one sentence.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> reason_sentence(SimpleNamespace(units="ft"), TooDeep(0.6096))
    'it would be cut deeper than 2 ft (rule swale_greatest_cut).'
    """
    return f"{'; '.join(reason_clauses(site, why)).rstrip('.')}."


def reason_clauses(site: Site, why: WhyNot) -> list[str]:
    """The same in clauses, the first of which says most."""
    shown = Shown.of(site)
    match why:
        case Simply():
            told = _SIMPLY[why.code]
            return [told] if isinstance(told, str) else list(told)
        case NotNeeded():
            return [f"Not needed: the {why.without} works without it"]
        case RoofNotGiven():
            return ["No roof is given for it, so that how much water comes here is not known"]
        case WaterDoesHarm():
            return [_harmful_water(site, why)]
        case NotLeft() | ComesTo() | NeverAway():
            return _not_left(site, why)
        case NothingToCorrect() | NoBuilding() | SoilDoesNot():
            return [_no_correction(site, why)]
        case NoExtension():
            return _no_extension(site, why)
        case Stopped():
            return [_stopped(site, why)]
        case EndsWrongly():
            return [f"it would come out {_not_here(site, why.where)}"]
        case TooFlat():
            flat = (
                "the ground does not fall enough for a line with "
                f"{shown.height(why.cover_m)} of cover (rule line_cover) and a slope of "
                f"{Shown.slope(why.slope)} (rule line_slope) to come out on the {why.on}"
            )
            return [flat] if why.by is None else [flat, _by_how_much(shown, why.by)]
        case Undercuts():
            return _undercuts(site, why)
        case LittleCover():
            return [
                f"clear of the footing it would have too little cover under the drive '{why.drive}'"
            ]
        case TooMuchWater():
            largest = size_words(why.largest_in, metric=site.units == "m")
            return [
                f"its {shown.flow(why.flow_m3_per_s)} are more than one line of up to {largest} "
                "carries: share the roof between more downspouts"
            ]
        case PipeTooSmall():
            return _pipe_too_small(site, why)
        case StandsBack():
            return [
                "when the outlet stands in water, the water in the line would rise "
                f"{shown.height(why.above_m)} above the ground at the leader's foot and come out "
                "there"
            ]
        case ApronOnNeighbor():
            return [
                f"its stone apron, {shown.height(why.length_m)} long, would lie on the neighbor's "
                f"ground beyond the '{why.side}' side"
            ]
        case BelowOutlet():
            if why.cover_m is None:
                return [
                    f"with its cover and slope it would arrive below the invert of '{why.outlet}'"
                ]
            return [
                f"under {shown.height(why.cover_m)} of cover it does not come out above the bottom "
                f"of '{why.outlet}'"
            ]
        case DrawnRoute():
            inner = reason_clauses(site, why.why)
            head = "the route drawn for its line cannot be built: "
            return [*_led(head, inner), "no other route was tried"]
        case TowardOutlet():
            return _led(f"toward '{why.outlet}' ", reason_clauses(site, why.why))
        case LineToPit():
            return _led("the line to the pit cannot be built: ", reason_clauses(site, why.why))
        case NoStraightLine():
            return _no_straight_line(site, why)
        case InTheWay():
            return [_in_the_way(why)]
        case NoWayOut():
            place = "on the lot" if why.within == "lot" else "within the survey"
            return [f"it does not come out of the ground {place} where water may be let go"]
        case TooDeep():
            deepest = shown.far(why.greatest_m)
            return [f"it would be cut deeper than {deepest} (rule swale_greatest_cut)"]
        case TooMuchForSwale():
            return [
                f"More water comes than a swale {shown.far(why.deepest_m)} deep, the deepest cut, "
                "carries"
            ]
        case SwaleEnds():
            return [f"where it would come out, water must not be let go ({why.ground})"]
        case NoSwale():
            return _no_swale(site, why)
        case SwaleFails():
            inner = reason_clauses(site, why.why)
            return _led("The swale does not carry the water away: ", inner)
        case SoilTooSlow():
            return [
                f"the soil takes {shown.rate(why.rate_m_per_s)}, below the "
                f"{shown.rate(why.least_m_per_s)} that a seepage pit needs: no pit here"
            ]
        case NothingToStore():
            return [f"the downspout '{why.downspout}' carries no roof: nothing to store"]
        case LayerTooNear():
            groundwater = why.layer == "groundwater"
            what = "under the water table: groundwater stands" if groundwater else "bedrock lies"
            return [
                f"{what} {shown.far(why.deep_m)} below the ground, and the pit's bottom must stay "
                f"{shown.far(why.clear_m)} above it"
            ]
        case NoDepthLeft():
            above = "deepest that is dug" if why.above == "deepest dig" else why.above
            return [
                f"the line comes in so deep that less than {shown.far(why.least_m)} is left above "
                f"the {above}"
            ]
        case OverflowsOn():
            does = _OVERFLOWS.get(why.ground, why.ground)
            return [f"when the pit is full its water would {does}"]
        case GrowsAtFoundation():
            return [
                "when the pit is full its water spreads over flat ground and stands higher within "
                f"{shown.far(why.near_m)} of a foundation"
            ]
        case EveryPlace():
            return _led("every place tried for a pit is refused: ", reason_clauses(site, why.why))
        case NoPlace():
            kept = ", ".join(_keeps(shown, each) for each in why.keeps)
            keeps = f"keeps {kept} and " if kept else ""
            return [
                "in straight reach of the downspout, on ground no higher than its foot, no place "
                f"for a pit {keeps}lies whole on known, dry ground that is not too steep"
            ]
        case unknown:
            assert_never(unknown)


def _led(head: str, clauses: Sequence[str]) -> list[str]:
    return [f"{head}{clauses[0]}", *clauses[1:]]


def _ended(clauses: Sequence[str], tail: str) -> list[str]:
    return [*clauses[:-1], f"{clauses[-1]}{tail}"]


def reached_words(site: Site, reached: Reached) -> str:
    """How water comes to a foundation, such as to follow a colon.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> reached_words(SimpleNamespace(units="ft"), Reached("runs along", 3.048))
    'it runs along the wall for 10 ft'
    """
    far = Shown.of(site).far(reached.metres)
    words = {
        "comes back": f"it comes back within {far} of a foundation",
        "stands near": f"it stands within {far} of '{reached.name}'",
        "slopes back": f"the ground there slopes back against the {reached.name} wall",
        "holds water": f"the ground there holds water against the {reached.name} wall",
        "runs along": f"it runs along the wall for {far}",
        "stays near": f"it stays within {far} of a foundation",
        "shut in": "it is shut in by walls",
        "gets in": f"it {gets_in(reached)}",
    }
    return words[reached.how]


def gets_in(reached: Reached) -> str:
    """Where water gets in."""
    named = " and ".join(f"the {each.kind} '{each.name}'" for each in reached.openings)
    return f"gets in at {named}"


def _reached(site: Site, harm: Harm) -> str:
    return "" if harm.reached is None else reached_words(site, harm.reached)


def _harmful_water(site: Site, why: WaterDoesHarm) -> str:
    """What the water does from where a line, a swale or a full pit lets it go."""
    harm = why.harm
    subject = {
        "line": "its water",
        "swale": "from the swale's end the water",
        "full pit": "when the pit is full its water",
    }[why.water]
    match harm.code:
        case "foundation":
            reached = _reached(site, harm)
            return {
                "line": f"{subject} would not keep away: {reached}",
                "swale": f"from the swale's end {reached}",
                "full pit": f"{subject} reaches a foundation: {reached}",
            }[why.water]
        case "neighbor":
            onto = "onto a neighbor" if why.water == "line" else "onto the neighbor's ground"
            return f"{subject} would run {onto}"
        case "sidewalk":
            return f"{subject} would run {over_sidewalk(harm.sidewalk)}"
        case "survey's edge":
            return f"{subject} leaves the survey"
        case unknown:
            assert_never(unknown)


_WALL_DOES = {
    "too flat": "is too flat to drain away",
    "cut short: needs a drain or swale": "has no room to fall, and needs a drain or swale",
    "slopes back": "slopes back",
    "holds water": "holds water",
    "too close to call": "may or may not drain away: the heights are too close to call",
    "not surveyed": "was not surveyed",
    "drains away": "drains away",
}


def _not_left(site: Site, why: NotLeft | ComesTo | NeverAway) -> list[str]:
    """Why water is not left where it comes out."""
    shown = Shown.of(site)
    if isinstance(why, NeverAway):
        return [f"Its water never gets {shown.far(why.near_m)} away from the wall"]
    if isinstance(why, ComesTo):
        return [
            f"Its water comes {shown.far(why.near_m)} out to ground where it may not be let go: "
            f"{why.ground}"
        ]
    told = [] if why.wall is None else _at_the_wall(shown, why.wall)
    does = [
        {
            "foundation": f"comes to a foundation: {_reached(site, harm)}",
            "neighbor": "runs onto a neighbor's ground",
            "sidewalk": f"runs {over_sidewalk(harm.sidewalk)}",
            "survey's edge": "leaves the survey",
        }[harm.code]
        for harm in why.harms
    ]
    if does:
        told.append(f"let go where it is, its water {', and it '.join(does)}")
    return [f"{told[0][0].upper()}{told[0][1:]}", *told[1:]]


def _at_the_wall(shown: Shown, wall: AtTheWall) -> list[str]:
    near = shown.far(wall.near_m)
    match wall.code:
        case "not a slab":
            if not wall.kind:
                return [
                    f"the kind of {wall.building!r} is not given",
                    f"unless it is a slab, roof water is let go at least {near} out",
                ]
            return [
                f"{wall.building!r} has a {wall.kind}, beside which roof water is let go at least "
                f"{near} out"
            ]
        case "expansive soil":
            return [f"the soil is expansive, so roof water is let go at least {near} from the wall"]
        case "wall not surveyed":
            return ["the ground along the wall beside it was not surveyed"]
        case "wall fails":
            does = _WALL_DOES[wall.verdict or "not surveyed"]
            return [f"the ground along {wall_words(wall.wall)} of {wall.building!r} {does}"]
        case unknown:
            assert_never(unknown)


def _no_correction(site: Site, why: NothingToCorrect | NoBuilding | SoilDoesNot) -> str:
    """Why soil corrects nothing."""
    if isinstance(why, NoBuilding):
        return f"No building stands beside downspout {why.downspout!r}"
    if isinstance(why, NothingToCorrect):
        whose = f"of {why.building!r}" if why.building else "of the buildings"
        return {
            "no wall on the ground": (
                f"There is nothing to correct: no wall {whose} stands on the ground"
            ),
            "an indication only": (
                f"The heights along the walls {whose} give an indication only: level them first"
            ),
            "every wall drains": (
                f"There is nothing to correct: the ground drains away along every wall {whose}"
            ),
            "not by soil": f"No wall {whose} was found to fail in a way that soil corrects",
        }[why.code]
    head = f"Soil cannot correct the grade along {wall_words(why.wall)} of {why.building!r}"
    if why.refusal is not None:
        return f"{head}: {refusal_words(site, why.refusal)}"
    shown = Shown.of(site)
    short = Shown.of(site).length(why.short_m, 8)
    rises = " toward it" if why.there_m < 0 else ""
    return (
        f"{head}: for the {shown.height(why.asked_m)} of fall over {shown.far(why.reach_m)} asked "
        f"(rule soil_grade; {shown.height(abs(why.there_m))}{rises} is there) it would stand "
        f"{short} higher than siding, weeps, vents and sills allow"
    )


def refusal_words(site: Site, refusal: Refusal) -> str:
    """A clause for a homeowner: what soil would do, or what keeps it from being of use.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", lot=None)
    >>> refusal_words(site, Refusal("dams a wall", "rear", of="shed"))
    "it would dam water against the rear wall of 'shed'"
    """
    name, of = refusal.name, refusal.of
    over = Shown.of(site).length(refusal.over_m, 8)
    return {
        "buries paving": f"it would bury the {of} '{name}', which has to be relaid instead",
        "dams an easement": f"it would lie in the easement '{name}' and dam it",
        "water still stands": (
            f"the storm's water would still stand at the wall, {over} above the new ground"
        ),
        "reaches a neighbor": (
            "it would reach the lot line and send water onto the neighbor over "
            f"{_side_words(site, name)}"
        ),
        "dams a wall": f"it would dam water against {wall_words(name)} of {of!r}",
        "undoes another wall": "what it needs undoes what another wall nearby needs",
        "never passes": "no soil sloped away from it makes it pass",
    }[refusal.code]


def _side_words(site: Site, name: str) -> str:
    sides = () if site.lot is None else site.lot.sides
    return next((side.words for side in sides if side.name == name), name)


_ENDS = {
    "no ground": "would end where no ground was surveyed",
    "off the lot": "would end off the lot",
    "too near a foundation": "would end too near a foundation",
    "too flat to leave": "would end on ground too flat for the water to leave",
    "comes back to a foundation": "would end where the water comes back to a foundation",
    "stands near a foundation": "would end where the water stands near a foundation",
    "onto a neighbor": "would end where the water runs onto a neighbor",
    "over a public sidewalk": (
        "would end where the water runs over a public sidewalk, which city codes commonly forbid"
    ),
    "leaves the survey": "would end where the water leaves the survey",
    "safe": "would end where the water may be let go",
}


def hindrance_words(site: Site, one: Hindrance) -> str:
    """What speaks against an extension, such as to follow *it*.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> hindrance_words(SimpleNamespace(units="ft"), Hindrance("across paving", "path", "walk"))
    "would lie across the walk 'path'"
    """
    shown = Shown.of(site)
    named, within = f"the {one.kind} {one.name!r}", shown.far(one.within_m)
    match one.code:
        case "ends on unsafe ground":
            return _ENDS[one.ground]
        case "ends on keep-out":
            return f"would end on {named}"
        case "ends beside paving":
            return f"would end within {within} of {named}: ice in winter"
        case "ends beside lot side":
            return f"would end within {within} of {_side_words(site, one.name)} of the lot"
        case "ends where water comes to a foundation":
            onto = ", and runs onto a neighbor" if len(one.harms) > 1 else ""
            told = _reached(site, one.harms[0])
            return f"would end where the water comes to a foundation{onto}: {told}"
        case "leaves the lot":
            return "would leave the lot"
        case "through a building":
            return "would run through a building"
        case "across paving":
            return f"would lie across {named}"
        case "across retaining wall":
            return f"would cross the retaining wall {one.name!r}"
        case "across threshold":
            return f"would lie across the threshold of {named}"
        case "across well":
            return f"would cross {named}"
        case "does not fall":
            return (
                f"would not fall {Shown.slope(one.slope)} (rule extension_slope) with the "
                f"leader's end {shown.far(one.height_m)} over the ground (rule "
                "leader_outlet_height)"
            )
        case "hangs":
            return f"would hang more than {shown.far(one.height_m)} over the ground"
        case "sends water over a public sidewalk":
            return f"would send its water {over_sidewalk(one.name)}"
        case "sends water over a walk":
            return f"would send its water over {named} within {within}: ice"
        case unknown:
            assert_never(unknown)


_LEVEL = 5e-4  # less fall than this, 1 in 2000, is told as none


def _no_extension(site: Site, why: NoExtension) -> list[str]:
    shown = Shown.of(site)
    head = f"No extension up to {shown.far(why.limit_m)} works for downspout {why.downspout!r}"
    if why.most is None or why.best is None:
        return [f"{head}: no place within its reach lies on the lot and away from the foundations"]
    most, best = hindrance_words(site, why.most), why.best
    if best.slope != best.slope:
        falls = "was not surveyed"
    elif abs(best.slope) < _LEVEL:
        falls = "is level"
    else:
        way = "falls" if best.slope >= 0 else "rises"
        falls = f"{way} {Shown.slope(abs(best.slope))} to its end"
    lies = f"{shown.far(best.length_m)} long, lies on ground that {falls}"
    reasons = " and ".join(hindrance_words(site, each) for each in best.against)
    also = "" if best.against == (why.most,) else f", and {reasons}"
    return [
        f"{head}: {'every one' if why.every else 'most'} {most}",
        f"the best of them, {lies}{also}",
    ]


def _stopped(site: Site, stop: Stopped) -> str:
    shown = Shown.of(site)
    match stop.code:
        case "crosses keep-out":
            if stop.kind in ("septic field", "well"):
                return f"it would cross the {stop.kind} '{stop.name}'"
            return f"it would cross '{stop.name}' ({stop.kind}), where nothing may be dug"
        case "under a building":
            return f"it would run under the {stop.name}"
        case "along a building":
            return (
                f"it would run along the {stop.name}: a line must be {shown.far(stop.clear_m)} "
                f"clear of it within its first {shown.height(stop.within_m)}"
            )
        case "near a building":
            return f"it would come within {shown.far(stop.clear_m)} of the {stop.name}"
        case "leaves the lot":
            return f"it would leave the lot over the '{stop.name}' side"
        case "leaves the survey":
            return "it would leave the survey"
        case unknown:
            assert_never(unknown)


_OUT_ON: dict[SafeReason, str] = {
    "no ground": "where no ground was surveyed",
    "too near a foundation": "too near a foundation",
    "too flat to leave": "on ground too flat for the water to leave",
    "comes back to a foundation": "where its water would come back to a foundation",
    "stands near a foundation": "where its water would stand near a foundation",
    "onto a neighbor": "where its water would run onto a neighbor",
    "over a public sidewalk": (
        "where its water would run over a public sidewalk, which city codes commonly forbid"
    ),
    "leaves the survey": "where its water would leave the survey",
    "off the lot": "off the lot",
    "safe": "where water may be let go",
}


def _not_here(site: Site, where: NotHere) -> str:
    within = Shown.of(site).far(where.within_m)
    match where.code:
        case "on paving":
            return f"on the {where.kind} '{where.name}'"
        case "in keep-out":
            return f"in '{where.name}' ({where.kind})"
        case "ices paving":
            return f"within {within} of the {where.kind} '{where.name}', which it would ice"
        case "near lot side":
            return f"within {within} of the '{where.name}' side"
        case ground:
            return _OUT_ON[ground]


def _by_how_much(shown: Shown, by: ByHowMuch) -> str:
    told = (
        "held at its least slope the bottom of the pipe still lies "
        f"{shown.height(by.below_m)} below the ground {shown.height(by.out_m)} out"
    )
    if by.cover_m is None:
        return told
    return f"{told}, and with {shown.height(by.cover_m)} of cover it would come out"


def _undercuts(site: Site, why: Undercuts) -> list[str]:
    if why.what == "swale":
        return [f"it would undercut the footing of '{why.building}'"]
    told = (
        f"the trench would undercut the footing of the {why.building}: nothing is dug below a line "
        "at 45 degrees from the footing's bottom edge"
    )
    if why.assumed_m is None:
        return [told]
    depth = Shown.of(site).fine(why.assumed_m)
    return [told, f"its depth is not given and {depth} is assumed"]


def _pipe_too_small(site: Site, why: PipeTooSmall) -> list[str]:
    shown, larger = Shown.of(site), size_words(why.needed_in, metric=site.units == "m")
    if why.carries_m3_per_s is None:
        small = "it is smaller than the leader"
    else:
        small = (
            f"at its least slope it carries {shown.flow(why.carries_m3_per_s)} full, and "
            f"{shown.flow(why.flow_m3_per_s)} come"
        )
    return [f"the {why.size} pipe chosen is too small: {small}", f"take {larger}"]


def _no_straight_line(site: Site, why: NoStraightLine) -> list[str]:
    outlets = " and one to each outlet" if why.to_outlets else ""
    head = f"no straight line works, of one every {why.apart_degrees:.0f} degrees{outlets}: "
    met = [clause for each in why.most for clause in _met(site, each)]
    told = _led(head, met or ["every direction leads under or along the building"])
    if why.nearest is not None:
        nearest = _by_how_much(Shown.of(site), why.nearest)
        told.append(f"of those that lack fall, the nearest to it: {nearest}")
    return [*told, "lines with bends are tried only where a route is drawn"]


def _met(site: Site, met: Met) -> list[str]:
    clauses = reason_clauses(site, met.why)
    return _ended(clauses, f" (in {met.times} directions)") if met.times > 1 else clauses


def _in_the_way(why: InTheWay) -> str:
    match why.code:
        case "building in the way":
            return f"'{why.name}' is in the way"
        case "well in the way":
            return f"the {why.kind} '{why.name}' is in the way"
        case "barrier in the way":
            return f"the barrier '{why.name}' is in the way"
        case "paving in the way":
            return f"the {why.kind} '{why.name}' is in the way: it would need a culvert under it"
        case "keep-out in the way":
            return f"the keep-out '{why.name}' is in the way"
        case unknown:
            assert_never(unknown)


def _no_swale(site: Site, why: NoSwale) -> list[str]:
    met = [clause for each in why.most for clause in reason_clauses(site, each)]
    told = _led("No line for a swale was found: ", met or ["no direction is open"])
    return told if why.lacks is None else _ended(told, f". {_lacks(site, why.lacks)}")


def _lacks(site: Site, lacks: LacksFall) -> str:
    """The fall asked and found along the line that has most of it, and where."""
    found = length(site, abs(lacks.found_m))
    if found == length(site, 0.0):
        lies = "as high as at the swale's head"
    else:
        lies = f"{found} {'lower' if lacks.found_m > 0 else 'higher'} than at the swale's head"
    return (
        f"The most fall was found {length(site, lacks.away_m)} from the downspout "
        f"{direction(site, lacks.bearing_degrees)}: there the ground lies {lies}, and "
        f"{length(site, lacks.asked_m)} lower is asked, its depth and the fall of its grade (rules "
        "swale_grade, swale_grade_beyond)"
    )


_OVERFLOWS: dict[SafeReason, str] = {
    "too near a foundation": "come out too near a foundation",
    "comes back to a foundation": "come back to a foundation",
    "stands near a foundation": "stand near a foundation",
    "onto a neighbor": "run onto the neighbor's ground",
    "over a public sidewalk": "run over a public sidewalk, which city codes commonly forbid",
    "leaves the survey": "leave the surveyed ground, and where it goes from there is not known",
    "no ground": "come out where no ground was surveyed",
    "off the lot": "come out off the lot",
}


def clearance_name(each: Clearance) -> str:
    """What a pit keeps away from.

    Examples
    --------
    >>> clearance_name(Clearance("foundation", "house", 3.0))
    "the house's foundation"
    """
    return {
        "foundation": f"the {each.name}'s foundation",
        "lot line": f"the {each.name} lot line",
        "named": f"the {each.name}",
        "another pit": "another seepage pit",
        "groundwater": "the groundwater",
        "bedrock": "the bedrock",
    }[each.of]


def _keeps(shown: Shown, each: Clearance) -> str:
    name = clearance_name(each)
    return f"{shown.far(each.least_m)} from {name}" if each.least_m > 0 else f"clear of {name}"
