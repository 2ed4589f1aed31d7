"""A run's verdict in a homeowner's words, with the numbers that decide it.

In: a site and a run of wall. Out: what follows the wall's name in its line.
"""

from __future__ import annotations

import numpy as np
import shapely

from runoff.foundation.grade import ROUNDING, Limits, water_in_doubt
from runoff.foundation.model import Remark, Station, WallRun
from runoff.foundation.stations import is_retaining
from runoff.foundation.walls import wall_words, walls_of
from runoff.foundation.wording import from_left, height, run_length
from runoff.quantities import format_length, system_of
from runoff.site.model import Site
from runoff.terrain.model import call_margin

# A fall smaller than this over a whole profile is level ground, metres (1/16 in).
_LEVEL = 0.0016


def _the_house(site: Site) -> str:
    return "the house" if len(site.own_buildings) == 1 else "the wall"


def slopes_back(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall leans toward it, or dips and rises again."""
    worst, reach = run.worst, run_length(site, run.worst.reach)
    if worst.fall < 0 and worst.rise <= -worst.fall + _LEVEL:
        return (
            f"the ground leans toward {_the_house(site)} (slopes back): "
            f"it falls {height(site, worst.fall)} the wrong way over {reach}."
        )
    in_all = (
        f"though it falls {height(site, worst.fall)} over {reach} in all"
        if worst.fall > _LEVEL
        else f"and ends no lower than at the wall, {reach} out"
    )
    return (
        f"the ground dips near the wall and rises again (slopes back): it rises "
        f"{height(site, worst.rise)} above its low point, {in_all}."
    )


def too_flat(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall falls too little."""
    worst = run.worst
    if worst.fall < -_LEVEL:
        return (
            f"the ground falls too little for certain (too flat): as measured it falls "
            f"{height(site, worst.fall)} the wrong way over {run_length(site, worst.reach)}, where "
            f"{height(site, worst.required)} away from {_the_house(site)} are asked for; better "
            "heights would say whether it slopes back."
        )
    if worst.fall <= _LEVEL:
        return (
            f"the ground is level (too flat): no fall over {run_length(site, worst.reach)}, "
            f"where {height(site, worst.required)} are asked for."
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


def _cut_by(site: Site, station: Station) -> str:
    """What ends a profile, a retaining wall by its name."""
    if station.cut_by == "wall":
        end = shapely.Point(np.array(station.foot) + station.reach * np.array(station.outward))
        others = [b.outline for b in site.buildings]
        nearest = min((float(outline.distance(end)) for outline in others), default=np.inf)
        for step in site.break_lines:
            if is_retaining(step) and shapely.LineString(step.line).distance(end) < nearest:
                return f"the retaining wall '{step.name}'"
    return _BY[station.cut_by]


def cut_short(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall has no room for its fall."""
    worst = run.worst
    way = " the wrong way" if worst.fall < -_LEVEL else ""
    return (
        f"there is no room for the full grade (cut short: needs a drain or swale): "
        f"{_cut_by(site, worst)} is {run_length(site, worst.reach)} away, and the ground falls "
        f"{height(site, worst.fall)}{way} in that, where "
        f"{height(site, worst.required)} are asked for."
    )


def too_close(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall may pass or fail."""
    worst = run.worst
    told = settle_words(site, run)
    settle = f" {told}" if told else ""
    limit = site.rules["rise_against_wall"]
    margin = call_margin(run.sigma)
    if worst.fall - worst.required >= margin and abs(worst.rise - limit) < margin:
        return (
            f"the heights are not good enough to say (too close to call): the ground rises "
            f"{height(site, worst.rise)} above its low point near the wall, where "
            f"{height(site, limit)} is the most that is let pass.{settle}"
        )
    if water_in_doubt(worst, Limits(limit, margin)):
        return (
            "the heights are not good enough to say (too close to call): as measured the storm's "
            f"water stands {height(site, worst.water)} deep against the wall, less than these "
            f"heights tell from none ({height(site, margin)}).{settle}"
        )
    way = "the wrong way " if worst.fall < 0 else ""
    return (
        f"the heights are not good enough to say (too close to call): "
        f"{height(site, worst.fall)} of fall {way}over {run_length(site, worst.reach)}, where "
        f"{height(site, worst.required)} are asked for.{settle}"
    )


def settle_words(site: Site, run: WallRun) -> str:
    """Which shots, and how good, would settle a close call; empty for any other verdict."""
    if np.isnan(run.settled_by):
        return ""
    system, worst = system_of(site.units), run.worst
    walls = walls_of(site.buildings)
    wall = next(w for w in walls if (w.building, w.number) == (run.building, run.wall))
    near, far = "at the wall", f"{format_length(worst.reach, system, 1)} out"
    limits = Limits(site.rules["rise_against_wall"], call_margin(site.height_accuracy.sigma))
    if worst.rise - site.rules["rise_against_wall"] > ROUNDING:
        near, far = "at the low point near the wall", "at the highest point beyond it"
    if water_in_doubt(worst, limits):
        near, far = "at the wall", "where the water that stands there would spill"
    along, _ = from_left(wall, worst.along, worst.along)
    place = f"{format_length(along, system, 1)} along {wall_words(wall.name)} from its left corner"
    good = format_length(run.settled_by, system, 16)
    if good.startswith("0 "):
        return (
            f"The ground {place} is at the limit itself: no level is good enough to settle it; "
            "give it a little more fall."
        )
    return (
        f"Two shots settle it: {place}, {near} and {far}, each good to {good} "
        "(standard deviation) or better."
    )


def remark_words(remark: Remark) -> str:
    """What is named beside a verdict.

    Examples
    --------
    >>> remark_words(Remark("falls to the wall", "drive", ("garage door", "left")))
    "The drive 'drive' falls to the garage door 'left'."
    """
    if remark.code == "traps water":
        return f"The walk '{remark.paving}' traps water against the wall."
    kind, name = remark.opening
    onto = f"{kind} '{name}'" if kind else "wall"
    return f"The drive '{remark.paving}' falls to the {onto}."
