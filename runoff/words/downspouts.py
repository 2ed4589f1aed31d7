"""Where a downspout's water goes in the storm, in one plain sentence for a homeowner."""

from __future__ import annotations

from runoff.flow.model import DownspoutAnswer
from runoff.flow.sentences import ice_words
from runoff.quantities import Shown, format_rain, format_volume, system_of
from runoff.site.model import Site

# A sentence that lists more low spots than this is no longer plain.
_MOST_NAMED = 2

BEYOND = {
    "street": "into the street",
    "alley": "into the alley",
    "neighbor": "onto the neighbor's ground",
    "open ground": "onto open ground",
    "unknown": "and whose ground lies beyond is not known",
}


def _feet(site: Site, metres: float) -> str:
    """A walked length, to the foot or the tenth of a metre: no path is known better."""
    if site.units == "m":
        return f"{metres:.1f} m"
    feet = round(metres / 0.3048)
    return "less than 1 ft" if feet == 0 else f"{feet} ft"


def _volume(site: Site, cubic_metres: float, good_to: float | None = None) -> str:
    return format_volume(cubic_metres, system_of(site.units), good_to)


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
    near = answer.length_within_near
    limit = Shown.of(site).far(site.rules["near_foundation"])
    if answer.returns:
        return (
            f"; on the way it comes back to within {limit} of a foundation, "
            f"{_feet(site, near)} of its way in all"
        )
    if near >= answer.length > 0 and round(near, 2) > 0:
        return f", and never gets {limit} away from the foundation"
    if answer.along > site.rules["along_foundation"]:
        return f"; {_feet(site, near)} of its way lie within {limit} of a foundation"
    return ""


def _fills(answer: DownspoutAnswer, site: Site) -> str:
    passed = [s for s in answer.on_the_way if s.overflows and s.name != answer.end.name]
    if not passed:
        return ""
    largest = sorted(passed, key=lambda s: -s.holds)[:_MOST_NAMED]
    named = [
        f"{'perhaps ' * s.perhaps}{s.name} (holds "
        f"{_volume(site, s.holds, s.area * site.height_accuracy.sigma)}"
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
    amount = _volume(site, answer.roof_volume) if answer.roof_volume > 0 else "any water"
    runs = f"runs {_feet(site, answer.length)}" if answer.length > 0.15 else "hardly moves"
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


def _ice(answer: DownspoutAnswer) -> str:
    return f"; {ice_words(answer.crosses)}" if answer.crosses else ""


def _rain(site: Site) -> str:
    return format_rain(site.storm.depth, system_of(site.units))
