"""Stations along the outside walls, and the ground's profile away from the wall at each.

In: a site and its terrain. Out: arrays over all stations, plan metres and metres of height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.foundation.model import CutBy
from runoff.foundation.walls import Wall, walls_of
from runoff.site.model import BreakLine, Building, Site
from runoff.terrain.model import Terrain

TOUCHING = 0.02
"""Metres within which a wall counts as standing on a lot line or against another building."""

RETAINING = 0.3
"""A step in the ground from this height on, metres, is a wall; a lower one is a curb."""

_STEP = 0.1
_NEAREST_HIT = 1e-6

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Stations:
    """Where the profiles start and end.

    `wall` is (n,) indices into `walls`; `along`, `reach` are (n,) metres; `feet`, `outward` are
    (n, 2); `cut_by` names what ends each profile short of 10 ft.
    """

    walls: tuple[Wall, ...]
    wall: NDArray[np.int64]
    along: Array
    feet: Array
    outward: Array
    reach: Array
    cut_by: tuple[CutBy, ...]


@dataclass(frozen=True)
class Profiles:
    """Heights along lines away from the wall.

    `out` and `z` are (n, samples): metres from the line's foot, and heights, NaN from where the
    survey ends. `reach` is (n,) metres with ground, `fall` the height at the foot less that at
    `reach`, `rise` the greatest height above the low point further in, `back_slope` and `back_at`
    the steepest slope toward the wall and its distance out. All are NaN where the foot has no
    ground.
    """

    out: Array
    z: Array
    reach: Array
    fall: Array
    rise: Array
    back_slope: Array
    back_at: Array


def lay_stations(site: Site, blur: float) -> Stations:
    """Stations evenly along every outside wall, at most `station_spacing` apart.

    Of the neighbors' buildings none is judged; they end the profiles of others. A wall that stands
    against another building is no outside wall there. In front of a window well
    or a stairwell the profile starts at its outer rim.

    Parameters
    ----------
    site : Site
    blur : float, metres
        Of the terrain: before a retaining wall the profile ends where its heights are still those
        of one side.

    Returns
    -------
    Stations
    """
    walls = walls_of(sorted(site.buildings, key=lambda building: building.neighbor))
    judged = walls_of(site.own_buildings)
    which, along = _spread(judged, site.rules["station_spacing"])
    start_out = _well_projection(site, walls, which, along)
    feet = np.empty((len(which), 2))
    outward = np.array([wall.outward for wall in walls], dtype=np.float64).reshape(-1, 2)[which]
    for number, wall in enumerate(walls):
        mine = which == number
        feet[mine] = wall.point(along[mine], start_out[mine])
    free = ~_built_over(site.buildings, feet + TOUCHING * outward)
    which, along, feet, outward = which[free], along[free], feet[free], outward[free]
    reach, cut_by = _cut(site, walls, which, feet, outward)
    _cut_at_steps(site, blur, feet, outward, reach, cut_by)
    return Stations(walls, which, along, feet, outward, reach, tuple(cut_by))


def measure(terrain: Terrain, stations: Stations, ends: Array, longest: float = 0.0) -> Profiles:
    """The ground from the foot of each station to an end.

    All profiles have as many samples as the longest wants, so profiles of different stations that
    are to be compared sample by sample are measured with the same `longest`.

    Parameters
    ----------
    terrain : Terrain
    stations : Stations
    ends : (n, 2) plan metres
    longest : float, metres
        A length that the samples are spaced for, even where no profile is so long.

    Returns
    -------
    Profiles
    """
    way = ends - stations.feet
    length = np.hypot(way[:, 0], way[:, 1])
    count = 1 + max(1, math.ceil(float(length.max(initial=longest)) / _STEP))
    share = np.linspace(0.0, 1.0, count)
    points = stations.feet[:, None, :] + share[None, :, None] * way[:, None, :]
    spread = (len(length), count, 2)
    z = terrain.heights(
        points.reshape(-1, 2),
        np.broadcast_to(stations.feet[:, None, :], spread).reshape(-1, 2),
        np.broadcast_to(stations.outward[:, None, :], spread).reshape(-1, 2),
    ).reshape(spread[:2])
    return profiles_from(share[None, :] * length[:, None], z)


def profiles_from(out: Array, z: Array) -> Profiles:
    """The fall, rise and steepest back slope of profiles, by their (n, samples) heights.

    Examples
    --------
    >>> made = profiles_from(np.array([[0.0, 1.0, 2.0]]), np.array([[5.0, 4.9, 4.95]]))
    >>> made.fall.round(3), made.rise.round(3), made.back_slope.round(3), made.back_at
    (array([0.05]), array([0.05]), array([0.05]), array([1.5]))
    """
    known = np.logical_and.accumulate(np.isfinite(z), axis=1)
    last = np.maximum(known.sum(axis=1) - 1, 0)
    line = np.arange(len(z))
    z = np.where(known, z, np.nan)
    step = np.diff(out, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        climb = np.where(step > 0, np.diff(z, axis=1) / step, 0.0)
    climb = np.nan_to_num(climb, nan=0.0)
    steepest = climb.argmax(axis=1)
    back = np.maximum(climb[line, steepest], 0.0)
    middle = (out[:, :-1] + out[:, 1:]) / 2
    nothing = np.where(known[:, 0], 0.0, np.nan)
    low = np.fmin.accumulate(z, axis=1)
    rise = np.where(known, z - low, 0.0).max(axis=1)
    return Profiles(
        out=out,
        z=z,
        reach=out[line, last] + nothing,
        fall=z[line, 0] - z[line, last],
        rise=rise + nothing,
        back_slope=back + nothing,
        back_at=np.where(back > 0, middle[line, steepest], 0.0) + nothing,
    )


def _spread(walls: tuple[Wall, ...], spacing: float) -> tuple[NDArray[np.int64], Array]:
    counts = [max(1, math.ceil(wall.length / spacing - 1e-9)) for wall in walls]
    along = [(np.arange(k) + 0.5) * wall.length / k for k, wall in zip(counts, walls, strict=True)]
    which = np.repeat(np.arange(len(walls), dtype=np.int64), counts)
    return which, np.concatenate(along) if along else np.empty(0)


def _well_projection(site: Site, walls, which, along) -> Array:
    out = np.zeros(len(along))
    for well in site.openings:
        if well.kind not in ("window well", "stairwell"):
            continue
        for number, wall in enumerate(walls):
            if (wall.building, wall.number) == (well.building, well.wall):
                inside = np.abs(along - well.distance) <= well.width / 2
                beside = (which == number) & inside
                out[beside] = np.maximum(out[beside], well.projection)
    return out


def _built_over(buildings: tuple[Building, ...], points: Array) -> NDArray[np.bool_]:
    covered = np.zeros(len(points), dtype=bool)
    for building in buildings:
        shapely.prepare(building.outline)
        left, bottom, right, top = building.outline.bounds
        low, high = points >= (left, bottom), points <= (right, top)
        near = np.flatnonzero((low & high).all(axis=1))
        covered[near] |= shapely.contains_xy(building.outline, points[near])
    return covered


def _cut(site: Site, walls, which, feet, outward) -> tuple[Array, list[CutBy]]:
    reach = np.full(len(feet), site.rules["foundation_reach"])
    cut_by: list[CutBy] = [""] * len(feet)
    starts = np.array([wall.start for wall in walls]).reshape(-1, 2)
    ends = np.array([wall.end for wall in walls]).reshape(-1, 2)
    distance, hit = _first_wall(walls, which, feet, outward, starts, ends, reach)
    for k in np.flatnonzero(distance < reach):
        own, met = walls[which[k]], walls[hit[k]]
        corner = met.building == own.building and met.number in (own.before, own.after)
        cut_by[k] = "corner" if corner else "wall"
        reach[k] = distance[k]
    if site.lot is not None:
        to_line = _to_lot_line(site.lot.boundary, feet, outward)
        for k in np.flatnonzero(to_line < reach):
            cut_by[k] = "lot line"
            reach[k] = to_line[k]
    return reach, cut_by


def _first_wall(walls, which, feet, outward, starts, ends, reach):
    """The first wall before each foot, looking building by building at the walls within reach."""
    distance, hit = np.full(len(feet), np.inf), np.zeros(len(feet), dtype=np.int64)
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    names = np.array([wall.building for wall in walls])[which]
    borders = np.flatnonzero(names[1:] != names[:-1]) + 1
    for mine in np.split(np.arange(len(feet)), borders):
        if not len(mine):
            continue
        margin = reach[mine].max()
        left, right = feet[mine].min(axis=0) - margin, feet[mine].max(axis=0) + margin
        near = np.flatnonzero(((high >= left) & (low <= right)).all(axis=1))
        far, which_near = _first_hit(feet[mine], outward[mine], starts[near], ends[near])
        distance[mine], hit[mine] = far, near[which_near]
    return distance, hit


def _cut_at_steps(
    site: Site, blur: float, feet: Array, outward: Array, reach: Array, cut_by: list[CutBy]
) -> None:
    """Cut the profiles short at retaining walls, which were surveyed as steps."""
    for step in site.break_lines:
        if not is_retaining(step):
            continue
        distance, hit = _first_hit(feet, outward, step.line[:-1], step.line[1:])
        way = np.diff(step.line, axis=0)[hit]
        across = np.abs(outward[:, 0] * way[:, 1] - outward[:, 1] * way[:, 0])
        aslant = np.hypot(way[:, 0], way[:, 1]) / np.maximum(across, _NEAREST_HIT)
        for k in np.flatnonzero(distance < reach):
            cut_by[k] = "wall"
            reach[k] = max(distance[k] - blur * aslant[k], 0.0)


def is_retaining(line: BreakLine) -> bool:
    """Whether a break line is a step so high that it is a wall."""
    return line.foot is not None and bool(np.abs(line.top - line.foot).max() >= RETAINING)


def _to_lot_line(boundary: shapely.Polygon, feet: Array, outward: Array) -> Array:
    line = np.asarray(boundary.exterior.coords)[:, :2]
    distance, _ = _first_hit(feet, outward, line[:-1], line[1:])
    on_line = shapely.distance(boundary.exterior, shapely.points(feet)) <= TOUCHING
    ahead = feet + 2 * TOUCHING * outward
    leaves = ~shapely.contains_xy(boundary, ahead[:, 0], ahead[:, 1])
    return np.where(on_line & leaves, 0.0, distance)


def _first_hit(feet: Array, outward: Array, starts: Array, ends: Array):
    """How far each ray runs until it meets a segment (infinite if never), and which one."""
    if not len(starts):
        return np.full(len(feet), np.inf), np.zeros(len(feet), dtype=np.int64)
    way = ends - starts
    gap = starts[None, :, :] - feet[:, None, :]
    across = outward[:, None, 0] * way[None, :, 1] - outward[:, None, 1] * way[None, :, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (gap[..., 0] * way[None, :, 1] - gap[..., 1] * way[None, :, 0]) / across
        share = (gap[..., 0] * outward[:, None, 1] - gap[..., 1] * outward[:, None, 0]) / across
    length = np.hypot(way[:, 0], way[:, 1])
    parallel = np.abs(across) <= 1e-9 * length
    met = ~parallel & (far > _NEAREST_HIT) & (share >= -1e-9) & (share <= 1 + 1e-9)
    distance = np.where(met, far, np.inf)
    first = distance.argmin(axis=1)
    return distance[np.arange(len(feet)), first], first
