"""Water in words: where a downspout's goes, what stands at a foundation, what gets into openings
(window wells, stairwells, doors, vents).

In: a site and a low spot's record. Out: a homeowner's sentences.

In: a site and an opening's finding. Out: a homeowner's sentence.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from runoff.flow.downspouts import PUBLIC
from runoff.flow.model import DownspoutAnswer, PathEnd
from runoff.flow.storm import LotFlow
from runoff.foundation.model import (
    Inflow,
    OpeningFinding,
    SafeArea,
    Spill,
    StandingWater,
    WettedWall,
)
from runoff.foundation.walls import WELLS, wall_words
from runoff.quantities import Shown
from runoff.site.model import Opening, Paving, Site
from runoff.terrain.model import call_margin
from runoff.words.amounts import found_rain, height, listed, main_sources, rain, run_length, volume

# A sentence that lists more low spots than this is no longer plain.
_MOST_NAMED = 2

BEYOND = {
    "street": "into the street",
    "alley": "into the alley",
    "neighbor": "onto the neighbor's ground",
    "open ground": "onto open ground",
    "unknown": "and whose ground lies beyond is not known",
}


def _volume(site: Site, cubic_metres: float, good_to: float | None = None) -> str:
    return Shown.of(site).volume_as_good(cubic_metres, good_to)


def _ending(answer: DownspoutAnswer) -> str:
    end = answer.end
    if end.kind == "lot side":
        return f"leaves the lot over {end.own_side}, {BEYOND[end.neighbor]}"
    if end.kind == "outlet":
        return f"reaches the outlet '{end.name}' ({end.neighbor})"
    if end.kind == "drain":
        return f"goes down the drain '{end.name}'"
    if end.kind == "terminal basin":
        return f"ends in {end.name}, ground shut in by walls with no way out"
    if end.kind == "low spot":
        doubted = any(spot.name == end.name and spot.in_doubt for spot in answer.on_the_way)
        if doubted:
            return f"ends in {end.name}, if that is there (it is too shallow to be sure of)"
        return f"ends in {end.name or 'a shallow dip'} and stands there"
    return "leaves the surveyed ground; where it goes from there is not known"


def _near(answer: DownspoutAnswer, site: Site) -> str:
    near = answer.length_within_near_m
    limit = Shown.of(site).far(site.rules["near_foundation"])
    if answer.returns:
        return (
            f"; on the way it comes back to within {limit} of a foundation, "
            f"{Shown.of(site).walked(near)} of its way in all"
        )
    if near >= answer.length_m > 0 and round(near, 2) > 0:
        return f", and never gets {limit} away from the foundation"
    if answer.along_m > site.rules["along_foundation"]:
        return f"; {Shown.of(site).walked(near)} of its way lie within {limit} of a foundation"
    return ""


def _fills(answer: DownspoutAnswer, site: Site) -> str:
    passed = [s for s in answer.on_the_way if s.overflows and s.name != answer.end.name]
    if not passed:
        return ""
    largest = sorted(passed, key=lambda s: -s.holds_m3)[:_MOST_NAMED]
    named = [
        f"{'perhaps ' * s.perhaps}{s.name} (holds "
        f"{_volume(site, s.holds_m3, s.area_m2 * site.height_accuracy.sigma)}"
        f"{', too shallow to be sure of' * s.in_doubt}"
        f"{', or runs past it: the ground parts water at its foot' * s.perhaps})"
        for s in passed
        if s in largest
    ]
    more = len(passed) - len(named)
    if more:
        named.append(f"{more} smaller one" + ("s" if more > 1 else ""))
    listed = " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)
    return f", fills {listed}"


def downspout_sentence(site: Site, answer: DownspoutAnswer) -> str:
    """Say in one sentence where a downspout's water goes in the storm."""
    amount = _volume(site, answer.roof_volume_m3) if answer.roof_volume_m3 > 0 else "any water"
    runs = (
        f"runs {Shown.of(site).walked(answer.length_m)}"
        if answer.length_m > 0.15
        else "hardly moves"
    )
    fills = _fills(answer, site)
    joint = ", and " if fills else " and "
    return (
        f"Of a storm of {_rain(site)}, the {amount} from downspout '{answer.name}' "
        f"{runs}{fills}{joint}{_ending(answer)}{_near(answer, site)}{_parted(answer)}"
        f"{_ice(answer)}."
    )


