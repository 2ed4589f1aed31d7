"""Whether what is recommended keeps its rules, checked from the record and the plan by plain means.

In: a plan. Out: what is broken, and what only a cell's width or the storm decides. Geometry by
shapely, flow in pipes by the fluids package, ground and paths by `PlainGround`.
"""

from __future__ import annotations

from math import pi

import numpy as np
import shapely
from fluids.open_flow import V_Manning
from numpy.typing import NDArray
from shapely import LineString, Point, union_all
from shapely.geometry import box

from runoff.discharge import (
    AsItIs,
    BuriedLine,
    Extension,
    GradeCorrection,
    Option,
    SeepagePit,
    Swale,
    WaterToMove,
)
from runoff.planning import Plan
from runoff.site import Downspout, Site
from tests.discharge.plain_found import Found
from tests.discharge.plain_ground import PlainGround
from tests.discharge.plain_pits import check_pit

FOOT, INCH = 0.3048, 0.0254
MM, CM = 0.001, 0.01


class Grounds:
    """The ground of a plan as surveyed, and with the soil of corrections on it, each made once."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._made: dict[bytes, PlainGround] = {}

    def of(self, correction: GradeCorrection | None) -> PlainGround:
        """The ground with the soil of a correction on it, laid by its own cells."""
        terrain = self.plan.findings.terrain
        z = np.array(terrain.ground)
        for wedge in correction.wedges if correction is not None else ():
            if not wedge.refused and wedge.short_by_m <= 0:
                rows, cols = wedge.cells.T
                z[rows, cols] = np.fmax(z[rows, cols], terrain.ground[rows, cols] + wedge.raised)
        key = z.tobytes()
        if key not in self._made:
            self._made[key] = PlainGround(self.plan.site, terrain, z)
        return self._made[key]


def check(grounds: Grounds, spout: Downspout, water: WaterToMove, option: Option) -> Found:
    """Every rule of one option for one downspout."""
    found = Found()
    ground = grounds.of(option.correction)
    if option.correction is not None:
        _soil(grounds.plan, option.correction, ground, found)
    match option.design:
        case AsItIs():
            _as_it_is(ground, spout, water, found)
        case Extension() as extension:
            # It is laid on the soil that the walls need whatever is built.
            built = grounds.of(grounds.plan.grade)
            _extension(ground, built, spout, water, extension, found)
        case Swale() as swale:
            _swale(ground, spout, water, swale, found)
        case BuriedLine() as line:
            _line(ground, spout, water, line, found)
            _end_of_line(ground, water, line, found)
        case SeepagePit() as pit:
            _line(ground, spout, water, pit.line, found)
            check_pit(ground, water, pit, found)
    return found


def _soil(plan: Plan, correction: GradeCorrection, ground: PlainGround, found: Found) -> None:
    """No soil nearer to siding than 6 in, nor on paving; volumes as the cells add up."""
    site, grid = plan.site, ground.grid
    least, before = site.rules["siding_clearance"], plan.findings.terrain.ground
    for wedge in correction.wedges:
        building = next(b for b in site.buildings if b.name == wedge.run.building)
        ring = np.array(building.outline.exterior.coords)
        wall = LineString(ring[wedge.run.wall : wedge.run.wall + 2])
        tops = [c.height - least for c in building.clearances if c.wall == wedge.run.wall]
        for row, col in wedge.cells:
            here = Point(grid.center(int(row), int(col)))
            raised = ground.z[row, col] - before[row, col]
            if not wedge.run.start_m < wall.project(here) < wedge.run.end_m:
                continue
            if tops and wall.distance(here) < grid.cell_size and raised > CM:
                over = ground.z[row, col] - min(tops)
                found.ask(over <= CM, f"soil {over:.3f} m too high at the siding")
    laid = float(np.nansum(ground.z - before)) * grid.cell_area
    told = correction.compacted_m3
    found.ask(abs(laid - told) <= 0.01 * told + 0.01, f"soil {laid:.2f} m3, told {told:.2f}")
    found.ask(np.isclose(correction.loose_m3, told * site.rules["soil_bulking"]), "loose soil")


def _as_it_is(ground: PlainGround, spout: Downspout, water: WaterToMove, found: Found) -> None:
    site = ground.site
    building = next(b for b in site.buildings if b.name == spout.building)
    found.ask(building.kind == "slab", f"it stands at a {building.kind}")
    found.ask(not site.soil.expansive, "the soil is expansive")
    fall, run = fall_at_wall(ground, spout)
    least = site.rules["soil_grade"] * run
    paved = any(p.outline.distance(Point(spout.x, spout.y)) < 3.0 for p in site.paving)
    if fall < least - 2 * CM and not paved:
        told = found.broken if fall < 0.5 * least and run > 2.5 else found.close
        told.append(f"the ground at the wall falls {fall:.3f} m in {run:.2f} m")
    found.let_go(ground, (spout.x, spout.y), water.storm_m3, at_wall=True)


def fall_at_wall(ground: PlainGround, spout: Downspout) -> tuple[float, float]:
    """How far the ground falls straight out from the wall beside a downspout, and over what way.

    Up to 10 ft, the lot's line or another building.
    """
    site = ground.site
    building = next(b for b in site.buildings if b.name == spout.building)
    here = Point(spout.x, spout.y)
    foot = building.outline.exterior.interpolate(building.outline.exterior.project(here))
    out = np.array([spout.x - foot.x, spout.y - foot.y])
    out = out / np.hypot(*out)
    reach = site.rules["foundation_reach"]
    others = union_all([b.outline for b in site.buildings if b is not building])
    lot = site.lot.boundary if site.lot is not None else box(-1e3, -1e3, 1e3, 1e3)
    ray = LineString([(foot.x, foot.y), (foot.x + reach * out[0], foot.y + reach * out[1])])
    free = ray.intersection(lot).difference(others)
    length = (free.geoms[0] if hasattr(free, "geoms") else free).length
    line = np.array([[foot.x, foot.y]]) + np.array([[0.05], [length]]) * out
    z = ground.heights(line)
    return float(z[0] - z[1]), float(length)


def _extension(
    ground: PlainGround,
    built: PlainGround,
    spout: Downspout,
    water: WaterToMove,
    ext: Extension,
    found: Found,
) -> None:
    site, rules = ground.site, ground.site.rules
    foot = Point(spout.x, spout.y)
    found.ask(foot.distance(Point(ext.start)) <= 2 * ground.grid.cell_size, "start")
    line = LineString([ext.start, ext.end])
    found.ask(abs(line.length - ext.length_m) < MM, "length as drawn")
    found.ask(ext.length_m <= rules["extension_length"] + MM, "too long")
    found.ask(abs((bearing(ext.start, ext.end) - ext.bearing + 180) % 360 - 180) < 0.1, "bearing")
    for why in against_extension(site, line):
        found.broken.append(f"extension {why}")
    z = built.heights(np.array([ext.start, ext.end]))
    fall = float(z[0] - z[1])
    found.ask(0 <= ext.outlet_m <= rules["leader_outlet_height"] + MM, "height of the leader")
    found.ask(abs(fall + ext.outlet_m - ext.fall_m) < 5 * CM, "its fall")
    found.ask(ext.fall_m >= rules["extension_slope"] * ext.length_m - MM, "falls too little")
    along = line.length * np.linspace(0, 1, 30)
    under = built.heights(np.array([line.interpolate(s).coords[0] for s in along]))
    pipe = z[0] + ext.outlet_m - ext.fall_m * along / line.length
    # Beside a wall the cells may give no height; there the foot was asked about already.
    known = np.isfinite(under)
    found.ask(bool(known.mean() > 0.8), "lies on ground that nobody surveyed")
    found.ask(bool((under - pipe)[known].max() < 5 * CM), "lies under the ground")
    found.let_go(ground, ext.end, water.storm_m3)
    soon = first_stretch(ground, ext.end, rules["extension_walk_run"])
    for each in site.paving:
        if each.kind in ("walk", "drive") and soon.intersects(each.outline):
            deep = soon.intersection(each.outline.buffer(-ground.grid.cell_size)).length
            (found.broken if deep > 0.3 else found.close).append(f"its water on {each.name}")


def against_extension(site: Site, line: LineString, margin: float = 0.0) -> list[str]:
    """What the plan has against an extension; with a margin, more than the rules ask for."""
    rules, end = site.rules, Point(line.coords[-1])
    against = []
    for each in site.buildings:
        if each.outline.distance(end) < rules["near_foundation"] + margin - MM:
            against.append(f"ends near the {each.name}")
        if line.intersects(each.outline.buffer(-0.06 if not margin else -0.02)):
            against.append(f"runs through the {each.name}")
    assert site.lot is not None
    if not site.lot.boundary.buffer(0.06 - margin).covers(line):
        against.append("leaves the lot")
    for side in site.lot.sides:
        away = LineString(side.line).distance(end)
        keeps = rules["extension_lot_line_distance"] + margin - MM
        if side.neighbor not in ("street", "alley") and away < keeps:
            against.append(f"ends near the {side.name} side")
    for each in site.paving:
        if line.intersects(each.outline.buffer(-0.02 + margin)):
            against.append(f"lies across {each.name}")
        away = each.outline.distance(end)
        if each.kind != "patio" and away < rules["extension_walk_distance"] + margin - MM:
            against.append(f"ends near {each.name}")
    for each in site.keep_outs:
        if each.kind in ("septic field", "well") and each.area.buffer(margin).contains(end):
            against.append(f"ends on {each.name}")
        if each.kind == "retaining wall" and line.intersects(each.area.buffer(margin)):
            against.append(f"crosses {each.name}")
    return against


def bearing(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Degrees clockwise from up."""
    return float(np.degrees(np.arctan2(end[0] - start[0], end[1] - start[1])) % 360)


