"""Whether something simpler was possible after all, looked for by force and simple arithmetic.

A way that the tool calls impossible is contradicted only by one that keeps every rule with room to
spare: a cell's width more than each distance asks for, steeper than each slope asks for, and all
nine starts around its end safe. What is possible but not by so much is close, and counted as such.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, union_all
from shapely.geometry.base import BaseGeometry

from runoff.discharge import GradeCorrection, NothingToCorrect, Option, SoilDoesNot, WaterToMove
from runoff.planning import Plan
from runoff.site import Building, Downspout, Site
from tests.discharge.plain_checks import (
    FOOT,
    INCH,
    Grounds,
    against_extension,
    fall_at_wall,
    first_stretch,
)
from tests.discharge.plain_ground import SAFE, PlainGround
from tests.discharge.plain_pits import design_soil_rate, pit_distances, pit_must_hold

ROOM, STEP = 0.35, 0.3
BURIED = 12 * INCH + 4.3 * INCH  # an invert at least cover, with room for the pipe
SWALE_HALF, SWALE_DEEP = 0.5 * FOOT + 3 * 0.5 * FOOT, 0.5 * FOOT
Points = NDArray[np.float64]


def simpler(grounds: Grounds, spout: Downspout, water: WaterToMove, option: Option) -> str:
    """What contradicts an infeasible option, ``close`` where only nearly, empty where nothing."""
    plan, site, kind = grounds.plan, grounds.plan.site, option.kind
    graded = kind.startswith("corrected grade")
    ground = grounds.of(_correction(plan, spout) if graded else None)
    if graded and isinstance(option.reason, NothingToCorrect | SoilDoesNot):
        return _soil_after_all(ground, spout, option.reason)
    if kind in ("as it is", "corrected grade"):
        return _as_it_is(ground, spout, water, graded)
    if kind.endswith("extension"):
        # It lies on the soil that the walls need whatever is built, and has to work there too.
        built = _extension(grounds.of(plan.grade), spout, water)
        return built and _extension(ground, spout, water)
    if kind.endswith("swale"):
        return _swale(ground, spout, water)
    if kind.endswith("line"):
        return _line(ground, spout, water)
    if kind.endswith("pit") and design_soil_rate(site) is not None:
        return _pit(ground, spout, water)
    return ""


def _correction(plan: Plan, spout: Downspout) -> GradeCorrection | None:
    """The soil along one building, as some option of a downspout there has it."""
    at = [each.name for each in plan.site.downspouts if each.building == spout.building]
    options = [o for r in plan.recommendations if r.downspout in at for o in r.options]
    found = next((o.correction for o in options if o.correction is not None), None)
    if found is None and plan.grade is not None:
        kept = tuple(w for w in plan.grade.wedges if w.run.building == spout.building)
        return GradeCorrection(kept, 0.0, 0.0)
    return found


def _soil_after_all(
    ground: PlainGround, spout: Downspout, reason: NothingToCorrect | SoilDoesNot
) -> str:
    """A wall that needs nothing falls enough; one that siding forbids has siding."""
    site, building = ground.site, _building(ground.site, spout)
    if isinstance(reason, SoilDoesNot):
        sided = reason.refusal is not None or any(b.clearances for b in site.buildings)
        return "" if sided else "no siding stands in the way of soil"
    if reason.code != "every wall drains":
        return ""
    fall, run = fall_at_wall(ground, spout)
    paved = any(p.outline.distance(building.outline) < 3.0 for p in site.paving)
    least = site.rules["soil_grade"] * run
    short = fall < least - 0.03 and run > 2.9 and not paved
    return f"the wall falls only {fall:.3f} m in {run:.2f} m" if short else ""


def _building(site: Site, spout: Downspout) -> Building:
    return next(b for b in site.buildings if b.name == spout.building)


def _as_it_is(ground: PlainGround, spout: Downspout, water: WaterToMove, graded: bool) -> str:
    site, near = ground.site, ground.site.rules["near_foundation"]
    if _building(site, spout).kind != "slab" or site.soil.expansive:
        return ""
    fall, run = fall_at_wall(ground, spout)
    # What a survey can tell counts on ground as surveyed; soil is placed to its grade by level.
    spare = -0.01 if graded else 0.02
    if run < 3.0 or fall < site.rules["soil_grade"] * run + spare:
        return ""
    path = ground.walk(np.array([[spout.x, spout.y]]))[:, 0]
    away = ground.sample(ground.away, path)
    beyond = np.flatnonzero(away > near + 2 * ground.grid.cell_size)
    if not len(beyond) or beyond[0] * STEP * 0.6 > 2 * near:
        return ""
    x, y = np.meshgrid(*ground.grid.centers())
    beside = np.hypot(x - spout.x, y - spout.y) < 3.0
    if (ground.lake & beside.ravel()).any() or _told(
        ground.around((spout.x, spout.y), water.storm_m3, True)
    ) != "safe":
        return ""
    told = _told(ground.around(tuple(path[beyond[0]]), water.storm_m3))
    return "it may stay as it is" if told == "safe" else ""


def _told(outcomes: NDArray[np.int64]) -> str:
    """Whether all nine starts are safe, or the middle one alone."""
    if (outcomes == SAFE).all() and len(outcomes) >= 5:  # at a wall some are inside
        return "safe"
    return "close" if outcomes[0] == SAFE else "no"


def _directions(turns: int) -> Points:
    turn = 2 * np.pi * np.arange(turns) / turns
    return np.column_stack([np.sin(turn), np.cos(turn)])


def _extension(ground: PlainGround, spout: Downspout, water: WaterToMove) -> str:
    """Every 5 degrees and foot to 20 ft."""
    site, rules = ground.site, ground.site.rules
    foot = np.array([spout.x, spout.y])
    lengths = np.arange(1, 21) * FOOT - 0.01
    ends = foot + (lengths[:, None, None] * _directions(72)[None]).reshape(-1, 2)
    length = np.repeat(lengths, 72)
    fits = _clear_of_all(site, ends, rules["near_foundation"] + ROOM)
    z, z0 = ground.heights(ends), float(ground.heights(foot[None])[0])
    fits &= z <= z0 + 5 * INCH - 0.015 * length
    lines = shapely.linestrings(np.stack([np.broadcast_to(foot, ends.shape), ends], axis=1))
    crossed = [b.outline.buffer(-0.02) for b in site.buildings]
    crossed = union_all([*crossed, *(p.outline.buffer(0.2) for p in site.paving)])
    fits &= ~shapely.intersects(lines, crossed)
    fits[fits] = ground.outcomes(ends[fits], water.storm_m3) == SAFE if fits.any() else False
    close = ""
    for k in np.flatnonzero(fits):
        line = LineString([foot, ends[k]])
        if against_extension(site, line, 0.3) or not _lies_clear(ground, line, z0, float(z[k])):
            continue
        soon = first_stretch(ground, tuple(ends[k]), rules["extension_walk_run"] + ROOM)
        walks = [p.outline for p in site.paving if p.kind != "patio"]
        if union_all(walks).distance(soon) < ROOM if walks else False:
            continue
        if _told(ground.around(tuple(ends[k]), water.storm_m3)) == "safe":
            return f"an extension of {length[k]:.2f} m to ({ends[k][0]:.2f}, {ends[k][1]:.2f})"
        close = "close"
    return close


def _lies_clear(ground: PlainGround, line: LineString, z0: float, z1: float) -> bool:
    share = np.linspace(0.05, 0.95, 12)
    under = ground.heights(shapely.get_coordinates(line.interpolate(share, normalized=True)))
    return bool((under <= z0 + 5 * INCH + share * (z1 - z0 - 5 * INCH) + 0.003).all())


def _clear_of_all(site: Site, xy: Points, from_walls: float) -> NDArray[np.bool_]:
    points = shapely.points(xy)
    assert site.lot is not None
    clear = shapely.contains_xy(site.lot.boundary.buffer(-ROOM), *xy.T)
    for each in site.buildings:
        clear &= shapely.distance(points, each.outline) >= from_walls
    return clear


def _shut(site: Site, half: float) -> BaseGeometry:
    """Where no trench may go, wider by half of it and some room."""
    areas = [
        each.area.buffer(half + ROOM)
        for each in site.keep_outs
        if each.kind in ("septic field", "well") or each.allowed == "nothing"
    ]
    return union_all(areas)


def _outward(ground: PlainGround, spout: Downspout) -> Points:
    ring = _building(ground.site, spout).outline.exterior
    here = Point(spout.x, spout.y)
    foot = ring.interpolate(ring.project(here))
    way = np.array([spout.x - foot.x, spout.y - foot.y])
    return way / np.hypot(*way)


def _rays(ground: PlainGround, spout: Downspout) -> Iterator[tuple[Points, Points]]:
    """Stations every 0.3 m on straight lines that a trench may follow, with the places there."""
    site, start = ground.site, np.array([spout.x, spout.y])
    approved = "_approved" if site.pipe.wall == "smooth" else ""
    keeps = site.rules[f"line_building_distance{approved}"] + 0.05
    shut, walls = _shut(site, 0.3), union_all([b.outline for b in site.buildings])
    assert site.lot is not None
    lot = site.lot.boundary.buffer(-ROOM)
    for way in _directions(72):
        if way @ _outward(ground, spout) < 0.75:
            continue
        x = np.arange(0, 60, STEP)
        at = start + x[:, None] * way
        points = shapely.points(at)
        stop = ~shapely.contains(lot, points) | shapely.intersects(shut, points)
        stop |= (shapely.distance(points, walls) < keeps) & (x > keeps * sqrt(2))
        stop |= ~np.isfinite(ground.heights(at))
        last = int(stop.argmax()) if stop.any() else len(x)
        drives = [p.outline for p in site.paving if p.kind == "drive"]
        if last > 8 and not LineString(at[[0, last - 1]]).intersects(union_all(drives)):
            yield x[:last], at[:last]


def _line(ground: PlainGround, spout: Downspout, water: WaterToMove) -> str:
    """Straight lines every 5 degrees, held from every station until they come out."""
    site, close = ground.site, ""
    slope = 1.1 * site.rules["line_slope"]
    paved = [p.outline.buffer(site.rules["line_walk_distance"] + 0.05) for p in site.paving]
    barred = union_all([*paved, *(k.area.buffer(0.1) for k in site.keep_outs)])
    sides = [LineString(s.line) for s in site.lot.sides if s.neighbor == "neighbor"]
    keeps = site.rules["line_lot_line_distance"] + 0.05
    for x, at in _rays(ground, spout):
        z = ground.heights(at)
        h = z - BURIED + slope * x
        level = np.minimum.accumulate(h)
        free = _clear_of_all(site, at, site.rules["near_foundation"] + ROOM)
        free &= ~shapely.intersects_xy(barred, *at.T)
        for side in sides:
            free &= shapely.distance(shapely.points(at), side) >= keeps
        if _undercuts(ground, spout, x, at, z):
            continue
        for release in range(len(x) - 1):
            out = np.flatnonzero(h[release + 1 :] <= level[release] - BURIED)
            if not len(out) or h[release] > level[release] + 1e-9:
                continue
            day = release + 1 + int(out[0])
            short = h[release + 1 : day + 1] < level[release]
            first = release + 1 + int(short.argmax())
            steady = short[first - release - 1 :].all() and free[first : day + 1].all()
            if not steady:
                continue
            told = _told(ground.around(tuple(at[day]), water.storm_m3))
            if told == "safe":
                return f"a line of {x[day]:.2f} m to ({at[day][0]:.2f}, {at[day][1]:.2f})"
            close = close or ("close" if told == "close" else "")
    return close


def _undercuts(ground: PlainGround, spout: Downspout, x: Points, at: Points, z: Points) -> bool:
    """Whether a trench at least cover comes near a footing's line beyond its first 4 ft."""
    site, deep = ground.site, BURIED + 5 * INCH
    for each in site.buildings:
        depth = each.footing_depth or site.rules["footing_depth_assumed"]
        away = shapely.distance(shapely.points(at), each.outline)
        ring = each.outline.exterior
        feet = ring.interpolate(ring.project(shapely.points(at)))
        limit = ground.heights(shapely.get_coordinates(feet)) - depth - np.maximum(away - 0.3, 0)
        beyond = (x > 4 * FOOT) | (each.name != spout.building)
        lowest = np.minimum.accumulate(z - deep + 0.011 * x) - 0.011 * x
        if ((lowest < limit + 0.1) & (away < 6) & beyond).any():
            return True
    return False


