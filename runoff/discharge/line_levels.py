"""How deep a line lies along its route: cover under drives, the footing at its start, its grades.

In: a route with its ground, a trench, what the footings allow. Out: a `LineProfile`, or the places
where a line along the route could come out. Metres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.obstacles import Footings, cover_under
from runoff.discharge.pipes import Pipe
from runoff.discharge.profile import LineLimits, LineProfile, design_profile
from runoff.discharge.routes import Route
from runoff.discharge.ways import NotPossible
from runoff.quantities import format_length, system_of
from runoff.site.model import Site

# How the line goes down to the greater cover under a drive, and comes up to it.
_APPROACH = 0.1
# Deeper than it need be by this much at most, so that a grade runs straight over small humps, and
# a line of several grades by this much at least, so that it runs straight over small dips.
_STRAIGHTENED = 0.05
_SPARE = 0.0127
_EVERY = 0.5
_TOUCH = 1e-6


@dataclass(frozen=True)
class Trench:
    """The pipe, the limits that it keeps, and the width of its trench (m)."""

    pipe: Pipe
    limits: LineLimits
    width_m: float

    @property
    def half_m(self) -> float:
        """Half of the trench's width."""
        return self.width_m / 2

    @property
    def depth_m(self) -> float:
        """Depth of the invert at least cover."""
        return self.limits.cover_m + self.pipe.bore_m + self.pipe.wall_m

    @property
    def cut_m(self) -> float:
        """Depth of the trench's bottom at least cover."""
        return self.depth_m + self.pipe.wall_m + self.limits.bedding_m


@dataclass(frozen=True)
class Bed:
    """What a line is laid by along one route.

    `lowered_m` is the ground lowered where more than least cover is asked for; `paved` and `first`
    are, by station, whether paving lies over it, and the first station that is clear of the
    footing at the line's start.
    """

    route: Route
    trench: Trench
    footings: Footings
    lowered_m: NDArray[np.float64]
    paved: NDArray[np.bool_]
    first: int


def bed_of(
    site: Site,
    route: Route,
    trench: Trench,
    footings: Footings,
    pavings: list[tuple[float, float, int]],
) -> Bed:
    """Make a route ready to lay a line on it; `pavings` are as of `paving_on`.

    Raises
    ------
    NotPossible
        Where the trench does not get clear of the footing at the downspout, or a drive lies over
        the stretch where it does.
    """
    x, lowered = route.stations_m, route.ground_m.copy()
    paved = np.zeros(len(x), bool)
    margin = float(np.diff(x).max())
    for start, end, number in pavings:
        beyond = np.maximum(np.maximum(start - margin - x, x - end - margin), 0.0)
        more = cover_under(site, number) - trench.limits.cover_m
        lowered = np.minimum(lowered, route.ground_m - np.maximum(more - _APPROACH * beyond, 0.0))
        paved |= (x >= start - margin) & (x <= end + margin)
    clear = route.ground_m - trench.cut_m - _SPARE >= footings.lowest_m - _TOUCH
    first = int(np.argmax(clear))
    if not clear[first] or x[first] > site.rules["near_foundation"] or first > len(x) - 2:
        raise NotPossible(_undercut(site, footings, 0))
    for start, _, number in pavings:
        if first and start < x[first] and site.paving[number].kind == "drive":
            raise NotPossible(
                "clear of the footing it would have too little cover under the drive "
                f"'{site.paving[number].name}'"
            )
    return Bed(route, trench, footings, lowered, paved, first)


