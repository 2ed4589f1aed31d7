"""Standing water near a foundation in words: how deep, from where, and where it spills.

In: a site and a low spot's record. Out: a homeowner's sentences.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from runoff.flow.model import PathEnd
from runoff.foundation.model import Spill, StandingWater, WettedWall
from runoff.foundation.walls import wall_words
from runoff.foundation.wording import (
    found_rain,
    height,
    listed,
    main_sources,
    rain,
    run_length,
    volume,
)
from runoff.site.model import Site
from runoff.terrain.model import call_margin


def standing_sentence(site: Site, told: StandingWater) -> str:
    """What the storm leaves in a low spot near a wall, what feeds it and where it spills."""
    where = _against(site, told)
    name = f"{told.low_spot[0].upper()}{told.low_spot[1:]}"
    storm = rain(site, site.storm.depth)
    if told.storm_depth <= 0:
        return f"{name}, {where}: dry in a storm of {storm}."
    wets = f" and wets {_wall_lengths(site, told.walls)}" if told.walls else ""
    first = (
        f"{name}, {where}: a storm of {storm} leaves water {height(site, told.storm_depth)} deep "
        f"({volume(site, told.storm_volume, told.area)}) in it{wets}."
    )
    margin = call_margin(site.height_accuracy.sigma)
    if told.storm_depth <= margin and told.spills_to.kind != "nowhere":
        return (
            f"{name}, {where}: as measured a storm of {storm} leaves water "
            f"{height(site, told.storm_depth)} deep in it, less than these heights tell from none "
            f"({height(site, margin)}; too close to call).{_fed(told)}"
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
        return f"{run_length(site, told.distance)} from '{told.building}'"
    if len(told.walls) == 1:
        (wall,) = told.walls
        return f"against {wall_words(wall.wall_name)} of '{wall.building}'"
    buildings = dict.fromkeys(f"'{wall.building}'" for wall in told.walls)
    return f"against walls of {listed(list(buildings))}"


def _wall_lengths(site: Site, walls: Sequence[WettedWall]) -> str:
    """How much of which wall is wet, buildings named where there are several."""
    whole = run_length(site, sum(wall.length for wall in walls))
    if len(walls) == 1:
        return f"{whole} of it"
    several = len({wall.building for wall in walls}) > 1
    each = ", ".join(
        f"{f'{w.building} ' if several else ''}{w.wall_name} {run_length(site, w.length)}"
        for w in walls
    )
    return f"{whole} of wall ({each})"


def _fed(told: StandingWater) -> str:
    words = main_sources(told.feeds)
    return f" Its water comes from {words}." if words else ""


def _full(site: Site, told: StandingWater) -> str:
    if told.spills_to.kind == "nowhere":
        return " Walls shut it in: it has no way out (terminal basin)."
    onto = spill_words(told.spills_to)
    if not np.isfinite(told.rain_to_fill):
        return f" No storm tried fills it; brim-full it would spill to {onto}."
    fills = f" {found_rain(site, told.rain_to_fill)} of rain"
    if told.undecided:
        names = " and ".join(f"'{name}'" for name in told.undecided)
        other = (
            found_rain(site, told.rain_otherwise) if np.isfinite(told.rain_otherwise) else "none"
        )
        fills += f" (or {other}, as water parts beside {names})"
    if told.overflows:
        return f"{fills} fills it; then it spills to {onto}."
    return f"{fills} would fill it; it would then spill to {onto}."