def _swale(ground: PlainGround, spout: Downspout, water: WaterToMove) -> str:
    """Straight channels 6 in deep from a head beyond 5 ft, every 10 degrees from the wall."""
    site, close = ground.site, ""
    rules, way = site.rules, _outward(ground, spout)
    far = rules["near_foundation"] + SWALE_HALF
    foot = np.array([spout.x, spout.y])
    head = foot + far * way
    start = float(ground.heights(foot[None])[0]) - 0.05 * far - 0.03
    walls = union_all([b.outline for b in site.buildings])
    shut = [p.outline for p in site.paving] + [k.area for k in site.keep_outs]
    barred = union_all(shut)
    if barred.distance(LineString([foot, head])) < SWALE_HALF + ROOM:
        return ""
    for turn in np.radians(np.arange(-80, 81, 10)):
        c, s = np.cos(turn), np.sin(turn)
        on = np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])
        x = np.arange(0, 40, STEP)
        at = head + x[:, None] * on
        across = SWALE_HALF * np.array([-on[1], on[0]])
        z = np.array([ground.heights(at + k * across) for k in (-1, 0, 1)])
        stop = ~_clear_of_all(site, at, rules["near_foundation"])
        assert site.lot is not None
        stop |= shapely.distance(shapely.points(at), barred) < SWALE_HALF + ROOM
        stop |= site.lot.boundary.exterior.distance(shapely.points(at)) < SWALE_HALF + ROOM
        stop |= ~np.isfinite(z).all(axis=0)
        last = int(stop.argmax()) if stop.any() else len(x)
        if last < 6:
            continue
        x, at, low, high = x[:last], at[:last], z[:, :last].min(axis=0), z[:, :last].max(axis=0)
        away = shapely.distance(shapely.points(at), walls)
        grade = np.where(away < rules["foundation_reach"] + ROOM, 0.022, 0.012)
        found = _channel(x, low, high, grade, start)
        if found is None:
            continue
        first, end = found
        if not (ground.outcomes(at[first : end + 1], water.storm_m3) == SAFE).all():
            continue
        told = _told(ground.around(tuple(at[end]), water.storm_m3))
        if told == "safe":
            return f"a swale of {x[end] + far:.2f} m to ({at[end][0]:.2f}, {at[end][1]:.2f})"
        close = "close"
    return close


