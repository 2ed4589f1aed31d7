"""Ground of the lot without heights, on lots whose holes are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text
from scipy import ndimage

from runoff.checking import check
from runoff.inspection import inspect
from runoff.planning import plan as plan_site
from runoff.quantities import format_area
from runoff.report import (
    ROOMS,
    WITHOUT_HEIGHTS,
    compose,
    compose_check,
    inspection_page,
    method_blocks,
    plan_text,
    summary_text,
)
from runoff.terrain import build_terrain
from runoff.words import hole_words, missing_words
from tests.lots.records import a_building, a_lot, a_plane, a_site, grid_positions, spots_at

FOOT = 0.3048
SIDES = ("street", "right", "rear", "left")


def a_lot_with_a_bare_corner(apart=15.0):
    """100 x 150 ft, shots all over but to the right before the house, from 12 ft right of it."""
    house = a_building(
        "house",
        [
            (15 * FOOT, 60 * FOOT),
            (45 * FOOT, 60 * FOOT),
            (45 * FOOT, 90 * FOOT),
            (15 * FOOT, 90 * FOOT),
        ],
    )
    house = replace(house, walls=("front", "right", "rear", "left"))
    shots = grid_positions(90, 150, apart)
    bare = (shots[:, 0] > 60) & (shots[:, 1] < 60)
    inside = (np.abs(shots[:, 0] - 30) < 15) & (np.abs(shots[:, 1] - 75) < 15)
    spots = spots_at(shots[~bare & ~inside] * FOOT, a_plane)
    corners = [(0, 0), (90 * FOOT, 0), (90 * FOOT, 150 * FOOT), (0, 150 * FOOT)]
    return a_site(spot_heights=spots, buildings=(house,), lot=a_lot(corners, *SIDES))


def test_a_hole_is_named_with_its_size_and_place():
    site = a_lot_with_a_bare_corner()
    terrain = build_terrain(site)
    (hole,) = terrain.holes
    left, bottom, right, top = np.array(hole.outline.bounds) / FOOT
    assert (bottom, right) == pytest.approx((0, 90), abs=1.5)
    # The bend between the shots is bridged in part.
    assert 60 <= left < 64
    assert 45 < top <= 60
    across, out = round(right - left), round(top - bottom)
    area = format_area(hole.area, found=True)
    assert hole_words(site, hole) == (
        f"{across} ft by {out} ft ({area}) off the corner of the front wall and the right wall of "
        "the house, by the right side"
    )
    missing = np.isnan(terrain.ground) & ~terrain.closed
    x, y = (np.array(each) / FOOT for each in terrain.grid.centers())
    on_lot = missing[(y > 0) & (y < 150)][:, (x > 0) & (x < 90)]
    away = np.hypot(*np.mgrid[-3:4, -3:4]) <= 3.0  # 3 ft, of cells of about a foot
    wide = ndimage.binary_opening(on_lot, away)
    assert hole.area == pytest.approx(wide.sum() * terrain.grid.cell_area, rel=0.04)


def test_a_survey_of_the_whole_lot_has_no_holes_and_slivers_are_not_named():
    """Shots out to 5 ft from the lot line leave a strip narrower than the 6 ft that are named."""
    corners = [(-1.5, -1.5), (31.5, -1.5), (31.5, 31.5), (-1.5, 31.5)]
    shots = spots_at(grid_positions(30, 30, 6.0), a_plane)
    assert build_terrain(a_site(spot_heights=shots, lot=a_lot(corners, *SIDES))).holes == ()


def test_a_wide_strip_round_the_lot_is_told_by_its_width():
    """Shots out to 20 ft from the lot line: what is left is no 130 ft by 130 ft of ground."""
    reach = 20 * FOOT
    corners = [
        (-reach, -reach),
        (30 + reach, -reach),
        (30 + reach, 30 + reach),
        (-reach, 30 + reach),
    ]
    site = a_site(
        spot_heights=spots_at(grid_positions(30, 30, 6.0), a_plane),
        lot=a_lot(corners, *SIDES),
        cell_size=0.1,
    )
    (hole,) = build_terrain(site).holes
    assert hole.area == pytest.approx((30 + 2 * reach) ** 2 - 30**2, rel=0.02)
    assert "ground up to 2" in hole_words(site, hole)


def test_without_a_lot_a_hole_is_what_the_survey_surrounds():
    shots = grid_positions(45, 45, 3.0)
    shots = shots[(np.abs(shots - 22.5) > 14).any(axis=1)]
    site = a_site(spot_heights=spots_at(shots, a_plane))
    (hole,) = build_terrain(site).holes
    assert hole.at == pytest.approx((22.5, 22.5), abs=0.5)
    assert "side" not in hole_words(site, hole)


def test_every_command_names_the_hole_and_the_maps_explain_their_hatch():
    site = a_lot_with_a_bare_corner()
    findings, checked = inspect(site), check(site)
    (hole,) = findings.terrain.holes
    words = hole_words(site, hole)
    named = " ".join(summary_text(findings, width=500).split())
    assert f"{WITHOUT_HEIGHTS} - {words}." in named
    assert any(words in missing_words(site, one) for one in checked.missing)
    printed = str([*inspection_page(findings, (), ROOMS[0]), *method_blocks(findings, None)])
    assert printed.count(words) == 2
    assert findings.to_dict()["terrain"]["without_heights"] == [
        {"at_m": list(hole.at), "area_m2": hole.area}
    ]
    for figure in (compose(findings), compose_check(checked)):
        told = [text.get_text() for text in figure.findobj(Text)]
        assert "no heights: ground not known" in told


def test_the_plan_names_the_hole():
    plan = plan_site(a_lot_with_a_bare_corner())
    assert hole_words(plan.site, plan.findings.terrain.holes[0]) in " ".join(
        plan_text(plan, width=500).split()
    )
