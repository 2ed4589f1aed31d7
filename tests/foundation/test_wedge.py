"""The soil that corrects a grade: against prisms, applied to the ground, and what forbids it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from shapely import contains_xy
from shapely.geometry import Polygon
from shapely.geometry import box as shape_box

from runoff.foundation import Refusal, apply_wedges, soil_wedges
from runoff.site import Clearance, Easement, HeightAccuracy, Lot, LotSide
from runoff.words import refusal_of, soil_sentence
from tests.lots.ponds import an_opening
from tests.lots.records import WRITTEN, a_building
from tests.lots.walls import (
    FOOT,
    a_house,
    a_lot,
    a_slab,
    end_slope,
    falling,
    ground,
    judged,
    on_wall,
    out_of_front,
)

REACH = 10 * FOOT


def wedge_of(site, terrain, wall="front", standing=None):
    standing = np.zeros(terrain.ground.shape) if standing is None else standing
    runs = on_wall(judged(site, terrain, standing), wall)
    (wedge,) = soil_wedges(site, terrain, runs, standing)
    return wedge


def passes(site, terrain, *wedges) -> bool:
    """Whether every run passes once all the wedges are placed."""
    after = judged(site, apply_wedges(terrain, wedges))
    stations = {(s.building, s.wall, s.along_m): s.verdict for run in after for s in run.stations}
    verdicts = [
        stations[s.building, s.wall, s.along_m] for wedge in wedges for s in wedge.run.stations
    ]
    return set(verdicts) == {"drains away"}


SLOPES = [0.04, 0.02, 0.0, -0.01, -0.03]


@pytest.mark.parametrize("slope", SLOPES)
@pytest.mark.parametrize("bearing", [0.0, 30.0, 75.0])
def test_a_plane_is_corrected_by_a_prism(slope, bearing):
    """Before the middle 8 m of the wall the soil is a prism, whatever lies at its ends."""
    site = a_lot(a_house(bearing=bearing))
    terrain = ground(site, falling(slope, bearing), cell_size=0.1)
    wedge = wedge_of(site, terrain)
    height = (0.05 - slope) * REACH
    # Told as it lies: lifted by the little, 3 mm on a turned grid, that the cells take off its toe.
    assert wedge.height_m == pytest.approx(height, abs=0.0254 / 8)
    assert wedge.height_m >= height - 1e-6
    assert wedge.out_m == pytest.approx(REACH)
    added = apply_wedges(terrain, (wedge,)).ground - terrain.ground
    turn = np.radians(bearing)
    x, y = terrain.grid.centers()
    along = x[None, :] * np.cos(turn) + y[:, None] * np.sin(turn)
    middle = np.nansum(added[(np.abs(along) <= 4.0) & np.isfinite(added)]) * 0.01
    assert middle == pytest.approx(height * REACH / 2 * 8.0, rel=0.02)
    assert wedge.loose_m3 == pytest.approx(1.25 * wedge.compacted_m3)
    assert passes(site, terrain, wedge)


@pytest.mark.parametrize("slope", SLOPES)
def test_the_volume_told_is_the_prism_and_its_ends(slope):
    """Of cells of 1/8 m two columns past each end of the wall have their centers within 0.225 m:
    three cells past the last station, which stands 0.15 m before the corner.
    """
    site = a_lot(a_house())
    wedge = wedge_of(site, ground(site, falling(slope), cell_size=0.125))
    height = (0.05 - slope) * REACH
    # On ground that falls `slope` the soil thins out by 5 % less that, and by 5 % along the wall.
    ends = 2 * end_slope(height, 0.25) * 0.05 / (0.05 - slope)
    assert wedge.compacted_m3 == pytest.approx(height * REACH / 2 * 12.0 + ends, rel=0.015)


def test_the_soil_on_the_ground_is_the_soil_that_is_told():
    site = a_lot(a_house(20.0, 6.0))
    terrain = ground(site, falling(0.0), cell_size=0.1)
    wedge = wedge_of(site, terrain)
    added = apply_wedges(terrain, (wedge,)).ground - terrain.ground
    y = terrain.grid.centers()[1]
    assert np.nansum(added) * 0.01 == pytest.approx(wedge.compacted_m3, rel=1e-9)
    assert np.nanmax(np.abs(added[y > 3.0])) == 0.0


def test_a_low_strip_along_the_wall_is_filled_only_to_where_the_ground_falls():
    out = out_of_front(0.0)

    def strip(x, y):
        return 100.0 + 0.04 * np.minimum(out(x, y), 1.0) - 0.10 * np.maximum(out(x, y) - 1.0, 0)

    site = a_lot(a_house())
    terrain = ground(site, strip, cell_size=0.1)
    wedge = wedge_of(site, terrain)
    assert wedge.run.verdict == "slopes back"
    assert wedge.out_m == pytest.approx(1.0, abs=0.1)
    assert wedge.height_m == pytest.approx(0.09, abs=0.01)
    # The strip is 10 cells wide; a few tenths of a cubic metre lie past its ends.
    assert wedge.compacted_m3 == pytest.approx(0.09 / 2 * 12.0, rel=0.15)
    assert passes(site, terrain, wedge)


def test_a_dip_farther_out_is_filled_too():
    out = out_of_front(0.0)

    def dips(x, y):
        return 100.0 - 0.049 * out(x, y) - 0.15 * np.exp(-(((out(x, y) - 1.5) / 0.4) ** 2))

    site = a_lot(a_house())
    terrain = ground(site, dips, cell_size=0.1)
    assert passes(site, terrain, wedge_of(site, terrain))


def test_uneven_ground_along_the_wall_passes_once_filled():
    def uneven(x, y):
        return 100.0 + 0.02 * np.sin(1.3 * x) + 0.03 * np.cos(0.9 * y + x)

    site = a_lot(a_house())
    terrain = ground(site, uneven, cell_size=0.2)
    runs = judged(site, terrain)
    wedges = soil_wedges(site, terrain, runs, np.zeros(terrain.ground.shape))
    assert len(wedges) >= 4
    assert passes(site, terrain, *wedges)


@pytest.mark.parametrize("seed", range(6))
def test_rough_ground_at_any_bearing_passes_once_filled(seed):
    rng = np.random.default_rng(seed)
    site = a_lot(a_house(bearing=rng.uniform(0, 90)))
    tilt_x, tilt_y = rng.normal(0, 0.03, 2)
    bumps = 0.25 * gaussian_filter(rng.normal(size=(100, 100)), 4)
    terrain = ground(site, lambda x, y: 100.0 + tilt_x * x + tilt_y * y + bumps)
    dry = np.zeros(terrain.ground.shape)
    wedges = soil_wedges(site, terrain, judged(site, terrain), dry)
    assert wedges
    assert passes(site, terrain, *wedges)


def test_an_l_shaped_house_is_corrected_in_its_corner():
    shape = [(-7, -7), (7, -7), (7, 0), (0, 0), (0, 7), (-7, 7)]
    site = a_lot(a_building("house", shape))
    terrain = ground(site, lambda x, y: 100.0 - 0.02 * (x + y))
    for wedge in soil_wedges(site, terrain, judged(site, terrain), np.zeros(terrain.ground.shape)):
        if wedge.run.wall in (2, 3):
            assert passes(site, terrain, wedge)


def test_ground_that_drains_away_asks_for_no_soil():
    site = a_lot(a_house())
    terrain = ground(site, falling(0.05))
    runs = on_wall(judged(site, terrain), "front")
    assert soil_wedges(site, terrain, runs, np.zeros(terrain.ground.shape)) == ()


def test_no_soil_is_worked_out_from_an_indication():
    site = a_lot(a_house(), accuracy=HeightAccuracy(0.1, "lidar", True))
    terrain = ground(site, falling(-0.2), cell_size=1.0)
    runs = on_wall(judged(site, terrain), "front")
    assert [(run.verdict, run.indication) for run in runs] == [("slopes back", True)]
    assert soil_wedges(site, terrain, runs, np.zeros(terrain.ground.shape)) == ()


# --- what forbids it -------------------------------------------------------------------------


def with_clearance(kind, height):
    clearance = Clearance(0, 0.0, 12.0, kind, height)
    return a_lot(replace(a_house(), clearances=(clearance,)))


# Level ground at 100 m wants 6 in at the wall; siding stays 6 in above soil, weeps 4 in.
@pytest.mark.parametrize(("kind", "margin"), [("siding", 6), ("brick weeps", 4), ("vent", 4)])
def test_soil_stays_below_the_clearance(kind, margin):
    inch = 0.0254
    enough = with_clearance(kind, 100.0 + (6 + margin) * inch + 1e-6)
    terrain = ground(enough, falling(0.0))
    wedge = wedge_of(enough, terrain)
    assert (wedge.short_by_m, wedge.refused) == (0.0, None)
    assert soil_sentence(enough, wedge).startswith("Bring ")
    assert "not known" not in soil_sentence(enough, wedge)
    low = with_clearance(kind, 100.0 + (4 + margin) * inch)
    wedge = wedge_of(low, terrain)
    assert wedge.short_by_m == pytest.approx(2 * inch, abs=1e-6)
    assert (wedge.compacted_m3, wedge.loose_m3, len(wedge.cells)) == (0.0, 0.0, 0)
    assert "2 in higher than" in soil_sentence(low, wedge)
    assert "swale or a drain instead" in soil_sentence(low, wedge)


def test_an_unknown_clearance_is_said_with_the_soil():
    site = a_lot(a_house())
    sentence = soil_sentence(site, wedge_of(site, ground(site, falling(0.0))))
    # 12 m x 6 in x 10 ft / 2 = 98.4 cu ft with 7.2 cu ft past each end (the difference of the
    # cubes of 0.1524 and 0.1074 m over 6 x 0.05^2, where three cells of 0.3 m lie past the last
    # stations: 0.2 m3), and 1.25 times as much loose.
    assert sentence.startswith(
        "Bring 141 cu ft of soil, loose (113 cu ft compacted), along the front wall of 'house' "
        "(all of it): up to 6 in at the wall, running out 10 ft from it. Tamp it, and leave it "
        # Of soil 6.67 in deep a tenth settles: 6 in are left.
        "3/4 in higher than that, for it settles by about 10 %."
    )
    assert "at least 6 in below siding and 4 in below brick weeps" in sentence


@pytest.mark.parametrize(
    ("slope", "said"), [(0.045, " Tamp it. "), (0.0, " in higher than that, ")]
)
def test_an_allowance_for_settling_is_told_where_a_rake_can_leave_it(slope, said):
    """Half an inch of soil settles by 1/16 in, which nobody can lay; six inches by 3/4 in."""
    site = a_lot(a_house())
    words = soil_sentence(site, wedge_of(site, ground(site, falling(slope))))
    assert said in words
    assert " 0 in higher" not in words


def test_a_well_in_the_soil_is_to_be_raised_first():
    well = an_opening("well", "window well", 6.0, 1.0, rim=100.0, projection=0.8)
    site = replace(a_lot(a_house()), openings=(well,))
    terrain = ground(site, falling(0.0))
    first = "Raise the rim of 'well' above the new ground first."
    assert first in soil_sentence(site, wedge_of(site, terrain))
    rear = replace(site, openings=(replace(well, wall=2),))
    assert "Raise the rim" not in soil_sentence(rear, wedge_of(rear, terrain))


def test_soil_in_an_easement_is_refused():
    easement = Easement("utility strip", shape_box(-14, -7, 14, -5.7), False, WRITTEN)
    site = a_lot(a_house(), easements=(easement,))
    wedge = wedge_of(site, ground(site, falling(0.0)))
    assert wedge.refused == Refusal("dams an easement", "utility strip")
    assert (wedge.loose_m3, len(wedge.cells)) == (0.0, 0)
    assert soil_sentence(site, wedge).startswith("Soil must not be placed along the front wall")


@pytest.mark.parametrize("seed", range(5))
def test_no_soil_lies_on_paving(seed):
    """Walks and drives anywhere, on ground that leans and is rough: no cell of them is raised."""
    rng = np.random.default_rng(seed)
    slabs = []
    for name in ("a walk", "a drive", "a patio"):
        x, y = rng.uniform(-9, 9), rng.uniform(-9, 9)
        wide, deep = rng.uniform(0.8, 4.0, 2)
        corners = [(x, y), (x + wide, y + 0.3), (x + wide, y + deep), (x, y + deep)]
        slab = a_slab("walk", corners)
        outline = slab.outline.difference(a_house().outline.buffer(0.01))
        if outline.geom_type == "Polygon":
            slabs.append(replace(slab, name=name, outline=outline))
    site = a_lot(a_house(), paving=tuple(slabs))
    tilt = rng.normal(0, 0.03, 2)
    bumps = 0.1 * gaussian_filter(rng.normal(size=(100, 100)), 4)
    terrain = ground(site, lambda x, y: 100.0 + tilt[0] * x + tilt[1] * y + bumps)
    wedges = soil_wedges(site, terrain, judged(site, terrain), np.zeros(terrain.ground.shape))
    placed = [wedge for wedge in wedges if len(wedge.cells)]
    assert placed
    raised = apply_wedges(terrain, placed).ground > terrain.ground
    x, y = (v.ravel() for v in np.meshgrid(*terrain.grid.centers()))
    for slab in slabs:
        assert not raised.ravel()[contains_xy(slab.outline, x, y)].any()
    assert passes(site, terrain, *placed)


def test_less_soil_is_laid_where_the_most_would_stand_too_high():
    """Ground that rises 5 % to a crown 4 ft out and falls 10 % beyond it.

    A plane that falls 5 % and clears the crown stands 10 % of 4 ft above the ground at the wall;
    soil as high as the crown does too: it falls 6 in over the 10 ft as the ground beyond falls 7.
    """
    crown, out = 4 * FOOT, out_of_front(0.0)

    def crowned(x, y):
        beyond = out(x, y) - crown
        return 100.0 - np.where(beyond < 0, -0.05 * beyond, 0.10 * beyond)

    plain = a_lot(a_house())
    terrain = ground(plain, crowned, cell_size=0.1)
    most = wedge_of(plain, terrain)
    assert most.height_m == pytest.approx(0.10 * crown, abs=0.004)
    site = with_clearance("siding", 100.0 - 0.05 * crown + most.height_m - (1 / 2 - 6) * 0.0254)
    less = wedge_of(site, terrain)
    assert (less.refused, less.short_by_m) == (None, 0.0)
    assert less.height_m == pytest.approx(0.05 * crown, abs=0.004)
    assert less.compacted_m3 < 0.7 * most.compacted_m3
    assert passes(site, terrain, less)


@pytest.mark.parametrize("beyond", [1e-6, 0.02])
def test_a_neighbor_exactly_as_far_as_the_reach_is_kept_dry(beyond):
    """Level ground wants 6 in of soil that runs out 10 ft from the wall, and there is the line."""
    line = -4.5 - REACH - beyond
    boundary = Polygon([(-14, line), (14, line), (14, 14), (-14, 14)])
    corners = np.array(boundary.exterior.coords)
    sides = tuple(LotSide(f"side {k}", corners[k : k + 2], "neighbor") for k in range(4))
    site = a_lot(a_house(), lot=Lot(boundary, sides, WRITTEN))
    wedge = wedge_of(site, ground(site, falling(0.0)))
    assert wedge.run.worst.cut_by == ""
    assert wedge.refused == Refusal("reaches a neighbor", "side 0")
    assert "onto the neighbor over side 0" in refusal_of(site, wedge)
    assert not len(wedge.cells)


def test_soil_on_paving_is_refused():
    walk = a_slab("walk", [(-14, -6), (14, -6), (14, -5), (-14, -5)])
    site = a_lot(a_house(), paving=(walk,))
    wedge = wedge_of(site, ground(site, falling(0.0)))
    assert wedge.refused == Refusal("buries paving", "the walk", of="walk")
    assert "bury the walk 'the walk'" in refusal_of(site, wedge)


@pytest.mark.parametrize(("neighbor", "refused"), [("neighbor", True), ("street", False)])
def test_soil_that_reaches_a_neighbor_is_refused(neighbor, refused):
    boundary = Polygon([(-14, -6.5), (14, -6.5), (14, 14), (-14, 14)])
    corners = np.array(boundary.exterior.coords)
    sides = tuple(LotSide(f"side {k}", corners[k : k + 2], neighbor) for k in range(4))
    site = a_lot(a_house(), lot=Lot(boundary, sides, WRITTEN))
    terrain = ground(site, falling(-0.01))
    wedge = wedge_of(site, terrain)
    assert wedge.run.verdict == "slopes back"
    assert wedge.refused == (Refusal("reaches a neighbor", "side 0") if refused else None)
    assert refused or passes(site, terrain, wedge)


def test_soil_does_not_stand_in_water():
    site = a_lot(a_house())
    terrain = ground(site, falling(0.0))
    shallow, deep = (np.full(terrain.ground.shape, depth) for depth in (0.05, 0.20))
    assert wedge_of(site, terrain, standing=shallow).refused is None
    # 20 cm of water over 6 in of soil: 1.87 in.
    refused = wedge_of(site, terrain, standing=deep)
    assert refused.refused.code == "water still stands"
    assert refused.refused.over_m == pytest.approx(0.20 - 6 * 0.0254, abs=1e-6)
    assert "1 7/8 in above the new ground" in refusal_of(site, refused)
