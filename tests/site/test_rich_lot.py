"""Everything a site file can say ends in the record it belongs to, in SI."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from runoff import read_site
from runoff.words import drainage_basis
from tests.lots.rich import PERCOLATION, RICH, changed, line_of, write_lot
from tests.told import told

FT = 0.3048  # the international foot, exact by definition


@pytest.fixture
def site(tmp_path):
    return read_site(write_lot(tmp_path))


def test_site_table(site):
    assert (site.name, site.units, site.date) == ("north lot", "ft", "2026-05-01")
    assert site.notes == "two\nlines"
    assert site.north_degrees == 15.0
    assert site.georeference is None
    assert site.elevation is None
    assert site.soil.texture == "loam"


def test_spot_heights_in_metres(site):
    assert_allclose(site.spot_array[1], np.array([50, -20, 99.5]) * FT)
    assert_allclose(site.spot_array[3, 2], 101.25 * FT)
    assert site.spot_heights[3].remark == "high, near fence"
    assert site.spot_heights[3].written.line == 5
    assert site.cell_size == FT


def test_break_lines(site):
    ridge, curb, ledge = site.break_lines
    assert ridge.spots == ("P5", "P6")
    assert ridge.foot is None
    assert_allclose(ridge.top, [100 * FT, 100 * FT])
    assert_allclose(curb.foot, [99.3 * FT, (99 + 4 / 12) * FT])
    assert curb.foot_side == "right"
    assert_allclose(ledge.top - ledge.foot, [0.1524, 0.1524])


def test_drains_and_barrier(site):
    culvert, sewer = site.drains
    assert_allclose(culvert.outlet, (40 * FT, -18 * FT))
    # 1 US gallon is 231 cubic inches, 0.003785411784 m3 (NIST SP 811).
    assert_allclose(culvert.capacity, 50 * 0.003785411784 / 60)
    assert sewer.outlet is None
    assert sewer.capacity is None
    assert_allclose(site.barriers[0].height, 4 * 0.0254)


def test_buildings(site):
    house, garage = site.buildings
    assert_allclose(house.outline.area, (30 * 24 - 16) * FT**2)
    assert len(house.outline.interiors) == 1
    assert house.walls == ("front", "right", "rear", "left")
    assert garage.walls == ("wall 1", "wall 2", "wall 3", "wall 4")
    assert_allclose(house.footing_depth, 7 * FT)
    assert house.written.line == line_of('[[building]]\nname = "house"')


def test_lot_and_what_lies_on_it(site):
    assert [side.name for side in site.lot.sides] == ["front", "side 2", "side 3", "side 4"]
    assert [side.neighbor for side in site.lot.sides] == [
        "street",
        "neighbor",
        "alley",
        "open ground",
    ]
    assert_allclose(site.lot.sides[1].line, np.array([[50, -20], [50, 60]]) * FT)
    oak, sprinkler = site.keep_outs
    assert oak.area.area == pytest.approx(np.pi * (6 * FT) ** 2, rel=0.01)
    assert_allclose(sprinkler.area.area, 60 * 2 * FT**2)
    assert sprinkler.allowed == "nothing"
    assert site.easements[0].may_take_water
    assert site.outlets[0].place.geom_type == "LineString"
    assert site.paving[0].kind == "drive"


def test_roofs_and_downspouts(site):
    main, garage, porch = site.roofs[:3]
    assert_allclose([main.plan_area, garage.plan_area], [720 * FT**2, 300 * FT**2])
    assert_allclose(porch.plan_area, 48 * FT**2)
    assert (main.pitch, porch.pitch, garage.pitch) == (0.5, 0.25, None)
    northeast, southwest, by_garage = site.downspouts
    assert_allclose((northeast.x, northeast.y), (28 * FT, 24.25 * FT))
    assert_allclose((southwest.x, southwest.y), (0, 0), atol=1e-12)
    assert northeast.roofs == (("main", 0.1), ("porch", 1.0))
    assert northeast.building == "house"
    assert by_garage.building is None


def test_roofs_without_a_downspout(site):
    dormer, bay, lean_to = site.roofs[3:]
    assert (dormer.onto, dormer.eave, bay.onto) == ("main", None, "")
    # "left" runs from (0, 24) down to (0, 0), so that out of it is toward smaller x.
    assert_allclose(bay.eave, np.array([[-1.5, 20], [-1.5, 14]]) * FT)
    assert_allclose(lean_to.eave, np.array([[30, 21], [45, 21]]) * FT)


def test_a_drip_line_lies_a_foot_out_along_the_whole_wall_unless_it_is_said(tmp_path):
    old = 'wall = "left", from = "4 ft", to = "10 ft", out = "18 in" }'
    site = read_site(write_lot(tmp_path, changed(old, 'wall = "left" }')))
    assert_allclose(site.roofs[4].eave, np.array([[-1, 24], [-1, 0]]) * FT)


def test_openings(site):
    well, door = site.openings
    assert (well.name, well.kind, well.building, well.wall) == ("well A", "window well", "house", 1)
    assert_allclose((well.distance, well.width, well.projection), np.array([22, 3, 2.5]) * FT)
    assert_allclose((well.rim, well.floor), np.array([100.5, 97]) * FT)
    assert (well.drained, well.sill) == (True, None)
    assert well.written.line == line_of('[[opening]]\nname = "well A"')
    assert (door.kind, door.building, door.wall) == ("garage door", "house", 0)
    assert_allclose((door.distance, door.width, door.sill), np.array([7.5, 9, 100.25]) * FT)
    assert (door.rim, door.floor, door.projection, door.drained) == (None, None, 0.0, False)


@pytest.mark.parametrize(
    ("old", "part"), [("rim = 100.5\n", "its rim"), ("sill = 100.25\n", "its sill")]
)
def test_a_height_of_an_opening_that_is_not_known_is_said(tmp_path, old, part):
    site = read_site(write_lot(tmp_path, changed(old, "")))
    assert len(site.notices) == 1
    assert part in told(site)[0]


def test_clearances(site):
    siding, weeps = site.buildings[0].clearances
    assert (siding.wall, siding.kind, weeps.wall, weeps.kind) == (0, "siding", 1, "brick weeps")
    assert_allclose((siding.start, siding.end, siding.height), np.array([0, 30, 101.5]) * FT)
    assert_allclose((weeps.start, weeps.end, weeps.height), np.array([3, 9, 101 + 1 / 6]) * FT)
    assert site.buildings[1].clearances == ()


def test_sump(site):
    (sump,) = site.sumps
    assert_allclose(sump.outlet, (-3 * FT, -2 * FT))
    # 1 US gallon is 231 cubic inches, 0.003785411784 m3 (NIST SP 811).
    assert_allclose(sump.rate, 20 * 0.003785411784 / 60)


def test_gutters(site):
    rear, garage = site.gutters
    assert (rear.name, rear.roof, rear.shape, rear.size) == (
        "rear gutter",
        "main",
        "half-round",
        "5 in",
    )
    assert_allclose(rear.eave, 30 * FT)  # the roof's length
    assert (rear.outlet_ends, rear.outlet) == ("both ends", None)
    assert (garage.shape, garage.size, garage.outlet_ends) == ("ogee", "6 in", None)
    assert_allclose((garage.eave, garage.outlet), (20 * FT, 3 * 0.0254))
    assert rear.written.line == line_of('[[gutter]]\nname = "rear gutter"')


def test_a_gutter_s_eave_is_not_known_where_the_roof_has_no_length(tmp_path):
    site = read_site(write_lot(tmp_path, changed('eave = "20 ft"\n', "")))
    assert site.gutters[1].eave is None


def test_leader_and_route(site):
    northeast, _, by_garage = site.downspouts
    assert (northeast.leader, northeast.route) == (None, None)
    assert by_garage.leader.shape == "rectangular"
    assert_allclose((by_garage.leader.width, by_garage.leader.depth), (0.0508, 0.0762))
    assert_allclose(by_garage.route, np.array([[48, 30], [48, 55]]) * FT)


def test_a_route_may_be_one_point(tmp_path):
    text = changed('[[48, 30], [48, "55 ft"]]', "[[48, 30]]")
    route = read_site(write_lot(tmp_path, text)).downspouts[2].route
    assert_allclose(route, [[48 * FT, 30 * FT]])


def test_lengths_and_walls_of_roofs(site):
    assert_allclose(site.roofs[0].length, 30 * FT)
    assert site.roofs[1].length is None
    assert_allclose(site.roofs[5].wall_above, 70 * FT**2)
    assert site.roofs[0].wall_above == 0.0


def test_heights_of_an_outlet(site):
    assert_allclose((site.outlets[0].invert, site.outlets[0].water), (98.5 * FT, 98.75 * FT))


def test_soil(site):
    soil = site.soil
    assert_allclose(
        (soil.percolation.fall, soil.percolation.diameter, soil.percolation.first_depth),
        (0.0254, 8 * 0.0254, 6 * 0.0254),
    )
    assert (soil.percolation.time, soil.percolation.form) == (720.0, "shaft")
    assert_allclose((soil.groundwater, soil.frost), (9 * FT, 3 * FT))
    assert (soil.expansive, soil.rate, soil.trial_pit) == (False, None, None)


@pytest.mark.parametrize(
    "texture",
    [
        *("sand", "loamy sand", "sandy loam", "loam", "silt loam", "sandy clay loam"),
        *("clay loam", "silty clay loam", "sandy clay", "silty clay", "clay"),
    ],
)
def test_every_texture(tmp_path, texture):
    text = changed('texture = "loam"', f'texture = "{texture}"')
    assert read_site(write_lot(tmp_path, text)).soil.texture == texture


def test_trial_pit(tmp_path):
    new = 'trial_pit = { length = 5, width = "2 ft", depth = "30 in", times = ["67 min", "1 h"] }'
    pit = read_site(write_lot(tmp_path, changed(PERCOLATION, new))).soil.trial_pit
    assert_allclose((pit.length, pit.width, pit.depth), (5 * FT, 2 * FT, 2.5 * FT))
    assert pit.times == (4020.0, 3600.0)


def test_measured_rate(tmp_path):
    text = changed(PERCOLATION, 'rate = "1.2 in/h"')
    soil = read_site(write_lot(tmp_path, text)).soil
    assert_allclose(soil.rate, 1.2 * 0.0254 / 3600)
    assert soil.texture == "loam"


def test_soil_that_nobody_looked_at(tmp_path):
    text = RICH[: RICH.index("[soil]")] + RICH[RICH.index("[pipe]") :]
    soil = read_site(write_lot(tmp_path, text)).soil
    assert soil == type(soil)()
    assert soil.expansive is None


def test_pipe_benchmark_and_prices(site):
    assert (site.pipe.wall, site.pipe.nominal_in) == ("smooth", 4)
    assert site.benchmark.name == "nail"
    assert_allclose((site.benchmark.height, site.benchmark.backsight), (100 * FT, 4.35 * FT))
    assert site.prices.currency == "USD"
    # A yard is 0.9144 m, exact (NIST SP 811).
    expected = {"pipe": 2.10 / FT, "fitting": 6, "stone": 45 / 0.9144**3, "fabric": 0.3 / FT**2}
    assert dict(site.prices.by_item) == pytest.approx(expected)


def test_a_photograph_that_is_not_there_is_said(tmp_path, site):
    (photograph,) = site.photographs
    assert photograph.file.is_file()
    assert photograph.caption == "from the street"
    path = write_lot(tmp_path, changed('"front.jpg"', '"rear.jpg"'))
    (notice,) = told(read_site(path))
    assert "rear.jpg" in notice


def test_rains(site):
    in_per_h = 0.0254 / 3600
    assert_allclose(site.rains.gutter.intensity, 7 * in_per_h)
    assert drainage_basis(site, site.rains.line).startswith("25-year 10-min rain of rain.csv")
    assert_allclose(site.rains.pit.durations[0], (300.0, 0.45 * 0.0254))
    assert_allclose(site.rains.pit.depth, 3.5 * 0.0254)
    assert site.rains.allowance == "pitch factor"


def test_storm_rules_and_accuracy(site):
    assert_allclose(site.storm.depth, 3.5 * 0.0254)
    assert site.storm.duration == 86400.0
    assert_allclose(site.rules["near_foundation"], 6 * FT)
    assert site.height_accuracy.method == "laser level"
    assert not site.height_accuracy.indication_only
    assert site.notices == ()


def test_defaults_are_said(tmp_path):
    text = RICH[: RICH.index("[rain]")] + RICH[RICH.index("[soil]") :]
    text = changed('heights_by = "laser level"\n', "", text)
    site = read_site(write_lot(tmp_path, text))
    assert_allclose(site.storm.depth, 4 * 0.0254)
    assert site.storm.basis.code == "assumed"
    assert site.height_accuracy.method == "string level"
    assert any("string level" in notice for notice in told(site))


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_byte_order_mark_and_line_ends(tmp_path, mark, newline):
    site = read_site(write_lot(tmp_path, mark + RICH.replace("\n", newline)))
    assert site.downspouts[0].written.line == line_of('[[downspout]]\nname = "NE"')


def test_metric_site(tmp_path):
    site = read_site(write_lot(tmp_path, changed('units = "ft"', 'units = "m"')))
    assert_allclose(site.spot_array[0], [-10, -20, 99.5])
    # A written unit stands whatever the units of bare numbers.
    assert_allclose(site.spot_array[1, 2], 99.5 * FT)
    corners = site.buildings[0].outline.exterior.coords
    assert_allclose(corners[2:4], [(30, 24 * FT), (0, 24)])


def test_outward_is_outward_whichever_way_round_the_corners_go(tmp_path):
    old = '[\n    [0, 0],\n    [30, 0], # front right\n    [30, "24 ft"],\n    [0, 24],\n]'
    text = changed(old, "[[0, 24], [30, 24], [30, 0], [0, 0]]")
    northeast = read_site(write_lot(tmp_path, text)).downspouts[0]
    # "rear" is now the third wall, from (30, 0) to (0, 0): out is toward smaller y.
    assert_allclose((northeast.x, northeast.y), (28 * FT, -0.25 * FT))


@pytest.mark.parametrize(("overlap_in", "times"), [(0, 0), (1.5, 0), (2.5, 1)])
def test_buildings_may_touch_and_more_than_that_is_told(tmp_path, overlap_in, times):
    text = changed("[[30, 0], [45, 0]", f"[[{30 - overlap_in / 12}, 0], [45, 0]")
    text = changed("[45, 20], [30, 20]]", f"[45, 20], [{30 - overlap_in / 12}, 20]]", text)
    notices = told(read_site(write_lot(tmp_path, text)))
    assert sum("overlap" in notice for notice in notices) == times
