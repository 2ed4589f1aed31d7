"""The profile of a buried line: how deep it lies along its route, its grades, and where it comes
out.

In: the ground along the line (stations and heights, metres), a pipe, and the least slope, cover
and bedding. Out: the invert at every break of the ground or the pipe, with cover and cut.

In: a route with its ground, a trench, what the footings allow. Out: a `LineProfile`, or the places
where a line along the route could come out. Metres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.discharge.line.pipes import Pipe
from runoff.discharge.reasons import LittleCover, NotPossible, Simply, Undercuts
from runoff.discharge.routes import Footings, Route, cover_under
from runoff.quantities.numbers import not_negative, positive
from runoff.rules import Rules
from runoff.site.model import Site

_NEAR = 1e-9  # metres; nearer than this is touching


@dataclass(frozen=True)
class LineLimits:
    """Least slope (m/m), least cover and bedding (metres) of a buried line."""

    slope: float
    cover_m: float
    bedding_m: float


@dataclass(frozen=True)
class LineProfile:
    """A buried line in section; arrays of shape (stations,), metres.

    `breaks_m` are the stations where the pipe's slope changes. The line comes to daylight at
    `daylight_m` (None where it does not within the ground given: it then ends buried at the last
    station). From `exempt_from_m` to daylight it has less than the least cover: that stretch is
    exempt and needs protection.
    """

    pipe: Pipe
    limits: LineLimits
    stations_m: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    invert_m: NDArray[np.float64]
    breaks_m: tuple[float, ...]
    daylight_m: float | None
    exempt_from_m: float | None

    @property
    def cover_m(self) -> NDArray[np.float64]:
        """Soil over the pipe's top; below 0 where the pipe shows."""
        return self.ground_m - self.invert_m - self.pipe.bore_m - self.pipe.wall_m

    @property
    def bottom_m(self) -> NDArray[np.float64]:
        """Height of the trench's bottom, under the bedding."""
        return self.invert_m - self.pipe.wall_m - self.limits.bedding_m

    @property
    def cut_m(self) -> NDArray[np.float64]:
        """Depth from the ground to the trench's bottom."""
        return self.ground_m - self.bottom_m

    @property
    def exempt_length_m(self) -> float:
        """Length of the last stretch, below least cover."""
        if self.daylight_m is None or self.exempt_from_m is None:
            return 0.0
        return self.daylight_m - self.exempt_from_m


def line_limits(rules: Rules | None = None) -> LineLimits:
    """The limits of a line that carries no load.

    Examples
    --------
    >>> line_limits().slope
    0.01
    """
    rules = rules or Rules()
    return LineLimits(rules["line_slope"], rules["line_cover"], rules["bedding_depth"])


def trench_width(outside_m: float, rules: Rules | None = None) -> float:
    """Least width of a pipe's trench, metres: the greater of OD + 16 in and 1.25 OD + 12 in.

    ASTM D2321-05, read second hand.

    Raises
    ------
    ValueError
        Where the outside diameter is not a finite number above 0.

    Examples
    --------
    >>> round(trench_width(4.5 * 0.0254) / 0.0254, 6)
    20.5
    """
    positive(outside_m, "outside diameter", "m")
    rules = rules or Rules()
    factor, margin = rules["trench_width_factor"], rules["trench_width_margin"]
    return max(outside_m + rules["trench_width_addition"], factor * outside_m + margin)


