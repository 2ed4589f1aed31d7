"""Seepage pits placed on invented lots: sizes by hand, each setback flipped, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import unary_union
from shapely.geometry import LineString, Point, Polygon, box

from runoff.discharge import (
    box_pit,
    dig_m3,
    fabric_m2,
    of_well,
    outline_of,
    pit_alternatives,
    seepage_pit,
    spoil_m3,
    stone_m3,
    trench_pit,
)
from runoff.quantities import Shown
from runoff.site import Barrier, Basis, BreakLine, Drain, Easement, KeepOut, Outlet, Paving, Soil
from runoff.words import pit_basis, pit_warnings
from tests.discharge.refusals import refused
from tests.lots.pits import (
    FOOT,
    ground_of,
    house,
    in_feet,
    level,
    sandy_site,
    streets_all_around,
    water_of,
    with_rules,
)
from tests.lots.records import WRITTEN

IN_FEET_M = 5 / FOOT  # 5 m, the distance of Approved Document H


def pit_on(site, heights=level, **reach):
    return seepage_pit(ground_of(site, heights, **reach), site.downspouts[0], water_of(site))


def sizes(pit):
    body = pit.governing.pit
    return tuple(round(each / FOOT, 6) for each in (body.length_m, body.width_m, body.depth_m))


def away(pit, shape) -> float:
    """Feet from the pit's outline to a shape in metres."""
    return outline_of(pit).distance(shape) / FOOT


@pytest.fixture(scope="module")
def usual():
    return pit_on(sandy_site())


def test_the_flat_lot_on_sand_by_hand(usual):
    # 500 sq ft x 0.95 x 4 in = 158.3 cu ft. A 4 in pipe (4.026 in and 0.237 in of wall) under
    # 12 in of soil has its invert 16.26 in deep, at the end 1 % of some 10 ft deeper: of the 4 ft
    # 6 in that may be dug 3.04 ft are left: 3 ft. Plan 158.3 / (3 x 0.40) = 131.9 sq ft, 11.49 ft
    # square: 11 ft 6 in.
    assert sizes(usual) == (11.5, 11.5, 3.0)
    least = (12 + 4.026 + 0.237) / 12
    assert least < -usual.inlet_m / FOOT < 4.5 - 3
    assert usual.inlet_m == usual.line.profile.invert_m[-1]
    assert usual.dig_depth_m == pytest.approx(3 * FOOT - usual.inlet_m)
    assert usual.governing is usual.by_whole_storm or usual.by_durations is None
    assert usual.governing.required_m3 / FOOT**3 == pytest.approx(158.33, abs=0.01)
    # Sand 8.27 in/h over 2 is 4.135 in/h; 158.33 / (132.25 x 4.135 / 12) = 3.47 h.
    assert usual.governing.emptying_s / 3600 == pytest.approx(3.474, abs=0.001)
    # Beside the house, 10 ft away and less than a cell more, straight out from the downspout.
    assert 10 <= away(usual, box(*in_feet(-20, -15, 20, 15))) < 11
    assert usual.center[1] / FOOT == pytest.approx(10.0, abs=1.0)
    assert pit_basis(sandy_site(), usual).startswith("whole storm, since no rain table is given")


def test_what_the_flat_lot_s_pit_is_made_of(usual):
    rules = sandy_site().rules
    # Stone 3 ft + 4.026 in + 2 in = 3.5022 ft over 132.25 sq ft: 463.2 cu ft.
    assert stone_m3(usual, rules) / FOOT**3 == pytest.approx(463.16, abs=0.05)
    # Sides 46 ft x 3.5022 ft and top 132.25 sq ft, 293.35 sq ft, with a tenth for laps 322.7.
    assert fabric_m2(usual, rules) / FOOT**2 == pytest.approx(322.7, abs=0.1)
    assert dig_m3(usual) / FOOT**3 == pytest.approx(132.25 * usual.dig_depth_m / FOOT, rel=1e-9)
    assert spoil_m3(usual, rules) / FOOT**3 == pytest.approx(463.16 * 1.25, abs=0.1)


