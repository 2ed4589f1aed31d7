"""What in the findings a person should act on, the house first: a line for each trouble, the
worst first.

In: findings. Out: plain sentences, the trade's term in parentheses.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from runoff.flow.downspouts import implications_of, public_sidewalk
from runoff.flow.model import DownspoutAnswer, EngineComparison
from runoff.flow.second_engine import ROUNDING_M
from runoff.foundation.model import OpeningFinding, StandingWater, WallRun
from runoff.quantities import Shown, parse_length
from runoff.site.model import Downspout, Site
from runoff.terrain.model import call_margin
from runoff.words.amounts import run_length
from runoff.words.missing import suspect_reason
from runoff.words.notices import notices_in_words
from runoff.words.walls import INDICATION, ponds_by_wall, wall_lines
from runoff.words.water import opening_sentence, over_sidewalk, standing_sentence

if TYPE_CHECKING:
    from runoff.flow.model import LowSpot
    from runoff.inspection import Findings

# An opening with less than this to spare is told, metres.
_SMALL_FREEBOARD = parse_length("4 in")
# Water shallower than this is not told from damp ground, metres (about 1/4 in).
_DAMP = parse_length("1/4 in")
# What would go wrong, the worst first.
(
    _WATER_GETS_IN,
    _STANDS_AGAINST,
    _COMES_BACK,
    _SLOPES_BACK,
    _TOO_FLAT,
    _CUT_SHORT,
    _STANDS_NEAR,
    _TOO_CLOSE,
    _LITTLE_ROOM,
    _NOT_SURVEYED,
) = range(10)
_RANK_OF_RUN = {
    "holds water": _STANDS_AGAINST,
    "slopes back": _SLOPES_BACK,
    "too flat": _TOO_FLAT,
    "cut short: needs a drain or swale": _CUT_SHORT,
    "too close to call": _TOO_CLOSE,
    "not surveyed": _NOT_SURVEYED,
}

# Rank, how bad within it (greater is worse), and the line.
_Line = tuple[int, float, str]


def headlines_of(findings: Findings) -> tuple[str, ...]:
    """What needs attention at the house, as `headlines`."""
    found = findings.at_the_wall
    return headlines(findings.site, found.openings, found.runs, found.standing, findings.downspouts)


def headlines(
    site: Site,
    openings: Sequence[OpeningFinding],
    runs: Sequence[WallRun],
    standing: Sequence[StandingWater],
    downspouts: Sequence[DownspoutAnswer],
) -> tuple[str, ...]:
    """Write what needs attention at the house, ranked by what would go wrong.

    Water that gets in comes first, then water that stands against a wall, downspouts whose water
    comes back, ground that slopes back, is too flat or is cut short, ponds near a wall, calls that
    are too close, openings with less than 4 in to spare, and what was not surveyed. Within a rank
    the worse comes first. Runs of one wall with one trouble share a line. Where all is well there
    is no line.

    Parameters
    ----------
    site : Site
    openings : sequence of OpeningFinding
    runs : sequence of WallRun
    standing : sequence of StandingWater
    downspouts : sequence of DownspoutAnswer

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> headlines(read_site(sample_folder() / "site.toml"), (), (), (), ())
    ()
    """
    lines = [_opening(site, each) for each in openings]
    lines += [
        (_RANK_OF_RUN[line.verdict], line.bad, line.text)
        for line in wall_lines(site, runs, standing)
    ]
    with_walls = [water for told in ponds_by_wall(runs, standing).values() for water in told]
    lines += [_pond(each, site) for each in standing if each not in with_walls]
    lines += [_comes_back(site, each) for each in downspouts]
    told = [line for line in lines if line is not None]
    return tuple(line for _, _, line in sorted(told, key=lambda each: (each[0], -each[1])))


def _opening(site: Site, found: OpeningFinding) -> _Line | None:
    sure = INDICATION if site.height_accuracy.indication_only else ""
    sentence = opening_sentence(site, found)
    line = f"{sentence}{sure}"
    if found.reached:
        return _WATER_GETS_IN, -found.freeboard_m, line
    if np.isnan(found.freeboard_m):
        return _NOT_SURVEYED, 0.0, sentence
    if found.freeboard_m < _SMALL_FREEBOARD:
        return _LITTLE_ROOM, -found.freeboard_m, line
    return None


def _pond(water: StandingWater, site: Site) -> _Line | None:
    """A pond near a wall that no run of wall tells of."""
    if water.storm_depth_m < _DAMP:
        return None
    sure = INDICATION if site.height_accuracy.indication_only else ""
    line = f"{standing_sentence(site, water)}{sure}"
    doubted = water.storm_depth_m <= call_margin(site.height_accuracy.sigma)
    if doubted and water.spills_to.kind != "nowhere":
        return _TOO_CLOSE, water.storm_depth_m, line
    rank = _STANDS_AGAINST if water.wetted_m > 0 else _STANDS_NEAR
    return rank, water.storm_depth_m, line


def _comes_back(site: Site, answer: DownspoutAnswer) -> _Line | None:
    if not answer.returns:
        return None
    near = run_length(site, site.rules["near_foundation"])
    line = (
        f"Downspout '{answer.name}': its water leaves the house and then comes back to within "
        f"{near} of a foundation."
    )
    return _COMES_BACK, answer.roof_volume_m3, line


def attention_of(findings: Findings) -> tuple[str, ...]:
    """The house first, then downspouts, suspect heights, and the engines where they differ."""
    site = findings.site
    told = [*notices_in_words(site, site.questions), *findings.headlines]
    told += [told for answer in findings.downspouts for told in downspout_attention(site, answer)]
    told += [unanswered_sentence(one) for one in findings.unanswered]
    told += [_question(site, spot) for spot in findings.low_spots if spot.on_lot and spot.question]
    told += [
        f"Height '{suspect.name}' {suspect_reason(site, suspect)}"
        for suspect in findings.terrain.suspects
    ]
    if findings.second_engine.agrees is False:
        told.insert(0, engines_note(findings.second_engine))
    return tuple(told)


def unanswered_sentence(downspout: Downspout) -> str:
    """What is said of a downspout that the survey does not reach."""
    return (
        f"Downspout '{downspout.name}': no height was taken around its foot, so that nothing is "
        "said of where its water goes, and it is not counted in the storm; take heights there."
    )


def _question(site: Site, spot: LowSpot) -> str:
    """What to look at before a low spot that is hardly ground is believed."""
    shown = Shown.of(site)
    who = f"{spot.name[0].upper()}{spot.name[1:]}"
    area = shown.found_area(spot.area_m2)
    if spot.question == "deep":
        return (
            f"{who} would be {shown.height(spot.depth_m)} deep over {area}. Is there such a pit? "
            "If not, heights are wrong there, or the water has a way out that they do not show (a "
            "culvert, a drain, a bridge); do not build on what is said of it."
        )
    return (
        f"{who}, {shown.height(spot.depth_m)} deep over {area}, has sheer sides and a flat floor. "
        "Does a building stand there that is not drawn, or did one? Draw it as [[building]], or "
        "take heights; do not build on what is said of it."
    )


def downspout_attention(site: Site, answer: DownspoutAnswer) -> list[str]:
    """A sentence for each implication but that its water comes back, told at the house."""
    shown = Shown.of(site)
    near, reach = site.rules["near_foundation"], site.rules["foundation_reach"]
    sidewalk = public_sidewalk(answer.crosses)
    public = "" if sidewalk is None else over_sidewalk(sidewalk.name)
    words = {
        "runs beside a foundation": (
            f"{shown.height(answer.length_within_near_m)} of its water's way lie within "
            f"{shown.height(near)} of a foundation"
        ),
        "stays near a foundation": f"its water stays within {shown.height(reach)} of a foundation",
        "shut in": "its water is shut in by walls",
        "onto a neighbor": (f"its water runs onto a neighbor's ground over {answer.end.side}"),
        "over a public sidewalk": f"its water runs {public}",
    }
    return [
        f"Downspout '{answer.name}': {words[implied]}."
        for implied in implications_of(site, answer)
        if implied != "comes back"
    ]


def engines_note(found: EngineComparison) -> str:
    """How far the two engines agree, in a sentence or two.

    Examples
    --------
    >>> engines_note(EngineComparison(0.0, 1.0, 0.0, None, "not installed"))
    'The second engine (richdem) is not installed; depressions were computed once only.'
    """
    if found.not_compared == "no ground":
        return "There is no ground to compare engines on."
    if found.not_compared == "not installed":
        return "The second engine (richdem) is not installed; depressions were computed once only."
    apart, deeper = found.greatest_difference_m, found.depth_difference_m
    without_end = found.not_compared == "storm without end"
    pools = (
        f" (in {found.pools_apart} of its pools the two let the overflow run to different sides; "
        "those were compared brim-full only)"
    )
    alike = "" if without_end else ", and leave the storm's water equally deep"
    said = (
        f"Both engines fill the ground to the same heights{alike}, drains left out"
        f"{pools if found.pools_apart and not without_end else ''}."
    )
    differs = []
    if apart:
        differs.append(f"the two engines fill the ground to heights up to {apart:.3g} m apart")
    if deeper > ROUNDING_M:
        differs.append(
            f"the two engines leave the storm's water up to {deeper:.3g} m deeper or shallower"
        )
    if differs:
        said = (
            f"DEFECT: {'; '.join(differs)}. Do not rely on this inspection before that is "
            "explained."
        )
    if without_end:
        said += " The storm's water was not compared: the second engine came to no end with it."
    return said
