"""The water in a buried line: the pipe that carries it, how high it stands back, where it ends.

In: the site, a downspout, its water. Out: a pipe, a trench, heights of water, and what protects
the ground at the end. SI.
"""

from __future__ import annotations

import math
from dataclasses import replace

from runoff.discharge.line.apron import GRAVITY, Apron, stone_apron
from runoff.discharge.line.pipes import (
    INCH,
    SIZES_IN,
    Pipe,
    PipeAtFlow,
    full_pipe_flow,
    full_pipe_velocity,
    pipe_at_flow,
    pipe_of,
    size_pipe,
)
from runoff.discharge.line.profile import LineProfile, Trench, line_limits, trench_width
from runoff.discharge.model import Protection, WaterToMove
from runoff.discharge.reasons import NotPossible, PipeTooSmall, Simply, StandsBack, TooMuchWater
from runoff.roof.leaders import equal_area_diameter
from runoff.site.model import Downspout, Outlet, Site


def pipe_for(site: Site, downspout: Downspout, water: WaterToMove) -> PipeAtFlow:
    """The pipe of a line at its least slope with the design flow of lines in it.

    The smallest that carries the flow, is no smaller than the leader (a rectangular one by the
    round of equal area) and no smaller than the rule `line_size`; or the size that the user chose,
    where it carries the flow and the leader fits.

    Raises
    ------
    NotPossible
        Where no roof drains to the downspout, the size chosen is too small, or none is enough.
    """
    flow, slope, wall = water.line_flow_m3_per_s, site.rules["line_slope"], site.pipe.wall
    metric = site.units == "m"
    if not flow > 0:
        raise NotPossible(Simply("no roof drains here"))
    try:
        sized = size_pipe(flow, slope, wall, site.rules, metric)
    except ValueError:
        raise NotPossible(TooMuchWater(flow, SIZES_IN[-1])) from None
    needed = max(sized.pipe.nominal_in, _leader_size(site, downspout))
    chosen = site.pipe.nominal_in or max(needed, _usual_size(site))
    if chosen < needed:
        raise NotPossible(_too_small(site, chosen, needed, flow))
    return pipe_at_flow(pipe_of(chosen, wall, site.rules, metric), slope, flow, site.rules)


def _usual_size(site: Site) -> int:
    """The smallest nominal size (in) that the rules allow where the user chose none."""
    least = site.rules["line_size"]
    return next((size for size in SIZES_IN if size * INCH >= least - 1e-6), SIZES_IN[-1])


def _leader_size(site: Site, downspout: Downspout) -> int:
    """The smallest nominal size (in) no smaller than the leader, or than the one assumed."""
    leader = downspout.leader
    if leader is None:
        across = site.rules["leader_diameter"]
    elif leader.shape == "round":
        across = leader.width
    else:
        across = equal_area_diameter(leader.width, leader.depth)
    return next((size for size in SIZES_IN if size * INCH >= across - 1e-6), SIZES_IN[-1])


def _too_small(site: Site, chosen: int, needed: int, flow: float) -> PipeTooSmall:
    pipe = pipe_of(chosen, site.pipe.wall, site.rules, site.units == "m")
    full = full_pipe_flow(pipe.bore_m, site.rules["line_slope"], pipe.roughness)
    return PipeTooSmall(pipe.size, needed, flow, full if full < flow else None)


def trench_for(site: Site, pipe: Pipe) -> Trench:
    """The trench of a line by rule, no part of its pipe shallower than code asks of that pipe."""
    limits = line_limits(site.rules)
    cover = max(limits.cover_m, least_cover(site, pipe))
    return Trench(pipe, replace(limits, cover_m=cover), trench_width(pipe.outside_m, site.rules))


def least_cover(site: Site, pipe: Pipe) -> float:
    """The least cover (m) that code leaves a pipe, whatever the rule `line_cover` says.

    No part of a drain of pipe that is not approved under buildings lies less than the rule
    `line_depth` below the ground; of other pipe none is asked.

    References
    ----------
    California Plumbing Code 718.3, which counts every part of the piping (from memory).
    """
    return 0.0 if pipe.wall == "smooth" else site.rules["line_depth"]


def head_at_start(flow_m3_per_s: float, pipe: Pipe, length_m: float, water_m: float) -> float:
    """Height to which water stands at the start of a line that runs full into standing water.

    H = water + Sf L + v^2 / 2g: the friction slope of the full pipe by Manning,
    Sf = (v n / (D/4)^(2/3))^2, over its length, and one velocity head lost at its end. Bends and
    the way in are left out; docs/lines.md says why.

    Parameters
    ----------
    flow_m3_per_s : float, m3/s
    pipe : Pipe
    length_m : float, metres
    water_m : float, height of the water at the end, metres on the survey's datum

    Examples
    --------
    >>> round(head_at_start(0.00713, pipe_of(4, "smooth"), 30.0, 100.0), 3)
    100.339
    """
    velocity = flow_m3_per_s / (math.pi / 4 * pipe.bore_m**2)
    slope = 0.01 * (velocity / full_pipe_velocity(pipe.bore_m, 0.01, pipe.roughness)) ** 2
    return water_m + slope * length_m + velocity**2 / (2 * GRAVITY)


def standing_back(
    site: Site, flow: PipeAtFlow, profile: LineProfile, water_m: float | None
) -> float | None:
    """Height of the water at the line's start where its end can stand in water; else None.

    Raises
    ------
    NotPossible
        Where it would rise over the ground at the leader's foot, where the overflow gap is.
    """
    end = float(profile.invert_m[-1])
    if water_m is None or water_m <= end:
        return None
    head = head_at_start(flow.flow_m3_per_s, flow.pipe, float(profile.stations_m[-1]), water_m)
    head = max(head, float(profile.invert_m[0]) + flow.depth_ratio * flow.pipe.bore_m)
    gap = float(profile.ground_m[0])
    if head > gap:
        raise NotPossible(StandsBack(head - gap))
    return head


def end_velocity(site: Site, flow: PipeAtFlow, profile: LineProfile) -> float:
    """Velocity of the water in the last stretch of a line, m/s."""
    fall = float(profile.invert_m[-2] - profile.invert_m[-1])
    run = float(profile.stations_m[-1] - profile.stations_m[-2])
    slope = max(flow.slope, fall / run)
    return pipe_at_flow(flow.pipe, slope, flow.flow_m3_per_s, site.rules).velocity_m_per_s


def end_protection(
    site: Site, flow: PipeAtFlow, velocity: float, outlet: Outlet | None
) -> tuple[Protection, Apron | None]:
    """What protects the ground where the water comes out, by its velocity (m/s) there.

    A splash pad where it is no faster than bare sandy soil bears, else a stone apron; in a street
    gutter nothing.
    """
    if outlet is not None and outlet.kind == "street gutter":
        return "gutter paving", None
    if velocity <= site.rules["bare_velocity_sandy"]:
        return "splash pad", None
    return "stone apron", stone_apron(flow.flow_m3_per_s, flow.pipe.bore_m, None, site.rules)