def lay(site: Site, bed: Bed, buried_to_m: float | None = None) -> LineProfile:
    """Lay the line along a route: it comes out soonest beyond `buried_to_m`, or at the route's end.

    Beside the footing at its start it lies as high as the footing's 45 degree line asks, falls at
    least at the least slope, and goes down along that line to its least cover. From there
    `design_profile` has it. Where that has several grades it is laid half an inch deeper and they
    are drawn together into few, none with less than the least cover or slope.

    Raises
    ------
    NotPossible
        Where the trench would undercut a footing, or the line would come out under paving.
    """
    route, first, limits = bed.route, bed.first, bed.trench.limits
    x, ground = route.stations_m[first:], bed.lowered_m[first:]
    found = design_profile(x, ground, bed.trench.pipe, limits, buried_to_m)
    if found.breaks_m:
        deeper = replace(limits, cover_m=limits.cover_m + _SPARE)
        found = design_profile(x, ground, bed.trench.pipe, deeper, buried_to_m)
        found = replace(_straightened(found), limits=limits)
    ground = np.interp(found.stations_m, route.stations_m, route.ground_m)
    if found.daylight_m is not None and abs(ground[-1] - found.invert_m[-1]) > _TOUCH:
        raise NotPossible("it would come out under a drive")
    found = replace(found, ground_m=ground)
    if first:
        found = _from_the_wall(site, bed, found)
    lowest = np.interp(found.stations_m, route.stations_m, np.maximum(bed.footings.lowest_m, -1e9))
    under = found.bottom_m < lowest - 1e-3
    if under.any():
        at = int(np.searchsorted(route.stations_m, found.stations_m[int(np.argmax(under))]))
        raise NotPossible(_undercut(site, bed.footings, min(at, len(route.stations_m) - 1)))
    return found


def _undercut(site: Site, footings: Footings, at: int) -> str:
    building = site.buildings[int(footings.building[at])]
    said = ""
    if building.name in footings.assumed:
        depth = format_length(site.rules["footing_depth_assumed"], system_of(site.units))
        said = f"; its depth is not given and {depth} is assumed"
    return (
        f"the trench would undercut the footing of the {building.name}: nothing is dug below a "
        f"line at 45 degrees from the footing's bottom edge{said}"
    )


def _straightened(profile: LineProfile) -> LineProfile:
    """The same line with its small grades drawn together, a little deeper here and there."""
    corners = [float(profile.stations_m[0]), *profile.breaks_m]
    if profile.daylight_m is None:
        corners.append(float(profile.stations_m[-1]))
    x = np.array(corners)
    if len(x) < 3:
        return profile
    y = np.interp(x, profile.stations_m, profile.invert_m)
    kept = _few_corners(x, y)
    invert = profile.invert_m.copy()
    within = profile.stations_m <= x[-1]
    invert[within] = np.interp(profile.stations_m[within], x[kept], y[kept])
    last = None if profile.daylight_m is not None else -1
    breaks = tuple(float(station) for station in x[kept][1:last])
    return replace(profile, invert_m=invert, breaks_m=breaks)


def _few_corners(x: NDArray[np.float64], y: NDArray[np.float64]) -> list[int]:
    """Fewer corners, so that the chain lies a little over the given one at most, or under it."""
    kept = [0]
    while kept[-1] < len(x) - 1:
        here = kept[-1]
        low, high, reached = -np.inf, np.inf, here + 1
        for j in range(here + 1, len(x)):
            run = x[j] - x[here]
            grade = (y[j] - y[here]) / run
            if low <= grade <= high + 1e-12:
                reached = j
            high = min(high, (y[j] + _SPARE - y[here]) / run)
            low = max(low, (y[j] - _STRAIGHTENED - y[here]) / run)
            if low > high:
                break
        kept.append(reached)
    return kept