def first_stretch(ground: PlainGround, start: tuple[float, float], length: float) -> LineString:
    """The first metres of a path walked from a start."""
    path = ground.walk(np.array([start]))[:, 0]
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    kept = path[run <= length]
    return LineString(kept if len(kept) > 1 else np.vstack([kept, kept + 1e-6]))


def _swale(
    ground: PlainGround, spout: Downspout, water: WaterToMove, swale: Swale, found: Found
) -> None:
    site, rules = ground.site, ground.site.rules
    line = LineString(swale.line)
    assert site.lot is not None
    found.ask(Point(spout.x, spout.y).distance(Point(swale.line[0])) < 0.01, "start of the swale")
    takes = [o.place.buffer(0.5) for o in site.outlets]
    takes += [e.area for e in site.easements if e.may_take_water]
    found.ask(union_all([site.lot.boundary.buffer(CM), *takes]).covers(line), "leaves the lot")
    for each in site.paving:
        found.ask(not each.outline.buffer(-CM).intersects(line), f"crosses {each.name}")
    for each in site.keep_outs:
        may = each.kind in ("utility", "private line") and each.allowed != "nothing"
        found.ask(may or not each.area.intersects(line), f"crosses {each.name}")
    head = Point(swale.line[0]).distance(Point(swale.line[1]))
    x = swale.stations_m
    channel = x[1:] > head + MM
    fall = -np.diff(swale.bottom_m) / np.diff(x)
    found.ask(bool((fall[~channel] >= rules["soil_grade_to_drain"] - 1e-6).all()), "lead-in")
    least = rules["swale_grade_beyond"]
    found.ask(bool((fall[channel] >= least - 1e-6).all()), "falls too little")
    found.ask(abs(swale.slope - fall[channel].min()) < 1e-6, "least slope")
    cut = swale.ground_m - swale.bottom_m
    found.ask(bool((cut <= rules["swale_greatest_cut"] + MM).all()), "cut too deep")
    at = np.array([line.interpolate(s).coords[0] for s in x])
    found.ask(float(np.nanmedian(abs(ground.heights(at) - swale.ground_m))) < 3 * CM, "its ground")
    away = np.array([ground.site.buildings[0].outline.distance(Point(p)) for p in at])
    for each in site.buildings[1:]:
        away = np.minimum(away, [each.outline.distance(Point(p)) for p in at])
    beyond = np.r_[False, channel]
    found.ask(bool((away[beyond] >= rules["swale_wall_distance"] - CM).all()), "near a wall")
    close = beyond[1:] & (np.minimum(away[1:], away[:-1]) < rules["foundation_reach"] - 0.45)
    found.ask(bool((fall[close] >= rules["swale_grade"] - 1e-6).all()), "falls too little near")
    section, deep = swale.section, swale.section.depth_m - rules["swale_freeboard"]
    area = (section.bottom_m + section.side_run * deep) * deep
    wetted = section.bottom_m + 2 * deep * np.hypot(1, section.side_run)
    flow = area * V_Manning(area / wetted, swale.slope, rules["roughness_grass_swale"])
    found.ask(abs(flow / swale.capacity_m3_per_s - 1) < 1e-6, "capacity by Manning")
    found.ask(flow >= swale.design_flow_m3_per_s * (1 - 1e-9), "carries too little")
    found.ask(swale.design_flow_m3_per_s >= water.line_flow_m3_per_s * (1 - 1e-9), "design flow")
    end = (float(swale.line[-1][0]), float(swale.line[-1][1]))
    found.let_go(ground, end, water.storm_m3)