def test_alternatives_do_the_same_in_other_shapes(usual):
    site = sandy_site()
    found = {c.pit.kind: c for c in pit_alternatives(site, water_of(site), usual)}
    assert set(found) == {"trench", "cylinder", "chamber"}
    assert all(check.sufficient for check in found.values())
    # 131.94 sq ft in a trench 3 ft wide is 43.98 ft; round sqrt(4 / pi x 131.94) = 12.96 ft;
    # with 60 % of voids 87.96 sq ft, 29.32 ft of chambers 3 ft wide. Rounded up to 6 in.
    lengths = {kind: round(check.pit.length_m / FOOT, 6) for kind, check in found.items()}
    assert lengths == {"trench": 44.0, "cylinder": 13.0, "chamber": 29.5}


@pytest.mark.parametrize("heights", [level, lambda x, y: level(x, y) + 100.0])
def test_the_flat_lot_without_lot_lines(heights):
    site = sandy_site(lot=None)
    pit = pit_on(site, heights)
    assert sizes(pit) == (11.5, 11.5, 3.0)
    assert any("the lot lines are not given" in line for line in pit_warnings(Shown("us"), pit))


def test_the_flat_lot_spreads_its_overflow_and_warns_of_the_neighbor(usual):
    assert usual.overflow.kind == "pit full"
    assert usual.overflow.spreads
    assert usual.overflow.is_safe
    assert any("neighbor's ground" in line for line in pit_warnings(Shown("us"), usual))
    streets = pit_on(streets_all_around(sandy_site()))
    assert not any("neighbor" in line for line in pit_warnings(Shown("us"), streets))


def test_the_flat_lot_on_clay_has_no_pit():
    with refused("no pit here"):
        pit_on(sandy_site(soil=Soil(texture="clay")))


def keep_out(kind, shape, allowed="nothing"):
    def change(site):
        return replace(site, keep_outs=(KeepOut(kind, kind, shape, allowed, WRITTEN),))

    return change


def post(pit, feet: float) -> Polygon:
    """A small square at this many feet beyond the pit's right edge."""
    right = pit.center[0] + pit.governing.pit.length_m / 2
    x, y = right + feet * FOOT, pit.center[1]
    return box(x, y - 0.01, x + 0.02, y + 0.01)


def across(shape) -> LineString:
    left, bottom, _, top = shape.bounds
    return LineString([(left, bottom - 0.5), (left, top + 0.5)])


def a_step(shape, feet: float):
    line = np.array(across(shape).coords)
    top = np.zeros(2)
    return BreakLine("wall", line, top, top - feet * FOOT, "left", (), WRITTEN)