def _channel(
    x: Points, low: Points, high: Points, grade: Points, start: float
) -> tuple[int, int] | None:
    """From where a channel grows shallow to where it comes out; None where it does not."""
    fall = np.concatenate([[0], np.cumsum(grade[1:] * np.diff(x))])
    h = low - SWALE_DEEP - 0.03 + fall
    h[0] = min(h[0], start)
    level = np.minimum.accumulate(h)
    for release in range(len(x) - 1):
        out = np.flatnonzero((low + fall)[release + 1 :] <= level[release])
        if not len(out):
            return None
        end = release + 1 + int(out[0])
        bottom = np.where(np.arange(end + 1) < release, level[: end + 1], level[release])
        if (high[: end + 1] - bottom + fall[: end + 1]).max() < 2 * FOOT - 0.1:
            return release, end
    return None


def _pit(ground: PlainGround, spout: Downspout, water: WaterToMove) -> str:
    """Square pits on a metre's grid, the line to them straight, the corners as the house's."""
    site, close = ground.site, ""
    rate = design_soil_rate(site)
    assert site.lot is not None
    assert rate is not None
    foot = np.array([spout.x, spout.y])
    z0 = float(ground.heights(foot[None])[0])
    left, bottom, right, top = site.lot.boundary.bounds
    columns, rows = np.arange(left, right, 0.7), np.arange(bottom, top, 0.7)
    xy = np.stack(np.meshgrid(columns, rows), -1).reshape(-1, 2)
    keeps = pit_distances(site)
    distances = [shapely.distance(shapely.points(xy), shape) - keep for _, shape, keep in keeps]
    room = np.min(distances, axis=0) - 0.1
    z = ground.heights(xy)
    may = (room > 0.6) & (z < z0 - 0.05)
    xy, room = xy[may], room[may]
    order = np.argsort(np.hypot(*(xy - foot).T))
    for k in order:
        at, away = xy[k], float(np.hypot(*(xy[k] - foot)))
        side = _side_that_fits(ground, water, at, away, z0, rate)
        if side is None or side / sqrt(2) > room[k] or not _sees(ground, spout, at):
            continue
        corners = at + side / 2 * np.array([(a, b) for a in (-1, 1) for b in (-1, 1)])
        low = corners[ground.heights(corners).argmin()]
        z = ground.heights(np.vstack([corners, [at]]))
        if z.max() - z.min() > 0.12 * side or ground.lake[ground.cells(corners)[0]].any():
            continue
        if _steep_near(ground, at, side):
            continue
        told = _told(ground.around(tuple(low), water.storm_m3))
        if told == "safe":
            return f"a pit {side:.2f} m square at ({at[0]:.2f}, {at[1]:.2f})"
        close = close or ("close" if told == "close" else "")
    return close