def _line(
    ground: PlainGround, spout: Downspout, water: WaterToMove, line: BuriedLine, found: Found
) -> None:
    site, rules, profile = ground.site, ground.site.rules, line.profile
    route = LineString(line.route)
    found.ask(Point(spout.x, spout.y).distance(Point(line.route[0])) < 1e-6, "start of the line")
    found.ask(abs(route.length - profile.stations_m[-1]) < CM, "length of the line")
    x = profile.stations_m
    at = np.array([route.interpolate(s).coords[0] for s in x])
    miss = abs(ground.heights(at) - profile.ground_m)
    found.ask(float(np.nanmax(miss)) < 8 * CM, f"ground of the line, {np.nanmax(miss):.3f} m off")
    slope = -np.diff(profile.invert_m) / np.diff(x)
    found.ask(bool((slope >= rules["line_slope"] - 1e-6).all()), "slope of the line")
    pipe = profile.pipe
    cover = profile.ground_m - profile.invert_m - pipe.bore_m - pipe.wall_m
    _cover(site, line, at, cover, found)
    _keeps_off(ground, line, route, at, found)
    area = pi / 4 * pipe.bore_m**2
    full = area * V_Manning(pipe.bore_m / 4, rules["line_slope"], pipe.roughness)
    found.ask(full >= water.line_flow_m3_per_s * (1 - 1e-9), "pipe too small")
    found.ask(pipe.bore_m >= 2.9 * INCH, "smaller than the leader")
    # Caltrans' recommended figure for corrugated plastic, also where nobody knows the wall.
    n = {"smooth": 0.010, "corrugated": 0.022, "unknown": 0.022}[site.pipe.wall]
    found.ask(abs(pipe.roughness - n) < 1e-9, "roughness")


