"""The house first: a line for each trouble of a wall, opening and pond, the worst first.

In: findings. Out: plain sentences, the trade's term in parentheses.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from runoff.flow.model import DownspoutAnswer
from runoff.foundation.model import OpeningFinding, StandingWater, WallRun
from runoff.foundation.wording import run_length
from runoff.quantities import parse_length
from runoff.site.model import Site
from runoff.terrain.model import call_margin
from runoff.words.openings import opening_sentence
from runoff.words.standing import standing_sentence
from runoff.words.wall_lines import INDICATION, ponds_by_wall, wall_lines

if TYPE_CHECKING:
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
        return _WATER_GETS_IN, -found.freeboard, line
    if np.isnan(found.freeboard):
        return _NOT_SURVEYED, 0.0, sentence
    if found.freeboard < _SMALL_FREEBOARD:
        return _LITTLE_ROOM, -found.freeboard, line
    return None


def _pond(water: StandingWater, site: Site) -> _Line | None:
    """A pond near a wall that no run of wall tells of."""
    if water.storm_depth < _DAMP:
        return None
    sure = INDICATION if site.height_accuracy.indication_only else ""
    line = f"{standing_sentence(site, water)}{sure}"
    doubted = water.storm_depth <= call_margin(site.height_accuracy.sigma)
    if doubted and water.spills_to.kind != "nowhere":
        return _TOO_CLOSE, water.storm_depth, line
    rank = _STANDS_AGAINST if water.wetted > 0 else _STANDS_NEAR
    return rank, water.storm_depth, line


def _comes_back(site: Site, answer: DownspoutAnswer) -> _Line | None:
    if not answer.returns:
        return None
    near = run_length(site, site.rules["near_foundation"])
    line = (
        f"Downspout '{answer.name}': its water leaves the house and then comes back to within "
        f"{near} of a foundation."
    )
    return _COMES_BACK, answer.roof_volume, line