def design_profile(
    stations_m: ArrayLike,
    ground_m: ArrayLike,
    pipe: Pipe,
    limits: LineLimits,
    buried_to_m: float | None = None,
) -> LineProfile:
    """Lay a line's invert: from its least depth, with slope and cover, to daylight.

    It starts at least cover and is held at the least slope until its invert meets the ground. Where
    the ground would dip to less than least cover and rise again on the way, the line first goes
    down with the ground, just at least cover, to that dip's bottom and is held from there. Of all
    lines that keep slope and cover it lies highest, so that it comes out soonest and is dug least.

    With h = ground - cover - pipe + slope x station, a line that keeps both is the running
    minimum of h, and one that is held is a constant: daylight is where h falls below that constant
    by the depth of the invert under least cover.

    Parameters
    ----------
    stations_m : array_like, shape (n,), metres along the line, rising
    ground_m : array_like, shape (n,), heights in metres; straight between stations
    pipe : Pipe
    limits : LineLimits
    buried_to_m : float, station up to which the line keeps its least cover, as under a walk or
        on the way into a pit; where it is None, wherever it comes out soonest

    Raises
    ------
    ValueError
        Where stations do not rise, a number is not finite, or a limit is out of range.

    Examples
    --------
    >>> from runoff.discharge.line.pipes import pipe_of
    >>> plane = design_profile([0, 30], [0, -0.9], pipe_of(4, "smooth"), line_limits())
    >>> round(plane.daylight_m, 2)
    20.65
    """
    x, ground = _checked(stations_m, ground_m)
    positive(limits.slope, "least slope", "m/m")
    not_negative(limits.cover_m, "least cover", "m")
    not_negative(limits.bedding_m, "bedding", "m")
    depth = limits.cover_m + pipe.bore_m + pipe.wall_m
    h = ground - depth + limits.slope * x
    buried = int(np.searchsorted(x, x[0] if buried_to_m is None else buried_to_m, side="right"))
    release, exempt_from, daylight = _released(x, h, depth, int(np.argmin(h[: max(buried, 1)])))
    kinks = _running_minimum(x, h, release)
    end = float(x[-1]) if daylight is None else daylight
    held = [] if end <= kinks[-1][0] else [(end, kinks[-1][1])]
    line_x, line_h = (np.array(part) for part in zip(*kinks, *held, strict=False))
    marks = [end] if exempt_from is None else [exempt_from, end]
    stations = np.unique(np.concatenate([x[x < end], line_x, marks]))
    invert = np.interp(stations, line_x, line_h) - limits.slope * stations
    return LineProfile(
        pipe,
        limits,
        stations,
        np.interp(stations, x, ground),
        invert,
        tuple(float(station) for station in line_x[1:-1]),
        daylight,
        exempt_from,
    )


def _checked(
    stations_m: ArrayLike, ground_m: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x = np.asarray(stations_m, dtype=np.float64)
    ground = np.asarray(ground_m, dtype=np.float64)
    if x.ndim != 1 or x.shape != ground.shape or x.size < 2:
        raise ValueError(
            f"stations have shape {x.shape}, heights {ground.shape}: expected two of each or more"
        )
    if not (np.isfinite(x).all() and np.isfinite(ground).all()):
        raise ValueError("a station or a ground height is not a finite number")
    if (np.diff(x) <= 0).any():
        raise ValueError("stations do not rise along the line: expected each beyond the one before")
    return x, ground


def _released(
    x: NDArray[np.float64], h: NDArray[np.float64], depth: float, release: int
) -> tuple[int, float | None, float | None]:
    """Vertex from which the line is held, where cover then falls short, and where it daylights."""
    while True:
        level, short_from, low = h[release], None, release
        for i in range(release + 1, len(x)):
            if h[i] < level - _NEAR and short_from is None:
                short_from = _crossing(x, h, i, level)
            if h[i] <= level - depth:
                return release, short_from, _crossing(x, h, i, level - depth)
            if h[i] < h[low]:
                low = i
            if short_from is not None and h[i] >= level - _NEAR:
                break
        if short_from is None:
            return release, None, None
        release = low


def _crossing(x: NDArray[np.float64], h: NDArray[np.float64], i: int, level: float) -> float:
    """Where h falls to a level in the stretch that ends at vertex i."""
    share = np.clip((h[i - 1] - level) / (h[i - 1] - h[i]), 0, 1)
    return float(x[i - 1] + share * (x[i] - x[i - 1]))


def _running_minimum(
    x: NDArray[np.float64], h: NDArray[np.float64], last: int
) -> list[tuple[float, float]]:
    """Breaks of the running minimum of h up to vertex `last`."""
    points, level = [(float(x[0]), float(h[0]))], float(h[0])
    for i in range(1, last + 1):
        if h[i] >= level:
            continue
        start = _crossing(x, h, i, level)
        if start > points[-1][0]:
            points.append((start, level))
        level = float(h[i])
        points.append((float(x[i]), level))
    return points


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
            raise NotPossible(LittleCover(site.paving[number].name))
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
        raise NotPossible(Simply("comes out under a drive"))
    found = replace(found, ground_m=ground)
    if first:
        found = _from_the_wall(site, bed, found)
    lowest = np.interp(found.stations_m, route.stations_m, np.maximum(bed.footings.lowest_m, -1e9))
    under = found.bottom_m < lowest - 1e-3
    if under.any():
        at = int(np.searchsorted(route.stations_m, found.stations_m[int(np.argmax(under))]))
        raise NotPossible(_undercut(site, bed.footings, min(at, len(route.stations_m) - 1)))
    return found


def _undercut(site: Site, footings: Footings, at: int) -> Undercuts:
    name = site.buildings[int(footings.building[at])].name
    assumed = site.rules["footing_depth_assumed"] if name in footings.assumed else None
    return Undercuts("trench", name, assumed)


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