def _cover(site: Site, line: BuriedLine, at: NDArray, cover: NDArray, found: Found) -> None:
    rules, profile = site.rules, line.profile
    x = profile.stations_m
    last = profile.exempt_from_m if profile.exempt_from_m is not None else np.inf
    listed = [c for c in line.crossings if c.kind == "less than least cover"]
    first = np.any([x <= c.end_m + CM for c in listed if c.start_m < CM], axis=0)
    exempt = (x > last - CM) | first
    short = ~exempt & (cover < rules["line_cover"] - CM)
    found.ask(not short.any(), f"cover {cover[short].min() if short.any() else 0:.3f} m")
    found.ask(bool((cover[exempt & (x < last)] > -CM).all()), "the pipe shows at its start")
    for each in site.paving:
        under = shapely.contains_xy(each.outline.buffer(-0.05), *at.T)
        keep = rules["line_cover_private_drive" if each.kind == "drive" else "line_cover"]
        # Beside the footing a line may lie shallow under a walk or patio, not under wheels.
        under &= ~(first & (each.kind != "drive"))
        found.ask(bool((cover[under] >= keep - CM).all()), f"cover under {each.name}")


def _keeps_off(
    ground: PlainGround, line: BuriedLine, route: LineString, at: NDArray, found: Found
) -> None:
    site, rules = ground.site, ground.site.rules
    half = line.trench_width_m / 2
    for each in site.keep_outs:
        met = route.buffer(half - MM).intersects(each.area)
        shut = each.kind in ("septic field", "well") or each.allowed == "nothing"
        found.ask(not (met and shut), f"digs in {each.name}")
        named = any(each.name == c.name for c in line.crossings)
        crossed = route.intersection(each.area).length > 0.05
        found.ask(named or shut or not crossed, f"{each.name} is not told")
    keep = rules["line_building_distance"]
    clear = np.hypot(*(at - at[0]).T) > keep * np.sqrt(2) + 0.06
    assert site.lot is not None
    off = route.difference(site.lot.boundary.buffer(0.02)).length
    into = any(o.place.distance(Point(line.end)) < 0.6 for o in site.outlets)
    found.ask(off < CM or into, "leaves the lot")
    bottom, limit = line.profile.bottom_m, np.full(len(at), -np.inf)
    for each in site.buildings:
        away = shapely.distance(shapely.points(at), each.outline)
        found.ask(bool((away[clear] >= keep - 2 * CM).all()), f"near the {each.name}")
        depth = each.footing_depth or rules["footing_depth_assumed"]
        ring = each.outline.exterior
        feet = [ring.interpolate(ring.project(Point(p))).coords[0] for p in at]
        low = ground.heights(np.array(feet)) - depth - np.maximum(away - half, 0)
        limit = np.fmax(limit, np.where(away < 6, low, -np.inf))
    deep = float((limit - bottom).max())
    if deep > MM:
        told = found.broken if deep > 8 * CM else found.close
        told.append(f"{deep:.3f} m below the footing's 45 degree line")