def _parted(answer: DownspoutAnswer) -> str:
    """Where the water may run instead, of a downspout that stands beside a divide."""
    if not answer.may_fill:
        return ""
    return (
        f"; but the ground parts water at its foot, and it may run into "
        f"{' or '.join(answer.may_fill)} instead"
    )


_FORBIDDEN = ", which city codes commonly forbid"


def ice_words(crossed: Sequence[Paving]) -> str:
    """What water freezes on along its way, such as to follow *it*; empty where on nothing."""
    named = [
        f"the {each.kind} '{each.name}'{_FORBIDDEN * (each.kind == PUBLIC)}" for each in crossed
    ]
    return f"on its way it crosses {' and '.join(named)}: ice in winter" if named else ""


def _ice(answer: DownspoutAnswer) -> str:
    return f"; {ice_words(answer.crosses)}" if answer.crosses else ""


def _rain(site: Site) -> str:
    return Shown.of(site).rain(site.storm.depth)


def standing_sentence(site: Site, told: StandingWater) -> str:
    """What the storm leaves in a low spot near a wall, what feeds it and where it spills."""
    where = _against(site, told)
    name = f"{told.low_spot[0].upper()}{told.low_spot[1:]}"
    storm = rain(site, site.storm.depth)
    if told.storm_depth_m <= 0:
        return f"{name}, {where}: dry in a storm of {storm}."
    wets = f" and wets {_wall_lengths(site, told.walls)}" if told.walls else ""
    first = (
        f"{name}, {where}: a storm of {storm} leaves water {height(site, told.storm_depth_m)} deep "
        f"({volume(site, told.storm_volume_m3, told.area_m2)}) in it{wets}."
    )
    margin = call_margin(site.height_accuracy.sigma)
    if told.storm_depth_m <= margin and told.spills_to.kind != "nowhere":
        return (
            f"{name}, {where}: as measured a storm of {storm} leaves water "
            f"{height(site, told.storm_depth_m)} deep in it, less than these heights tell from "
            f"none ({height(site, margin)}; too close to call).{_fed(told)}"
        )
    return f"{first}{_fed(told)}{_full(site, told)}"


def spill_words(spill: Spill) -> str:
    """Where a low spot spills to.

    Examples
    --------
    >>> spill_words(Spill("lot side", "rear")), spill_words(Spill("dip", joins=True))
    ('the rear side', 'the dip beside it (both become one)')
    """
    name = spill.name
    where = {
        "nowhere": "no way out",
        "low spot": name,
        "dip": "the dip beside it" if spill.joins else "a shallow dip",
        "lot side": PathEnd("lot side", name, 0.0, 0.0).side,
        "outlet": f"the outlet '{name}'",
        "drain": f"the drain '{name}'" if name else "a drain",
        "survey edge": "the survey's edge",
    }[spill.kind]
    return f"{where} (both become one)" if spill.joins else where


def _against(site: Site, told: StandingWater) -> str:
    if not told.walls:
        return f"{run_length(site, told.distance_m)} from '{told.building}'"
    if len(told.walls) == 1:
        (wall,) = told.walls
        return f"against {wall_words(wall.wall_name)} of '{wall.building}'"
    buildings = dict.fromkeys(f"'{wall.building}'" for wall in told.walls)
    return f"against walls of {listed(list(buildings))}"


def _wall_lengths(site: Site, walls: Sequence[WettedWall]) -> str:
    """How much of which wall is wet, buildings named where there are several."""
    whole = run_length(site, sum(wall.length_m for wall in walls))
    if len(walls) == 1:
        return f"{whole} of it"
    several = len({wall.building for wall in walls}) > 1
    each = ", ".join(
        f"{f'{w.building} ' if several else ''}{w.wall_name} {run_length(site, w.length_m)}"
        for w in walls
    )
    return f"{whole} of wall ({each})"


