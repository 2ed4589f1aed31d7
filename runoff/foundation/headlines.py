"""The house first: one line for each wall run, opening and pond that needs attention, worst first.

In: what the other files of this room found. Out: plain sentences, the trade's term in parentheses.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from runoff.flow.model import DownspoutAnswer
from runoff.foundation.grade import call_margin
from runoff.foundation.model import OpeningFinding, StandingWater, WallRun
from runoff.foundation.walls import Wall, wall_words, walls_of
from runoff.foundation.wording import height, run_length
from runoff.quantities import parse_length
from runoff.site.model import Site

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
# A fall smaller than this over a whole profile is level ground, metres (1/16 in).
_LEVEL = 0.0016
_INDICATION = " Indication only: these heights are too rough for a verdict."

# Rank, how bad within it (greater is worse), and the line.
_Line = tuple[int, float, str]


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
    the worse comes first. Where all is well there is no line.

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
    lines += [_run(site, each, _told_with(each, runs, standing)) for each in runs]
    lines += [_pond(each, runs, site) for each in standing]
    lines += [_comes_back(site, each) for each in downspouts]
    told = [line for line in lines if line is not None]
    return tuple(line for _, _, line in sorted(told, key=lambda each: (each[0], -each[1])))


def _opening(site: Site, found: OpeningFinding) -> _Line | None:
    sure = _INDICATION if site.height_accuracy.indication_only else ""
    line = f"{found.sentence}{sure}"
    if found.reached:
        return _WATER_GETS_IN, -found.freeboard, line
    if np.isnan(found.freeboard):
        return _NOT_SURVEYED, 0.0, found.sentence
    if found.freeboard < _SMALL_FREEBOARD:
        return _LITTLE_ROOM, -found.freeboard, line
    return None


def _pond(water: StandingWater, runs: Sequence[WallRun], site: Site) -> _Line | None:
    """A pond near a wall; one that a run of wall already tells of has no line of its own."""
    if water.storm_depth < _DAMP:
        return None
    sure = _INDICATION if site.height_accuracy.indication_only else ""
    if water.wetted > 0:
        held = any(r.verdict == "holds water" and r.building == water.building for r in runs)
        return None if held else (_STANDS_AGAINST, water.storm_depth, f"{water.sentence}{sure}")
    return _STANDS_NEAR, water.storm_depth, f"{water.sentence}{sure}"


def _comes_back(site: Site, answer: DownspoutAnswer) -> _Line | None:
    if not answer.returns:
        return None
    near = run_length(site, site.rules["near_foundation"])
    line = (
        f"Downspout '{answer.name}': its water leaves the house and then comes back to within "
        f"{near} of a foundation."
    )
    return _COMES_BACK, answer.roof_volume, line


def _told_with(
    run: WallRun, runs: Sequence[WallRun], standing: Sequence[StandingWater]
) -> list[StandingWater]:
    """The ponds that a run's line tells of: those of its building, with the longest wet run."""
    wet = [r for r in runs if r.verdict == "holds water" and r.building == run.building]
    if not wet or run is not max(wet, key=lambda r: r.end - r.start):
        return []
    return [w for w in standing if w.building == run.building and w.wetted > 0]


def _run(site: Site, run: WallRun, ponds: Sequence[StandingWater]) -> _Line | None:
    if run.verdict not in _RANK_OF_RUN:
        return None
    worst = run.worst
    said = {
        "holds water": lambda: _holds_water(ponds),
        "slopes back": lambda: _slopes_back(site, run),
        "too flat": lambda: _too_flat(site, run),
        "cut short: needs a drain or swale": lambda: _cut_short(site, run),
        "too close to call": lambda: _too_close(site, run),
        "not surveyed": lambda: "the ground was not surveyed here (not surveyed).",
    }[run.verdict]()
    remarks = "".join(f" {remark}" for remark in run.remarks)
    sure = _INDICATION if run.indication else ""
    short = worst.required - worst.fall
    bad = run.end - run.start if np.isnan(short) else short
    return _RANK_OF_RUN[run.verdict], bad, f"{_where(site, run)}: {said}{remarks}{sure}"