def _end_of_line(ground: PlainGround, water: WaterToMove, line: BuriedLine, found: Found) -> None:
    site, rules, end = ground.site, ground.site.rules, Point(line.end)
    outlet = next((o for o in site.outlets if o.place.distance(end) <= 0.5 + CM), None)
    invert, ground_m = float(line.profile.invert_m[-1]), float(line.profile.ground_m[-1])
    if outlet is not None:
        if outlet.invert is not None:
            found.ask(invert >= outlet.invert - MM, "below the outlet's invert")
        elif outlet.kind != "storm inlet":
            found.ask(abs(invert - ground_m) < 2 * CM, "does not come out at the outlet")
        return
    found.ask(abs(invert - ground_m) < CM, "does not come to daylight")
    for each in site.paving:
        away = each.outline.distance(end)
        found.ask(away >= rules["line_walk_distance"] - CM, f"ends near {each.name}")
    for each in site.keep_outs:
        found.ask(not each.area.contains(end), f"ends in {each.name}")
    assert site.lot is not None
    found.ask(site.lot.boundary.covers(end), "ends off the lot")
    for side in site.lot.sides:
        away = LineString(side.line).distance(end)
        keep = rules["line_lot_line_distance"] - CM
        found.ask(side.neighbor != "neighbor" or away >= keep, f"ends near the {side.name} side")
    # The line's end is let go in a cell; its center is what the tool's map answers for.
    for each in site.buildings:
        away = each.outline.distance(end)
        found.ask(away >= rules["near_foundation"] - ground.grid.cell_size, f"near {each.name}")
    found.let_go(ground, line.end, water.storm_m3)
