"""Whether a seepage pit keeps its rules, by plain means: soil, setbacks, storage, overflow.

In: a site, its ground as `PlainGround`, and the record of a pit. Out: what is broken.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Point, Polygon, union_all
from shapely.affinity import rotate
from shapely.geometry import box

from runoff.discharge import SeepagePit, WaterToMove
from runoff.site import Site
from tests.discharge.plain_found import Found
from tests.discharge.plain_ground import GRADE_MARGIN, PlainGround

INCH = 0.0254
MM, CM = 0.001, 0.01


def soil_rate(site: Site) -> float | None:
    """The tested rate (m/s) of a site's soil, by the published formulas; None where unknown."""
    soil = site.soil
    if soil.rate is not None:
        return soil.rate
    if soil.trial_pit is not None:
        # BRE Digest 365: V(75-25) / (a50 t), the slowest of the fillings.
        t = soil.trial_pit
        volume = t.length * t.width * t.depth / 2
        a50 = t.length * t.width + (t.length + t.width) * t.depth
        return volume / (a50 * max(t.times))
    if soil.percolation is not None:
        # Shaft method (from memory): I = dH 60 r / (dt (r + 2 Havg)), per hour; here per second.
        p, r = soil.percolation, soil.percolation.diameter / 2
        return p.fall * r / (p.time * (r + 2 * (p.first_depth - p.fall / 2)))
    if soil.texture is not None:
        return site.rules["soil_rate_" + soil.texture.replace(" ", "_")]
    return None


def design_soil_rate(site: Site) -> float | None:
    """Half of it, at most 10 in/h; None where no pit may be built in that soil."""
    rate = soil_rate(site)
    if rate is None or site.soil.expansive or rate < site.rules["pit_least_rate"]:
        return None
    return min(rate / site.rules["pit_safety_factor"], site.rules["pit_greatest_rate"])


def pit_outline(pit: SeepagePit) -> Polygon:
    """The pit on the plan."""
    body, (x, y) = pit.governing.pit, pit.center
    across, up = body.length_m / 2, body.width_m / 2
    return rotate(box(x - across, y - up, x + across, y + up), pit.angle, origin=(x, y))


def pit_distances(site: Site) -> list[tuple[str, shapely.Geometry, float]]:
    """What a pit keeps away from, and how far (m)."""
    rules, far = site.rules, site.units == "m"
    found: list[tuple[str, shapely.Geometry, float]] = []
    for each in site.buildings:
        metric = "_metric" if far else ""
        basement = each.kind == "basement"
        keep = rules["pit_basement_distance" if basement else f"pit_foundation_distance{metric}"]
        found.append((each.name, each.outline, keep))
    if site.lot is not None:
        keep = rules["pit_lot_line_distance_metric" if far else "pit_lot_line_distance"]
        found += [(f"{s.name} side", LineString(s.line), keep) for s in site.lot.sides]
    keeps = {
        "well": rules["pit_well_distance"],
        "septic field": rules["pit_septic_distance"],
        "road": rules["pit_road_distance"],
        "water service": rules["pit_water_service_distance"],
        "retaining wall": rules["pit_bank_distance_metric" if far else "pit_bank_distance"],
    }
    found += [(k.name, k.area, keeps.get(k.kind, 0.0)) for k in site.keep_outs]
    found += [(p.name, p.outline, 0.0) for p in site.paving]
    found += [(e.name, e.area, 0.0) for e in site.easements]
    return found


def pit_must_hold(site: Site, water: WaterToMove, side_m: float, bottom_m2: float, rate: float):
    """What a pit must hold (m3), the hours in which it empties, and the most that these may be.

    By BRE Digest 365 where there is a table, `side_m` its perimeter times its depth; else a whole
    storm that drains through the bottom.
    """
    rules, pit = site.rules, site.rains.pit
    catchment = water.plan_area_m2 * rules["runoff_coefficient_roof"]
    if pit.durations:
        out = side_m / 2 * rate
        need = max(catchment * depth - out * seconds for seconds, depth in pit.durations)
        return need, need / 2 / out / 3600, rules["pit_half_empty_time"] / 3600
    need = catchment * pit.depth
    return need, need / (bottom_m2 * rate) / 3600, rules["pit_drain_time"] / 3600


def check_pit(ground: PlainGround, water: WaterToMove, pit: SeepagePit, found: Found) -> None:
    site, rules, body = ground.site, ground.site.rules, pit.governing.pit
    outline = pit_outline(pit)
    assert site.lot is not None
    found.ask(site.lot.boundary.covers(outline), "the pit leaves the lot")
    for name, shape, keep in pit_distances(site):
        away = outline.distance(shape)
        fits = away >= keep - MM and (keep > 0 or not outline.intersects(shape))
        found.ask(fits, f"the pit lies {away:.2f} m from {name}, not {keep:.2f}")
    rate = design_soil_rate(site)
    found.ask(rate is not None, "the soil takes no pit")
    if rate is None:
        return
    found.ask(abs(pit.rate.rate_m_per_s / rate - 1) < 1e-6, "the soil's rate")
    bottom = body.length_m * body.width_m
    side = 2 * (body.length_m + body.width_m) * body.depth_m
    need, hours, most = pit_must_hold(site, water, side, bottom, rate)
    holds = bottom * body.depth_m * rules["stone_voids"]
    found.ask(holds >= need * (1 - 1e-6), f"the pit holds {holds:.2f} of {need:.2f} m3")
    found.ask(hours <= most * (1 + 1e-6), f"the pit empties in {hours:.1f} h")
    found.ask(body.depth_m >= rules["pit_least_depth"] - MM, "the pit is too shallow")
    found.ask(pit.dig_depth_m <= rules["pit_greatest_dig"] + MM, "the pit is dug too deep")
    corners = np.array(outline.exterior.coords)[:4]
    z = ground.heights(np.vstack([corners, [pit.center]]))
    bottom_m = pit.inlet_m - body.depth_m
    if site.soil.groundwater is not None:
        # By what is printed: how deep it is dug below the ground at its middle.
        above = site.soil.groundwater - pit.dig_depth_m
        keep = rules["pit_groundwater_clearance"]
        found.ask(above >= keep - MM, f"{above:.2f} m over the groundwater")
    dug = pit.ground_m - bottom_m
    found.ask(abs(dug - pit.dig_depth_m) < CM, "depth of the pit")
    found.ask(pit.inlet_m <= float(pit.line.profile.invert_m[-1]) + MM, "the inlet is too high")
    found.ask(Point(pit.line.end).distance(outline) < 0.02, "the line does not come in")
    steep = float(z.max() - z.min()) / max(body.length_m, body.width_m)
    found.ask(steep <= rules["pit_greatest_slope"], f"ground of {steep:.0%}")
    near = Point(pit.overflow.at).distance(union_all([b.outline for b in site.buildings]))
    found.ask(near >= rules["near_foundation"], "overflows near a foundation")
    over = Found()
    over.let_go(ground, pit.overflow.at, water.storm_m3)
    # On ground too flat to lead it away the overflow spreads: a neighbor beyond is warned of.
    spreads = ground.grade_from(pit.overflow.at) < rules["discharge_grade"] + GRADE_MARGIN
    for told in over.broken:
        flat = spreads and ("flat" in told or "neighbor" in told)
        (found.close if flat else found.broken).append(f"overflow: {told}")
    found.close += over.close