def _from_the_wall(site: Site, bed: Bed, found: LineProfile) -> LineProfile:
    """Add the first stretch, which the footing keeps higher than the least cover asks."""
    n, pipe, limits = bed.first, bed.trench.pipe, bed.trench.limits
    x = bed.route.stations_m[: n + 1]
    allowed = bed.footings.lowest_m[: n + 1] + limits.bedding_m + pipe.wall_m
    wanted = np.maximum(allowed, found.invert_m[0] + limits.slope * (x[n] - x))
    wanted[n] = found.invert_m[0]
    # Working back from its end, each place at least so high that it falls toward the next.
    tilted = np.maximum.accumulate((wanted + limits.slope * x)[::-1])[::-1]
    invert = tilted - limits.slope * x
    falls = np.flatnonzero(np.diff(tilted) < -_TOUCH)
    drops = _drop(x, invert, allowed, int(falls[0])) if len(falls) else n
    if len(falls):
        invert[drops:] = np.interp(x[drops:], x[[drops, n]], invert[[drops, n]])
    ground = bed.route.ground_m[:n]
    if (ground - invert[:n] - pipe.bore_m - pipe.wall_m < 0).any():
        raise NotPossible(_undercut(site, bed.footings, 0))
    breaks = []
    if len(falls):
        breaks = [float(s) for s in (*x[falls[0] : drops + 1], x[n]) if s > 0]
    return replace(
        found,
        stations_m=np.concatenate([x[:n], found.stations_m]),
        ground_m=np.concatenate([ground, found.ground_m]),
        invert_m=np.concatenate([invert[:n], found.invert_m]),
        breaks_m=(*breaks, *found.breaks_m),
    )


def _drop(
    x: NDArray[np.float64], invert: NDArray[np.float64], allowed: NDArray[np.float64], first: int
) -> int:
    """Where one grade down to the last station begins, so that it is nowhere under `allowed`.

    The footing's line is level for as long as the trench's edge lies under the wall, and falls at
    45 degrees from there: a grade that began with it would cut that corner.
    """
    n = len(x) - 1
    for k in range(first, n):
        grade = np.interp(x[k:], x[[k, n]], invert[[k, n]])
        if (grade[:-1] >= allowed[k:n] - _TOUCH).all():
            return k
    return n - 1


@dataclass(frozen=True)
class WayOut:
    """Where a line along a route would come out (m) if it is kept buried up to a station (m)."""

    daylight_m: float
    buried_to_m: float


def ways_out(bed: Bed, may_end: NDArray[np.bool_]) -> tuple[list[WayOut], float | None]:
    """Where a line could come out along a route, the soonest first, by how far it is kept buried.

    Parameters
    ----------
    may_end : (n,) bool, by station, whether water may be let go there

    Returns
    -------
    ways : list of WayOut
        Only those that end where they may, and do not run under paving with less than its cover.
    soonest : float or None
        Where it would come out of itself, wherever that is.
    """
    x = bed.route.stations_m[bed.first :]
    ok, paved = may_end[bed.first :], np.cumsum(bed.paved[bed.first :])
    slope, depth = bed.trench.limits.slope, bed.trench.depth_m
    h = bed.lowered_m[bed.first :] - depth + slope * x
    lowest = np.minimum.accumulate(h)
    step = max(1, round(_EVERY / float(np.median(np.diff(x)))))
    starts = np.arange(0, len(x) - 1, step)
    level = lowest[starts, None]
    beyond = np.arange(len(x))[None, :] > starts[:, None]
    out = beyond & (h[None, :] <= level - depth)
    has, day = np.any(out, axis=1), np.argmax(out, axis=1)
    soonest = float(x[day[0]]) if has[0] else None
    if not has.any():
        return [], None
    short = beyond & (h[None, :] < level - 1e-9)
    since, count = np.argmax(short, axis=1), np.cumsum(short, axis=1)
    rows = np.arange(len(starts))
    stays = count[rows, day] == day - since + 1
    before = np.maximum(day - 1, 0)
    good = has & ok[day] & ok[before] & stays & (paved[day] == paved[since])
    found: dict[int, WayOut] = {}
    for row in np.flatnonzero(good):
        found.setdefault(int(day[row]), WayOut(float(x[day[row]]), float(x[starts[row]])))
    return [found[key] for key in sorted(found)], soonest