def _where(site: Site, run: WallRun) -> str:
    """The run's place as someone who faces the wall from outside would say it."""
    walls = walls_of(site.buildings)
    wall = next(w for w in walls if (w.building, w.number) == (run.building, run.wall))
    start, end = run.start, run.end
    if not _starts_left(wall):
        start, end = wall.length - run.end, wall.length - run.start
    name = wall_words(run.wall_name).removeprefix("the ")
    if len(site.buildings) > 1:
        name = f"{name} of '{run.building}'"
    if start < 0.01 and end > wall.length - 0.01:
        return f"{name[0].upper()}{name[1:]}, all of it"
    return (
        f"{name[0].upper()}{name[1:]}, {run_length(site, start)} to {run_length(site, end)} "
        "from its left corner"
    )


def _starts_left(wall: Wall) -> bool:
    """Whether its first corner is on the left of someone who faces the wall from outside."""
    east, north = wall.end[0] - wall.start[0], wall.end[1] - wall.start[1]
    return east * wall.outward[1] < north * wall.outward[0]


def _holds_water(ponds: Sequence[StandingWater]) -> str:
    told = "".join(f" {water.sentence}" for water in ponds)
    return f"the storm's water stands against the wall (holds water).{told}"


def _the_house(site: Site) -> str:
    return "the house" if len(site.buildings) == 1 else "the wall"


def _slopes_back(site: Site, run: WallRun) -> str:
    worst, reach = run.worst, run_length(site, run.worst.reach)
    if worst.fall < 0:
        return (
            f"the ground leans toward {_the_house(site)} (slopes back): "
            f"it falls {height(site, worst.fall)} the wrong way over {reach}."
        )
    return (
        f"the ground dips near the wall and rises again (slopes back): it rises "
        f"{height(site, worst.rise)} above its low point, though it falls "
        f"{height(site, worst.fall)} over {reach} in all."
    )


def _too_flat(site: Site, run: WallRun) -> str:
    worst = run.worst
    if worst.fall < -_LEVEL:
        return (
            f"the ground falls too little for certain (too flat): as measured it falls "
            f"{height(site, worst.fall)} the wrong way over {run_length(site, worst.reach)}, where "
            f"{height(site, worst.required)} away from {_the_house(site)} are asked for; better "
            "heights would say whether it slopes back."
        )
    return (
        f"the ground leans away from {_the_house(site)}, but not enough (too flat): "
        f"{height(site, worst.fall)} of fall over {run_length(site, worst.reach)}, "
        f"where {height(site, worst.required)} are asked for."
    )


_BY = {
    "lot line": "the lot line",
    "wall": "another wall",
    "corner": "the house's own corner",
    "survey": "the survey's edge",
    "": "what stands in the way",
}


def _cut_short(site: Site, run: WallRun) -> str:
    worst = run.worst
    way = " the wrong way" if worst.fall < -_LEVEL else ""
    return (
        f"there is no room for the full grade (cut short: needs a drain or swale): "
        f"{_BY[worst.cut_by]} is {run_length(site, worst.reach)} away, and the ground falls "
        f"{height(site, worst.fall)}{way} in that, where "
        f"{height(site, worst.required)} are asked for."
    )


def _too_close(site: Site, run: WallRun) -> str:
    worst = run.worst
    settle = f" {run.settle}" if run.settle else ""
    limit = site.rules["rise_against_wall"]
    margin = call_margin(run.sigma)
    if worst.fall - worst.required >= margin and abs(worst.rise - limit) < margin:
        return (
            f"the heights are not good enough to say (too close to call): the ground rises "
            f"{height(site, worst.rise)} above its low point near the wall, where "
            f"{height(site, limit)} is the most that is let pass.{settle}"
        )
    way = "the wrong way " if worst.fall < 0 else ""
    return (
        f"the heights are not good enough to say (too close to call): "
        f"{height(site, worst.fall)} of fall {way}over {run_length(site, worst.reach)}, where "
        f"{height(site, worst.required)} are asked for.{settle}"
    )