# Each thing with the distance it asks for, in feet, and a site that has it at a shape.
THINGS = {
    "well": (50, lambda s, at: keep_out("well", at)(s)),
    "septic field": (35, lambda s, at: keep_out("septic field", at)(s)),
    "water service": (10, lambda s, at: keep_out("water service", at)(s)),
    "road": (5.0 / FOOT, lambda s, at: keep_out("road", at)(s)),
    "retaining wall": (10, lambda s, at: keep_out("retaining wall", at)(s)),
    "tree roots, by hand": (0, lambda s, at: keep_out("tree roots", at, "hand digging")(s)),
    "utility, in a sleeve": (0, lambda s, at: keep_out("utility", at, "sleeve")(s)),
    "paving": (0, lambda s, at: replace(s, paving=(Paving("patio", "patio", at, WRITTEN),))),
    "easement": (0, lambda s, at: replace(s, easements=(Easement("strip", at, True, WRITTEN),))),
    "outlet": (0, lambda s, at: replace(s, outlets=(Outlet("inlet", "ditch", at, "", WRITTEN),))),
    "drain": (
        0,
        lambda s, at: replace(
            s, drains=(Drain("pipe", *across(at).coords[:2], None, WRITTEN),)
        ),
    ),
    "barrier": (
        0,
        lambda s, at: replace(
            s, barriers=(Barrier("edging", np.array(across(at).coords), 0.1, WRITTEN),)
        ),
    ),
    "surveyed wall of 2 ft 6 in": (
        10, lambda s, at: replace(s, break_lines=(a_step(at, 2.5),))
    ),
    "curb of 6 in": (0, lambda s, at: replace(s, break_lines=(a_step(at, 0.5),))),
    "shed": (
        10,
        lambda s, at: replace(
            s, buildings=(*s.buildings, replace(house(0, 0, 1, 1), name="shed", outline=at))
        ),
    ),
    "shed on a basement": (
        IN_FEET_M,
        lambda s, at: replace(
            s,
            buildings=(
                *s.buildings,
                replace(house(0, 0, 1, 1), name="shed", outline=at, kind="basement"),
            ),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("thing", THINGS)
def test_each_thing_moves_the_pit_where_it_comes_too_near(thing, usual):
    distance, with_it = THINGS[thing]
    site = sandy_site(lot=None)
    before = pit_on(site, reach=(90.0, 60.0))
    assert before.center == pytest.approx(usual.center)
    far, near = (post(before, distance + feet) for feet in (0.3, -0.3))
    assert pit_on(with_it(site, far), reach=(90.0, 60.0)).center == before.center
    moved = pit_on(with_it(site, near), reach=(90.0, 60.0))
    assert moved.center != before.center
    assert away(moved, near) >= distance - 1e-6


def test_nothing_keeps_a_pit_out_like_a_well_in_the_middle_of_a_small_lot():
    well = box(*in_feet(36, 0, 37, 1))
    with refused(r"no place for a pit keeps .*50 ft from the well"):
        pit_on(keep_out("well", well)(sandy_site()))


def with_right_side_at(feet: float):
    site = sandy_site()
    left, bottom, _, top = site.lot.boundary.bounds
    right = feet * FOOT
    moved = [np.array(side.line) for side in site.lot.sides]
    for line in moved:
        line[line[:, 0] > 0, 0] = right
    sides = tuple(
        replace(side, line=line) for side, line in zip(site.lot.sides, moved, strict=True)
    )
    return replace(site, lot=replace(site.lot, boundary=box(left, bottom, right, top), sides=sides))


def test_the_lot_line_moves_it(usual):
    edge = (usual.center[0] + usual.governing.pit.length_m / 2) / FOOT
    assert pit_on(with_right_side_at(edge + 10.3)).center == usual.center
    moved = pit_on(with_right_side_at(edge + 9.7))
    assert moved.center != usual.center
    side = LineString([in_feet(edge + 9.7, -50), in_feet(edge + 9.7, 50)])
    assert away(moved, side) >= 10


def test_a_basement_keeps_it_five_metres_away(usual):
    pit = pit_on(sandy_site(buildings=(house(-20, -15, 20, 15, kind="basement"),)))
    assert pit.center[0] > usual.center[0]
    assert IN_FEET_M <= away(pit, box(*in_feet(-20, -15, 20, 15))) < IN_FEET_M + 1
    metric = pit_on(sandy_site(units="m"))
    assert away(metric, box(*in_feet(-20, -15, 20, 15))) >= IN_FEET_M


def test_an_unsaid_basement_is_asked_for():
    pit = pit_on(sandy_site(buildings=(house(-20, -15, 20, 15, kind=None),)))
    assert any("has a basement is not given" in line for line in pit_warnings(Shown("us"), pit))


def test_pits_keep_away_from_each_other(usual):
    site = sandy_site()
    second = seepage_pit(ground_of(site), site.downspouts[0], water_of(site), others=(usual,))
    assert away(second, outline_of(usual)) >= 10 - 1e-6


@pytest.mark.parametrize(
    ("grade", "area", "patios"),
    [
        (0.0, 500, [(22, 4, 40, 20)]),
        # Between two strips a pit of the size foreseen has room, but not the larger one that the
        # fall of the ground over it asks for.
        (0.08, 700, [(26, 17.5, 60, 18.5), (26, 1.5, 60, 2.5)]),
    ],
)
def test_it_is_the_nearest_place_that_keeps_everything(grade, area, patios):
    # Tried against every cell of the lot, plan by plan.
    well = Point(*in_feet(68, 48)).buffer(0.1)
    paving = tuple(Paving("patio", "patio", box(*in_feet(*each)), WRITTEN) for each in patios)
    site = keep_out("well", well)(streets_all_around(sandy_site(paving=paving)))
    site = replace(site, roofs=(replace(site.roofs[0], plan_area=area * FOOT**2),))
    patio = unary_union([each.outline for each in paving])
    pit = pit_on(site, lambda x, y: -grade * (x + 0 * y))
    assert pit.governing.pit.kind == "box"
    half = pit.governing.pit.length_m / 2
    home, lot = site.buildings[0].outline, site.lot.boundary
    foot = (site.downspouts[0].x, site.downspouts[0].y)
    best = np.inf
    for col in np.arange(-59.5, 60):
        for row in np.arange(-49.5, 50):
            x, y = in_feet(col, row)
            plan = box(x - half, y - half, x + half, y + half)
            if (
                plan.distance(home) >= 10 * FOOT - 1e-6
                and lot.contains(plan)
                and plan.distance(lot.exterior) >= 10 * FOOT - 1e-6
                and plan.distance(well) >= 50 * FOOT - 1e-6
                and plan.distance(patio) > 0
                and not LineString([foot, (x, y)]).intersects(home)
            ):
                best = min(best, np.hypot(x - foot[0], y - foot[1]))
    found = np.hypot(pit.center[0] - foot[0], pit.center[1] - foot[1])
    assert found == pytest.approx(best)


@pytest.mark.parametrize(("depth", "bottom"), [(7.0, 4.0), (6.0, 3.0), (5.6, 2.6)])
def test_bedrock_does_as_groundwater_does(depth, bottom):
    """Minnesota: 3 ft above bedrock (read). The nearer of the two decides."""
    both = Soil(texture="sand", bedrock=depth * FOOT, groundwater=9 * FOOT)
    pit = pit_on(sandy_site(soil=both, lot=None))
    assert pit.dig_depth_m / FOOT <= bottom + 1e-6
    (clear,) = [each for each in pit.clearances if each.of == "bedrock"]
    assert clear.far_m >= clear.least_m == pytest.approx(3 * FOOT)
    with refused("bedrock lies 4 ft below the ground"):
        pit_on(sandy_site(soil=Soil(texture="sand", bedrock=4 * FOOT)))


def test_no_pit_in_karst():
    with refused("karst"):
        pit_on(sandy_site(soil=Soil(texture="sand", karst=True)))


def test_what_is_said_of_roofs_and_of_disposal_wells():
    """EPA (read): a hole deeper than its widest, in the US alone, may be a Class V well."""
    site = sandy_site()
    wide, deep = box_pit(3.0, 3.0, 0.9, 0.4), box_pit(1.0, 1.2, 0.9, 0.4)
    assert not [*of_well(site, wide, 1.4)]
    assert next(of_well(site, deep, 1.4)).code == "disposal well by depth"
    trench = trench_pit(9.0, 1.0, 0.9, 0.4)
    assert next(of_well(site, trench, 1.4)).code == "disposal well by pipe"
    assert not [*of_well(replace(site, units="m"), deep, 1.4)]
    assert sum("copper" in line for line in pit_warnings(Shown("us"), pit_on(site))) == 1


@pytest.mark.parametrize(("depth", "bottom"), [(7.0, 4.0), (6.0, 3.0), (5.6, 2.6)])
def test_groundwater_makes_it_shallower_and_wider(depth, bottom, usual):
    # Its bottom stays 3 ft above the groundwater (Minnesota manual).
    pit = pit_on(sandy_site(soil=Soil(texture="sand", groundwater=depth * FOOT), lot=None))
    assert pit.dig_depth_m <= bottom * FOOT
    assert pit.governing.pit.depth_m < usual.governing.pit.depth_m
    assert pit.governing.pit.plan_area_m2 > usual.governing.pit.plan_area_m2
    clear = pit.clearances[-1]
    above, least = clear.far_m, clear.least_m
    assert clear.of == "groundwater"
    assert above == pytest.approx(depth * FOOT - pit.dig_depth_m)
    assert least == pytest.approx(3 * FOOT)
    assert above >= least


@pytest.mark.parametrize("grade", [0.03, 0.08])
def test_on_a_slope_groundwater_is_judged_from_the_bottom_that_is_printed(grade):
    """6 ft 6 in down and 3 ft to keep: no bottom is printed deeper than 3 ft 6 in, and the distance
    printed is the rest. The lowest ground over the pit lies some inches below its middle.
    """
    soil = Soil(texture="sand", groundwater=6.5 * FOOT)
    site = streets_all_around(sandy_site(soil=soil))
    pit = pit_on(site, lambda x, y: -grade * (x + 0 * y))
    assert pit.ground_m == pytest.approx(-grade * pit.center[0], abs=1e-6)
    assert pit.dig_depth_m <= 3.5 * FOOT + 1e-9
    (above,) = [each.far_m for each in pit.clearances if each.of == "groundwater"]
    assert above == pytest.approx(6.5 * FOOT - pit.dig_depth_m)
    bottom = pit.inlet_m - pit.governing.pit.depth_m
    assert bottom == pytest.approx(pit.ground_m - pit.dig_depth_m)


def test_under_the_water_table_it_is_refused():
    # 5.3 ft less 3 ft leaves 2.3 ft, and less than 1 ft of it under an inlet 1.36 ft deep.
    with refused("under the water table: groundwater stands 5 ft 4 in"):
        pit_on(sandy_site(soil=Soil(texture="sand", groundwater=5.3 * FOOT)))


def test_a_table_of_rains_makes_it_by_durations():
    site = sandy_site()
    rain = ((3600.0, 0.05), (86400.0, 0.09))
    pits = replace(
        site.rains.pit,
        durations=rain,
        basis=Basis("table", 10.0, table="rains.csv", says="rains.csv"),
    )
    site = replace(site, rains=replace(site.rains, pit=pits))
    pit = pit_on(site)
    assert pit.governing == pit.by_durations
    assert pit.governing.method == "BRE Digest 365"
    assert pit_basis(site, pit).startswith(
        "BRE Digest 365, since a rain table is given: 10-year rains of rains.csv, 1 h to 24 h"
    )
    assert pit.by_whole_storm.required_m3 / FOOT**3 == pytest.approx(158.33, abs=0.01)


def test_ground_that_rises_from_the_downspout_has_no_pit():
    # A full pit up there would come out at the wall.
    def rising(x, y):
        return 0.02 * np.maximum(np.abs(x) - 20, np.abs(y) - 15).clip(0)

    with refused("would come out at the wall"):
        pit_on(sandy_site(), rising)
    assert pit_on(streets_all_around(sandy_site()), lambda x, y: -rising(x, y))


@pytest.mark.parametrize(("grade", "placed"), [(0.18, True), (0.22, False)])
def test_steep_ground_has_no_pit(grade, placed):
    # A US county's single-family plan: slopes to 20 %.
    site = streets_all_around(sandy_site())

    def falling(x, y):
        return -grade * (x + 0 * y)

    if placed:
        pit = pit_on(site, falling)
        assert any("in the silt trap" in line for line in pit_warnings(Shown("us"), pit))
        return
    with refused("not too steep"):
        pit_on(site, falling)


def test_soil_lies_over_all_the_stone_on_a_slope():
    pit = pit_on(streets_all_around(sandy_site()), lambda x, y: -0.1 * (x + 0 * y))
    left, _, right, _ = outline_of(pit).bounds
    top = pit.inlet_m + pit.line.profile.pipe.bore_m + 2 / 12 * FOOT
    assert -0.1 * right - top >= 6 / 12 * FOOT - 1e-9
    assert -0.1 * left - (pit.inlet_m - pit.governing.pit.depth_m) <= 4.5 * FOOT + 1e-9


@pytest.mark.parametrize(("beyond", "placed"), [("street", True), ("neighbor", False)])
def test_on_falling_ground_an_overflow_onto_a_neighbor_refuses_it(beyond, placed):
    site = sandy_site()
    sides = tuple(replace(side, neighbor=beyond) for side in site.lot.sides)
    site = replace(site, lot=replace(site.lot, sides=sides))

    def falling(x, y):
        return -0.03 * (x + 0 * y)

    if placed:
        pit = pit_on(site, falling)
        end = pit.overflow.end
        assert (end.kind, end.name, end.neighbor) == ("lot side", "right", "street")
        return
    with refused("onto the neighbor's ground"):
        pit_on(site, falling)


@pytest.mark.parametrize(("bottom", "placed"), [(-48, False), (30, True)])
def test_an_overflow_that_comes_back_to_a_building_refuses_it(bottom, placed):
    # A long barn downhill across the lot, or one that leaves the way to the street open.
    barn = replace(house(50, bottom, 60, 48), name="barn")
    site = streets_all_around(sandy_site())
    site = replace(site, buildings=(*site.buildings, barn))

    def falling(x, y):
        return -0.03 * (x + 0 * y)

    if placed:
        assert pit_on(site, falling).overflow.is_safe
        return
    with refused("foundation"):
        pit_on(site, falling)


def test_a_line_that_cannot_get_there_refuses_it():
    site = sandy_site()
    pond = box(*in_feet(21, -50, 26, 50))
    with refused(r"no straight line .* clear of the buildings and of what"):
        pit_on(keep_out("other", pond)(site))


def test_warnings_of_slow_soil_are_carried_over():
    pit = pit_on(sandy_site(soil=Soil(rate=2.5e-6), lot=None), reach=(90.0, 90.0))
    assert any(line.startswith("slow soil") for line in pit_warnings(Shown("us"), pit))
    assert pit.rate.rate_m_per_s == pytest.approx(1.25e-6)


@pytest.mark.parametrize(("frost", "warned"), [(4.0, False), (5.0, True)])
def test_frost_below_the_bottom_is_warned_of(frost, warned):
    pit = pit_on(sandy_site(soil=Soil(texture="sand", frost=frost * FOOT)))
    assert any("freezes" in line for line in pit_warnings(Shown("us"), pit)) == warned


def test_a_local_rule_on_groundwater_flips_it():
    # New Jersey: 2 ft above the seasonal high water table, where Minnesota asks for 3 ft.
    site = sandy_site(soil=Soil(texture="sand", groundwater=5 * FOOT))
    with refused("under the water table"):
        pit_on(site)
    assert pit_on(with_rules(site, pit_groundwater_clearance="2 ft")).clearances[-1].least_m == (
        pytest.approx(2 * FOOT)
    )


def test_local_rules_on_the_soil_flip_it():
    # Los Angeles County: measured at least 0.3 in/h, factor 3, drained within 48 h.
    inch_an_hour = 0.0254 / 3600
    site = sandy_site(soil=Soil(rate=0.25 * inch_an_hour), lot=None)
    assert pit_on(site, reach=(90.0, 90.0)).rate.safety_factor == 2
    with refused(r"below the 0\.3 in/h"):
        pit_on(with_rules(site, pit_least_rate="0.3 in/h"))
    local = with_rules(
        sandy_site(soil=Soil(rate=0.31 * inch_an_hour), lot=None),
        pit_least_rate="0.3 in/h", pit_safety_factor="3", pit_drain_time="48 h",
    )  # fmt: skip
    pit = pit_on(local, reach=(90.0, 90.0))
    # 4 in x 0.95 x 500 sq ft drains in 48 h at 0.1033 in/h through 383 sq ft or more.
    assert pit.governing.pit.plan_area_m2 / FOOT**2 >= 158.33 / (48 * 0.31 / 3 / 12)
    assert pit.governing.emptying_s <= 48 * 3600


def test_a_county_s_septic_distance_flips_it(usual):
    # A US county's single-family plan asks for 25 ft from septic, Minnesota for 35 ft.
    near = post(usual, 30)
    site = keep_out("septic field", near)(sandy_site())
    assert pit_on(site).center != usual.center
    assert pit_on(with_rules(site, pit_septic_distance="25 ft")).center == usual.center


@pytest.mark.parametrize("foot", [(20.5, -10), (-20.5, 3), (5, 15.5), (-12, -15.5)])
def test_the_flat_lot_has_a_pit_at_every_wall(foot):
    site = sandy_site()
    x, y = in_feet(*foot)
    pit = pit_on(replace(site, downspouts=(replace(site.downspouts[0], x=x, y=y),)))
    assert sizes(pit)[2] == 3.0
    assert pit.line.length_m / FOOT < 12


def test_a_downspout_without_a_roof_needs_none():
    site = sandy_site()
    site = replace(site, downspouts=(replace(site.downspouts[0], roofs=()),))
    with refused("carries no roof"):
        pit_on(site)