def _fed(told: StandingWater) -> str:
    words = main_sources(told.feeds_m3)
    return f" Its water comes from {words}." if words else ""


def _full(site: Site, told: StandingWater) -> str:
    if told.spills_to.kind == "nowhere":
        return " Walls shut it in: it has no way out (terminal basin)."
    onto = spill_words(told.spills_to)
    if not np.isfinite(told.rain_to_fill_m):
        return f" No storm tried fills it; brim-full it would spill to {onto}."
    fills = f" {found_rain(site, told.rain_to_fill_m)} of rain"
    if told.undecided:
        names = " and ".join(f"'{name}'" for name in told.undecided)
        other = (
            found_rain(site, told.rain_otherwise_m)
            if np.isfinite(told.rain_otherwise_m)
            else "none"
        )
        fills += f" (or {other}, as water parts beside {names})"
    if told.overflows:
        return f"{fills} fills it; then it spills to {onto}."
    return f"{fills} would fill it; it would then spill to {onto}."


def opening_sentence(site: Site, finding: OpeningFinding) -> str:
    """Whether and when water gets in at an opening, and what brings it."""
    opening = site.openings[finding.number]
    if np.isnan(finding.edge_m):
        return _to_measure(opening)
    if np.isnan(finding.freeboard_m):
        return _no_ground(opening)
    edge = _edge_word(opening)
    storm = rain(site, site.storm.depth)
    source = inflow_words(finding.inflow)
    if finding.reached and finding.inflow.streams:
        said = (
            f"water gets in. {source[0].upper()}{source[1:]} runs against it in a storm of "
            f"{storm}, and the ground there is no lower than its {edge}; it does so from "
            f"{found_rain(site, finding.rain_to_reach_m)} of rain on"
        )
        return f"{_who(opening)}: {said}.{_own_rain(site, opening)}"
    if finding.reached:
        said = (
            f"water gets in. In a storm of {storm} it stands {height(site, finding.freeboard_m)} "
            f"over the {edge}; it reaches the {edge} at "
            f"{found_rain(site, finding.rain_to_reach_m)} of rain"
        )
    elif np.isfinite(finding.rain_to_reach_m):
        said = (
            f"water stays out in a storm of {storm}, {_room(site, finding, edge)}; "
            f"it would get in at {found_rain(site, finding.rain_to_reach_m)} of rain"
        )
    else:
        said = f"water stays out, {_room(site, finding, edge)}; no storm reaches it"
    told = f"{said}, from {source}" if source else said
    close = _how_close(site, finding, edge)
    return f"{_who(opening)}: {told}.{close}{_own_rain(site, opening)}"


def inflow_words(inflow: Inflow) -> str:
    """What brings the water; empty where nothing does.

    Examples
    --------
    >>> inflow_words(Inflow(streams=("downspout 'NE'",)))
    "the stream from downspout 'NE'"
    >>> inflow_words(Inflow(feeds_m3={"yard": 1.0}))
    "the yard's own rain (100 %)"
    """
    if inflow.streams:
        return f"the stream from {listed(inflow.streams)}"
    return main_sources(inflow.feeds_m3)


def _edge_word(opening: Opening) -> str:
    return "rim" if opening.kind in WELLS else "sill"


def _who(opening: Opening) -> str:
    return f"{opening.kind[0].upper()}{opening.kind[1:]} '{opening.name}'"


def _to_measure(opening: Opening) -> str:
    what = (
        "the lowest point of its rim" if opening.kind in WELLS else "its sill (its lowest way in)"
    )
    return (
        f"{_who(opening)}: not judged. Measure the height of {what} "
        "on the same datum as the spot heights."
    )


