"""What is particular to one buried line: shallow stretches, depth, frost, sumps.

In: the site, the line's profile and pipe. Out: cautions, and crossings for the stretches that lie
shallow.
"""

from __future__ import annotations

import math

import numpy as np
from shapely import Point

from runoff.discharge.pipes import Pipe
from runoff.discharge.profile import LineProfile
from runoff.discharge.ways import Caution, Crossing
from runoff.site.model import Outlet, Site

# A sump's outlet this near the line's start is likely to be joined to it.
_SUMP_NEAR = 3.0
_SHALLOW = 1e-3


def shallow_stretches(profile: LineProfile) -> list[Crossing]:
    """The stretches at the start and at the end with less than the least cover."""
    found = []
    limits, x = profile.limits, profile.stations_m
    enough = profile.cover_m >= limits.cover_m - _SHALLOW
    if not enough[0] and enough.any():
        to = float(x[int(np.argmax(enough))])
        least = float(profile.cover_m[x <= to].min())
        found.append(Crossing(0.0, to, "", "less than least cover", cover_m=least))
    if profile.exempt_from_m is not None and profile.daylight_m is not None:
        found.append(
            Crossing(profile.exempt_from_m, profile.daylight_m, "", "less than least cover")
        )
    return found


def cautions_of(
    site: Site,
    profile: LineProfile,
    pipe: Pipe,
    crossings: list[Crossing],
    assumed_footings: tuple[str, ...],
    outlet: Outlet | None,
    start: tuple[float, float],
) -> tuple[Caution, ...]:
    """What the one who digs this line must know beyond its numbers."""
    said = [each for crossing in crossings for each in _on_the_way(site, profile, crossing)]
    said += _beside_building(site, pipe, start)
    said += _cover(site, profile)
    said += _depth(site, profile)
    said += _frost(site, profile)
    said += [
        Caution("footing assumed", name, (site.rules["footing_depth_assumed"],))
        for name in assumed_footings
        if site.buildings
    ]
    said += [
        Caution("sump near", sump.name)
        for sump in site.sumps
        if math.dist(sump.outlet, start) <= _SUMP_NEAR
    ]
    if outlet is not None:
        said += _outlet(profile, outlet)
    return tuple(said)


def _on_the_way(site: Site, profile: LineProfile, crossing: Crossing) -> list[Caution]:
    """Of a shallow stretch its length, the cover asked and the least there; of a drive the cover
    that is asked under a public one.
    """
    if crossing.kind == "drive":
        public = site.rules["line_cover_public_drive"]
        return [Caution("stiff under drive", crossing.name, (public,))]
    if crossing.kind != "less than least cover":
        return []
    figures = (crossing.end_m - crossing.start_m, profile.limits.cover_m)
    if crossing.cover_m is None:
        return [Caution("last stretch shallow", figures=figures)]
    return [Caution("first stretch shallow", figures=(*figures, crossing.cover_m))]


def _beside_building(site: Site, pipe: Pipe, start: tuple[float, float]) -> list[Caution]:
    """Every line leaves a downspout nearer to the building than some pipe may lie."""
    keeps = site.rules["line_building_distance"]
    if pipe.wall == "smooth":
        return []
    return [
        Caution("approved under building", building.name, (keeps,))
        for building in site.buildings
        if building.outline.distance(Point(start)) < keeps
    ]


def _cover(site: Site, profile: LineProfile) -> list[Caution]:
    asked = site.rules["line_cover_district"]
    if profile.limits.cover_m >= asked:
        return []
    return [Caution("less cover than districts ask", figures=(profile.limits.cover_m, asked))]


def _depth(site: Site, profile: LineProfile) -> list[Caution]:
    rules, greatest = site.rules, float(profile.cut_m.max())
    said = []
    if greatest > rules["hand_digging_depth"]:
        said.append(Caution("not for hand digging", figures=(greatest,)))
    if greatest >= rules["trench_protection_depth"]:
        said.append(Caution("shoring", figures=(rules["trench_protection_depth"],)))
    elif greatest >= rules["trench_exit_depth"]:
        figures = (rules["trench_exit_depth"], rules["trench_exit_distance"])
        said.append(Caution("way out", figures=figures))
    return said


def _frost(site: Site, profile: LineProfile) -> list[Caution]:
    frost = site.soil.frost
    if frost is None:
        return [Caution("frost not given")]
    if frost > profile.limits.cover_m:
        return [Caution("frost below cover", figures=(frost,))]
    return []


def _outlet(profile: LineProfile, outlet: Outlet) -> list[Caution]:
    """Of an invert that is not given, how far below the ground it must lie at least."""
    said = [
        Caution("permission", outlet.name, note=outlet.permission)
        if outlet.permission
        else Caution("no permission", outlet.name)
    ]
    if outlet.kind == "storm inlet":
        said.append(Caution("backwater valve", outlet.name))
        if outlet.invert is None:
            below = float(profile.ground_m[-1]) - float(profile.invert_m[-1])
            said.append(Caution("invert not given", outlet.name, (below,)))
    return said
