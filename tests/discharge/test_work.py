"""The work in a way and its shopping list, against arithmetic by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from runoff.discharge import (
    Apron,
    AsItIs,
    BuriedLine,
    DesignRate,
    Extension,
    Failure,
    Fitting,
    GradeCorrection,
    LineEnd,
    LineLimits,
    LineProfile,
    Onward,
    Option,
    Reached,
    SeepagePit,
    Swale,
    SwaleFlow,
    SwaleSection,
    box_pit,
    check_whole_storm,
    missing_prices,
    pipe_at_flow,
    pipe_of,
    shopping_of,
    way_of,
    with_overflow_fitting,
    work_of,
)
from runoff.flow import PathEnd
from runoff.site import Prices, PricesTable, Site
from runoff.words import dig_cells
from tests.lots.records import a_site

FOOT, YARD3 = 0.3048, 0.764554857984
PIPE = pipe_of(4, "smooth")
NO_PATH = np.zeros((1, 2))
STREET = PathEnd("lot side", "front", 0.0, -9.0, "street")
APRON = Apron(1.2, 0.3, 0.3, 0.05, 0.025)


def a_line(length: float = 20.0, slope: float = 0.01, apron: Apron | None = None) -> BuriedLine:
    """A line at a slope whose trench is 0.6 m deep all along and 0.5 m wide."""
    limits = LineLimits(slope, 0.3, 0.1)
    x = np.array([0.0, length])
    invert = -slope * x
    ground = invert + 0.6 - 0.1 - PIPE.wall_m
    profile = LineProfile(PIPE, limits, x, ground, invert, (), length, None)
    fittings = (
        Fitting(0.0, "leaf screen"),
        Fitting(0.0, "bend", "foot", (45.0, 45.0), 90.0),
        Fitting(0.0, "cleanout", "foot"),
        Fitting(9.0, "bend", "route turns", (45.0,), 45.0),
        Fitting(9.0, "cleanout", "spacing"),
        Fitting(length, "outlet grate", size="4 in"),
    )
    route = np.array([(0.0, 0.0), (length, 0.0)])
    return BuriedLine(
        route, False, profile, pipe_at_flow(PIPE, slope, 0.001), 0.5, 0.6, (), None, fittings, (),
        LineEnd("daylight"), (length, 0.0), None, apron, "", (),
    )  # fmt: skip


def a_pit() -> SeepagePit:
    """A box of 2 x 1.5 x 1 m of stone below its inlet, dug 1.5 m deep."""
    check = check_whole_storm(10.0, 0.1, box_pit(2.0, 1.5, 1.0, 0.4), 1e-5)
    full = Failure("pit full", (0.0, 0.0), NO_PATH, None, False, STREET)
    return SeepagePit(
        (5.0, 5.0), 0.0, None, check, check, DesignRate(1e-5, 2.0, "", ()), 0.0, -0.5, 1.5,
        a_line(10.0), (), full, (),
    )  # fmt: skip


def priced(units: str = "ft", **by_item: float) -> Site:
    return a_site(units=units, prices=Prices("USD", by_item) if by_item else None)


def bought(items, name: str) -> tuple[float, str]:
    (item,) = [each for each in items if each.name == name]
    return item.quantity, item.unit


class TestLine:
    work, items = work_of(priced(), Option("buried line", True, None, a_line(apron=APRON)))

    def test_dug_is_the_trench_and_the_apron(self):
        # 0.5 x 0.6 x 20 m, and 1.2 x 0.3 x 0.05 m.
        assert self.work.dig_m3 == pytest.approx(6.0 + 0.018)

    def test_pipe_is_measured_along_its_fall(self):
        assert self.work.pipe_m == pytest.approx(20 * math.sqrt(1 + 0.01**2))

    def test_stone_is_bedding_and_apron(self):
        # 0.5 m wide, 0.1 m of bedding, 20.001 m long.
        assert self.work.stone_m3 == pytest.approx(0.05 * 20.001 + 0.018, abs=1e-6)
        assert self.work.fabric_m2 == pytest.approx(0.36)

    def test_the_list_is_rounded_up_as_sold(self):
        # 20 m are 65.6 ft: 7 lengths of 10 ft. 1.0 m3 are 1.31 cu yd: 1 1/2.
        assert bought(self.items, "4 in smooth pipe") == (7, "lengths of 10 ft")
        assert bought(self.items, "gravel for bedding") == (1.5, "cu yd")
        assert bought(self.items, "stone") == (0.5, "cu yd")
        assert bought(self.items, "filter fabric") == (1, "rolls of 3 ft x 50 ft")

    def test_fittings_are_counted_by_name(self):
        assert bought(self.items, "45 degree bend") == (3, "each")
        assert bought(self.items, "cleanout") == (2, "each")
        assert bought(self.items, "leaf screen with an overflow gap") == (1, "each")

    def test_a_turn_of_several_bends_is_bought_bend_by_bend(self):
        turn = Fitting(4.0, "bend", "route turns", (45.0, 45.0, 22.5), 112.5)
        line = replace(a_line(), fittings=(turn,))
        _, items = work_of(priced(), Option("buried line", True, None, line))
        assert bought(items, "45 degree bend") == (2, "each")
        assert bought(items, "22.5 degree bend") == (1, "each")

    def test_stone_is_said_in_tons_too(self):
        # 1 1/2 cu yd at 1.4 tons (common practice).
        (gravel,) = [each for each in self.items if each.name == "gravel for bedding"]
        assert "about 2.1 tons" in gravel.use

    def test_a_metric_site_buys_in_metres(self):
        _, items = work_of(priced("m"), Option("buried line", True, None, a_line(apron=APRON)))
        assert bought(items, "4 in smooth pipe") == (7, "lengths of 3 m")
        assert bought(items, "gravel for bedding") == (1.5, "m3")
        assert bought(items, "filter fabric") == (1, "rolls of 1 m x 15 m")
        # 1.4 short tons in a cubic yard are 1.66 t in a cubic metre.
        (gravel,) = [each for each in items if each.name == "gravel for bedding"]
        assert "about 2.5 t" in gravel.use

    def test_an_exact_length_buys_no_more(self):
        line = a_line(30 * FOOT / math.sqrt(1 + 0.01**2))
        _, items = work_of(priced(), Option("buried line", True, None, line))
        assert bought(items, "4 in smooth pipe") == (3, "lengths of 10 ft")


def test_a_pit_takes_its_line_too():
    work, items = work_of(priced(), Option("seepage pit", True, None, a_pit()))
    # 2 x 1.5 x 1.5 m of pit, 0.5 x 0.6 x 10 m of trench.
    assert work.dig_m3 == pytest.approx(4.5 + 3.0)
    # Stone to 2 in over the pipe (a rule), and bedding of 10 m.
    height = 1.0 + PIPE.bore_m + 2 * 0.0254
    assert work.stone_m3 == pytest.approx(3.0 * height + 0.5, abs=1e-4)
    # Sides and top, a tenth for laps.
    assert work.fabric_m2 == pytest.approx(1.1 * (7.0 * height + 3.0))
    assert work.pipe_m == pytest.approx(10.0, abs=1e-3)
    assert bought(items, "silt trap") == (1, "each")
    assert bought(items, "observation pipe") == (1, "lengths of 10 ft")
    assert bought(items, "clean stone, no fines")[0] == math.ceil(2 * 3.0 * height / YARD3) / 2


def test_an_extension_lies_on_the_surface():
    extension = Extension(
        (0, 0), (0, -4), 4.0, 180.0, 0.1, 0.2, NO_PATH, Onward(STREET), "splash pad", None
    )
    work, items = work_of(priced(), Option("extension", True, None, extension))
    assert (work.dig_m3, work.pipe_m, work.extension_m) == (0.0, 0.0, 4.0)
    assert bought(items, "extension pipe") == (2, "lengths of 10 ft")
    assert bought(items, "splash pad") == (1, "each")


def test_a_swale_is_dug_and_sodded():
    x = np.array([0.0, 10.0])
    swale = Swale(
        np.array([(0.0, 0.0), (10.0, 0.0)]), x, np.zeros(2), np.full(2, -0.2), 0.01,
        SwaleSection(0.3, 3, 0.2), 0.002, SwaleFlow(0.1, 0.002, 0.2, 0.1), 0.01, 1.2, 1.8,
        Onward(STREET),
    )  # fmt: skip
    work, items = work_of(priced("m"), Option("swale", True, None, swale))
    assert work.dig_m3 == 1.8
    assert work.spoil_m3 == pytest.approx(1.25 * 1.8)
    # 0.2 m deep all along: 0.3 + 2 x 3 x 0.2 m from bank to bank.
    assert swale.greatest_cut_m == pytest.approx(0.2)
    assert swale.greatest_width_m == pytest.approx(1.5)
    # 0.3 + 2 x 0.2 x sqrt(10) m around the section, 10 m long: 15.6 m2.
    assert bought(items, "sod, or seed under a blanket") == (16, "m2")


def test_soil_is_bought_loose():
    correction = GradeCorrection((), 4.0, 5.0)
    option = Option("as it is", True, None, AsItIs(None), correction, graded=True)
    work, items = work_of(priced(), option)
    assert work.soil_m3 == 5.0
    # 5 m3 are 6.54 cu yd.
    assert bought(items, "soil with clay in it") == (7.0, "cu yd")
    assert bought(items, "splash block") == (1, "each")


RELIEF = Failure(
    "line blocked",
    (0, 0),
    NO_PATH,
    Reached("shut in"),
    False,
    STREET,
    "overflow fitting",
    True,
    3.7,
)


def test_a_relief_of_an_extension_is_bought():
    extension = Extension(
        (0, 0), (0, -4), 4.0, 180.0, 0.1, 0.2, NO_PATH, Onward(STREET), "splash pad", None
    )
    relieved = way_of(extension).with_fitting(priced(), extension, RELIEF.fitting_m)
    _, items = work_of(priced(), Option("extension", True, None, relieved))
    assert bought(items, "overflow fitting with a grate") == (1, "each")


def test_a_relief_of_a_line_is_a_fitting_of_it_with_a_row_of_its_own():
    line = with_overflow_fitting(priced(), a_line(apron=APRON), RELIEF.fitting_m)
    assert [each.station_m for each in line.fittings] == [0.0, 0.0, 0.0, 3.7, 9.0, 9.0, 20.0]
    assert line.fittings[3].kind == "overflow fitting"
    (row,) = [cells for cells in dig_cells(line, "m") if cells[0] == "3.700 m"]
    assert row[-1] == "overflow fitting with a grate"
    _, items = work_of(priced(), Option("buried line", True, None, line, failures=(RELIEF,)))
    assert bought(items, "overflow fitting with a grate") == (1, "each")


def test_lengths_are_added_before_they_are_rounded_up():
    # 63.7 ft in three lines are 7 lengths of 10 ft, though each by itself is 3.
    ways = [Option("buried line", True, None, a_line(63.7 * FOOT / 3))] * 3
    assert all(bought(work_of(priced(), way)[1], "4 in smooth pipe")[0] == 3 for way in ways)
    items = shopping_of(priced(), ways)
    assert bought(items, "4 in smooth pipe") == (7, "lengths of 10 ft")
    assert bought(items, "cleanout") == (6, "each")
    # 0.5 x 0.1 x 19.4 m of bedding are 1.27 cu yd, so 1 1/2 at 1.4 tons (common practice).
    (gravel,) = [each for each in items if each.name == "gravel for bedding"]
    assert (gravel.quantity, gravel.use) == (1.5, "under the pipe; about 2.1 tons")


def test_what_pipe_and_stone_take_the_place_of_is_left_over():
    # Pipe of 4.5 in outside and 0.5 x 0.1 m of bedding, 20.001 m long, loose at 1.25 (a rule).
    length = 20 * math.sqrt(1 + 0.01**2)
    line = 1.25 * (math.pi / 4 * (4.5 * 0.0254) ** 2 + 0.05) * length
    way = Option("buried line", True, None, a_line(apron=APRON))
    work, _ = work_of(priced(), way)
    assert work.spoil_m3 == pytest.approx(line + 1.25 * 0.018)
    assert work_of(priced(), Option("as it is", True, None, AsItIs(None)))[0].spoil_m3 == 0.0
    # A pit's too: its stone takes the place of 3 m2 to 2 in over the pipe.
    stone = 1.25 * 3.0 * (1.0 + PIPE.bore_m + 2 * 0.0254)
    pit, _ = work_of(priced(), Option("seepage pit", True, None, a_pit()))
    assert pit.spoil_m3 == pytest.approx(stone + line / 2)


PRICES = {
    "pipe": 10.0, "stone": 50.0, "fitting": 5.0, "cleanout": 20.0, "fabric": 1.0, "digging": 80.0,
}  # fmt: skip


class TestPrice:
    option = Option("buried line", True, None, a_line(apron=APRON))

    def test_it_is_of_what_is_bought_and_dug(self):
        work, _ = work_of(priced(**PRICES), self.option)
        # 70 ft of pipe; 1.5 and 0.5 cu yd; screen, three bends, grate; two cleanouts; a roll.
        by_hand = (
            10 * 70 * FOOT + 50 * 2 * YARD3 + 5 * 5 + 20 * 2 + 150 * FOOT**2 + 80 * (6.0 + 0.018)
        )
        assert work.price == pytest.approx(by_hand)

    @pytest.mark.parametrize("lacking", list(PRICES))
    def test_it_is_not_guessed(self, lacking):
        given = {key: value for key, value in PRICES.items() if key != lacking}
        site = priced(**given)
        work, _ = work_of(site, self.option)
        assert work.price is None
        assert missing_prices(site, self.option) == (lacking,)

    def test_without_prices_there_is_none(self):
        work, _ = work_of(priced(), self.option)
        assert work.price is None
        assert set(missing_prices(priced(), self.option)) == set(PRICES)

    def test_what_costs_nothing_is_priced(self):
        free = replace(self.option, design=None, way="refer")
        work, items = work_of(priced(**PRICES), free)
        assert (work.price, items) == (0.0, ())


def test_the_site_file_takes_every_price_that_work_is_bought_by():
    ways = [
        Option("buried line", True, None, a_line(apron=APRON)),
        Option("seepage pit", True, None, a_pit()),
        Option("as it is", True, None, AsItIs(None)),
    ]
    for way in ways:
        assert missing_prices(priced(), way)
        assert set(missing_prices(priced(), way)) <= set(PricesTable.model_fields)