def _no_ground(opening: Opening) -> str:
    return (
        f"{_who(opening)}: not judged. No ground was surveyed beside it; "
        "take spot heights at the wall on both sides of it and just outside it."
    )


def _how_close(site: Site, finding: OpeningFinding, edge: str) -> str:
    """What the heights' accuracy leaves open about an opening that water comes to."""
    margin = call_margin(site.height_accuracy.sigma)
    if not np.isfinite(finding.rain_to_reach_m) or abs(finding.freeboard_m) >= margin:
        return ""
    return (
        f" That is within {height(site, margin)}, which these heights cannot tell (too close to "
        f"call): take the {edge} and the ground beside it again with a better level."
    )


def _room(site: Site, finding: OpeningFinding, edge: str) -> str:
    if finding.freeboard_m < 0:
        return (
            f"though ground beside it lies {height(site, finding.freeboard_m)} above its {edge}: "
            "check both heights, for any stream along the wall would get in"
        )
    return f"with {height(site, finding.freeboard_m)} to spare below its {edge} (freeboard)"


def _own_rain(site: Site, opening: Opening) -> str:
    """What the rain that falls into a well without a drain does."""
    if opening.kind not in WELLS or opening.drained:
        return ""
    if opening.floor is None or opening.rim is None:
        return " It has no drain: rain that falls into it stands on its floor."
    deep = opening.rim - opening.floor
    if site.storm.depth > deep:
        return f" It has no drain: rain falling into it alone fills it, {height(site, deep)} deep."
    return (
        " It has no drain: rain falling into it alone stands "
        f"{rain(site, site.storm.depth)} deep on its floor in that storm."
    )


def reason_at(site: Site, flow: LotFlow, area: SafeArea, x: float, y: float) -> str:
    """One sentence on letting water go at a plan position.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.rules import Rules
    >>> from runoff.terrain.model import Grid
    >>> site = SimpleNamespace(units="ft", rules=Rules())
    >>> flow = SimpleNamespace(grid=Grid(rows=1, cols=2, cell_size=1.0, x0=0.0, y0=0.0))
    >>> area = SafeArea(np.array([[0, 2]], dtype=np.uint8))
    >>> print(reason_at(site, flow, area, 1.5, 0.5))
    Water must not be let go here: it is less than 5 ft from a foundation.
    >>> print(reason_at(site, flow, area, 9.0, 0.5))
    No ground was surveyed here.
    """
    row, col = flow.grid.cell(x, y)
    if not flow.grid.holds(row, col):
        return "No ground was surveyed here."
    return _sentence(site, area.reason(row, col))


def _sentence(site: Site, reason: str) -> str:
    rules = site.rules

    def length(name: str) -> str:
        return Shown.of(site).far(rules[name])

    if reason == "safe":
        return (
            "Water may be let go here: it runs off, keeps away from the foundations and reaches "
            "neither a neighbor nor a public sidewalk; mind ice where it crosses a walk or drive."
        )
    if reason == "no ground":
        return "No ground was surveyed here."
    if reason == "off the lot":
        return "This is not on the lot."
    why = {
        "too near a foundation": f"it is less than {length('near_foundation')} from a foundation",
        "too flat to leave": (
            f"over its first {length('discharge_grade_length')} the ground does not fall enough, "
            "or not by more than the survey can tell, so the water stands"
        ),
        "comes back to a foundation": (
            f"it would come back within {length('near_foundation')} of a foundation"
        ),
        "stands near a foundation": (
            f"it would stand within {length('pond_foundation_distance')} of a foundation"
        ),
        "onto a neighbor": "gathered at one point it would run onto the neighbor's ground",
        "over a public sidewalk": (
            "it would run over a public sidewalk, which city codes commonly forbid"
        ),
        "leaves the survey": "it leaves the survey, and where it goes from there is not known",
    }
    return f"Water must not be let go here: {why[reason]}."


def over_sidewalk(name: str) -> str:
    """Over which public sidewalk water runs, such as to follow *it runs*."""
    return f"over the public sidewalk '{name}', which city codes commonly forbid"