def _side_that_fits(
    ground: PlainGround, water: WaterToMove, at: Points, away: float, z0: float, rate: float
) -> float | None:
    """The side of a square pit at a place, for the depth that its line leaves there."""
    site, rules = ground.site, ground.site.rules
    step = 0.5 * FOOT if site.units == "ft" else 0.1
    near = at + np.array([(a, b) for a in (-1.5, 0, 1.5) for b in (-1.5, 0, 1.5)])
    z = ground.heights(near)
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    inlet = min(z0 - BURIED - 0.02 - 0.011 * away, low - 14 * INCH)
    bottom = high - rules["pit_greatest_dig"] + 0.02
    if site.soil.groundwater is not None:
        bottom = max(bottom, low - site.soil.groundwater + rules["pit_groundwater_clearance"])
    deep = np.floor((inlet - bottom - 0.1) / step) * step
    if not deep >= rules["pit_least_depth"]:
        return None
    for side in np.arange(4, 40) * step:
        need, hours, most = pit_must_hold(site, water, 4 * side * deep, side**2, rate)
        if need <= rules["stone_voids"] * side**2 * deep and hours <= most:
            return float(side + step)
    return None


def _sees(ground: PlainGround, spout: Downspout, at: Points) -> bool:
    site, start = ground.site, np.array([spout.x, spout.y])
    way = (at - start) / np.hypot(*(at - start))
    if way @ _outward(ground, spout) < 0.75:
        return False
    keeps = site.rules["line_building_distance"] + 0.1
    line = LineString([start + way * keeps * sqrt(2), at])
    walls = union_all([b.outline for b in site.buildings])
    drives = union_all([p.outline for p in site.paving if p.kind == "drive"])
    whole = LineString([start, at])
    if line.distance(walls) < keeps or whole.intersects(_shut(site, 0.3)):
        return False
    x = np.arange(0, whole.length, STEP)
    places = start + x[:, None] * way
    under = _undercuts(ground, spout, x, places, ground.heights(places))
    return not whole.intersects(drives) and not under


def _steep_near(ground: PlainGround, at: Points, side: float) -> bool:
    """Whether ground within 10 ft and some room is steeper than 15 %."""
    reach = side / sqrt(2) + ground.site.rules["pit_bank_distance"] + 0.5
    rows, cols = ground.z.shape
    x, y = np.meshgrid(*ground.grid.centers())
    near = np.hypot(x - at[0], y - at[1]) <= reach
    slope = np.hypot(ground.slope_right, ground.slope_down).reshape(rows, cols)
    return bool((slope[near] / ground.grid.cell_size > 0.15).any())
