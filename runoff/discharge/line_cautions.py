"""What is particular to one buried line, in sentences: shallow stretches, depth, frost, sumps.

In: the site, the line's profile and pipe. Out: tuples of sentences, and crossings for the
stretches that lie shallow.
"""

from __future__ import annotations

import math

import numpy as np
from shapely import Point

from runoff.discharge.pipes import Pipe, PipeAtFlow
from runoff.discharge.profile import LineProfile
from runoff.discharge.ways import Crossing
from runoff.quantities import Shown, system_of
from runoff.site.model import Outlet, Site

# A sump's outlet this near the line's start is likely to be joined to it.
_SUMP_NEAR = 3.0
_SHALLOW = 1e-3
# Stiffness that bears wheels, from memory of ASTM D3034 and EN 1401; drain pipe of ASTM D2729 has
# a quarter of it.
_STIFF = {"ft": "46 psi or more (SDR 35, schedule 40)", "m": "SN 8 or more"}
_PROTECT = "schedule 40 pipe here, and keep wheels and digging off"


def shallow_stretches(site: Site, profile: LineProfile) -> list[Crossing]:
    """The stretches at the start and at the end with less than the least cover."""
    found = []
    limits, x = profile.limits, profile.stations_m
    enough = profile.cover_m >= limits.cover_m - _SHALLOW
    if not enough[0] and enough.any():
        to = float(x[int(np.argmax(enough))])
        least = float(profile.cover_m[x <= to].min())
        action = (
            f"as little as {Shown.of(site).height(least)} of cover beside the footing; {_PROTECT}"
        )
        found.append(Crossing(0.0, to, "first stretch", "less than least cover", action))
    if profile.exempt_from_m is not None and profile.daylight_m is not None:
        found.append(
            Crossing(
                profile.exempt_from_m,
                profile.daylight_m,
                "last stretch",
                "less than least cover",
                f"the pipe comes up to the surface; {_PROTECT}",
            )
        )
    return found


def cautions_of(
    site: Site,
    profile: LineProfile,
    flow: PipeAtFlow,
    crossings: list[Crossing],
    assumed_footings: tuple[str, ...],
    outlet: Outlet | None,
    start: tuple[float, float],
) -> tuple[str, ...]:
    """What the one who digs this line must know beyond its numbers."""
    shown = Shown.of(site)
    said = [_velocity(site, flow)]
    for crossing in crossings:
        if crossing.kind == "less than least cover":
            said.append(
                f"The {crossing.name}, {shown.height(crossing.end_m - crossing.start_m)}, has "
                f"less than {shown.height(profile.limits.cover_m)} of cover: {crossing.action}."
            )
        elif crossing.kind == "drive":
            public = shown.height(site.rules["line_cover_public_drive"])
            said.append(
                f"Under '{crossing.name}' the pipe is of a stiffness of {_STIFF[site.units]}, or "
                f"lies in a sleeve; where the drive is unpaved or public, {public} of cover is "
                "asked for."
            )
    said += _beside_building(site, flow.pipe, start)
    said += _cover(site, profile)
    said += _depth(site, profile)
    said += _frost(site, profile)
    said += [
        f"The footing of '{name}' is assumed to be "
        f"{shown.height(site.rules['footing_depth_assumed'])} deep: dig beside it to see before "
        "the trench is dug."
        for name in assumed_footings
        if site.buildings
    ]
    said += _sumps(site, start)
    if outlet is not None:
        said += _outlet(site, profile, outlet)
    return tuple(said)


def _velocity(site: Site, flow: PipeAtFlow) -> str:
    words = flow.sentence(system_of(site.units))
    return f"At the least slope, {words}."


def _beside_building(site: Site, pipe: Pipe, start: tuple[float, float]) -> list[str]:
    """Every line leaves a downspout nearer to the building than some pipe may lie."""
    shown = Shown.of(site)
    keeps = site.rules["line_building_distance"]
    if pipe.wall == "smooth":
        return []
    return [
        f"As far as it lies within {shown.height(keeps)} of the {building.name}, lay pipe that is "
        "approved under buildings, such as schedule 40 (rule line_building_distance)."
        for building in site.buildings
        if building.outline.distance(Point(start)) < keeps
    ]


def _cover(site: Site, profile: LineProfile) -> list[str]:
    shown = Shown.of(site)
    asked = site.rules["line_cover_district"]
    if profile.limits.cover_m >= asked:
        return []
    least = shown.height(profile.limits.cover_m)
    return [f"It is laid with {least} of cover; some districts ask for {shown.height(asked)}."]


def _depth(site: Site, profile: LineProfile) -> list[str]:
    shown = Shown.of(site)
    rules, greatest = site.rules, float(profile.cut_m.max())
    said = []
    if greatest > rules["hand_digging_depth"]:
        said.append(
            f"The trench is up to {shown.height(greatest)} deep: not for hand digging; have it "
            "dug by someone with the machine and the shoring."
        )
    if greatest >= rules["trench_protection_depth"]:
        depth = shown.height(rules["trench_protection_depth"])
        said.append(f"From {depth} deep a trench must be shored or sloped back before entry.")
    elif greatest >= rules["trench_exit_depth"]:
        said.append(
            f"From {shown.height(rules['trench_exit_depth'])} deep a way out must be within "
            f"{shown.height(rules['trench_exit_distance'])}."
        )
    return said


def _frost(site: Site, profile: LineProfile) -> list[str]:
    shown = Shown.of(site)
    frost = site.soil.frost
    if frost is None:
        return ["The frost depth was not given: where the ground freezes, ask how deep."]
    if frost > profile.limits.cover_m:
        return [
            f"Frost goes {shown.height(frost)} deep, below the pipe's least cover: the line is "
            "kept from freezing shut only by lying empty between rains, so it must fall all the "
            "way, with no sag, and its end must stay clear of ice and snow."
        ]
    return []


def _sumps(site: Site, start: tuple[float, float]) -> list[str]:
    return [
        f"The outlet of sump '{sump.name}' is near the start of this line. It is not joined to it: "
        "join it only behind a check valve, and count its flow in the pipe's size."
        for sump in site.sumps
        if math.dist(sump.outlet, start) <= _SUMP_NEAR
    ]


def _outlet(site: Site, profile: LineProfile, outlet: Outlet) -> list[str]:
    said = []
    if outlet.permission:
        said.append(f"'{outlet.name}': {outlet.permission}.")
    else:
        said.append(f"Ask who owns '{outlet.name}' for permission; none is noted.")
    if outlet.kind == "storm inlet":
        said.append(
            f"Where the sewer at '{outlet.name}' can back up, a backwater valve is asked for "
            "(International Plumbing Code 1101.9)."
        )
    if outlet.invert is None and outlet.kind == "storm inlet":
        height = float(profile.invert_m[-1]) - float(profile.ground_m[-1])
        said.append(
            f"The invert of '{outlet.name}' was not given: measure that it lies at least "
            f"{Shown.of(site).height(-height)} below the ground there."
        )
    return said
