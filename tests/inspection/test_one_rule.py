"""One rule, every place: a stricter limit never makes an answer milder, and is what is printed."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from runoff.flow import near_walls
from runoff.rules import Rules
from runoff.site import Building
from tests.lots.records import WRITTEN, a_site

FOOT = 0.3048
HOUSE = Building(
    "house",
    Polygon([(0, 0), (12, 0), (12, 9), (0, 9)]),
    ("front", "right", "rear", "left"),
    "slab",
    None,
    WRITTEN,
)


def implied(path: np.ndarray, near_ft: float) -> tuple[bool, bool]:
    """Whether a path comes back to the house or runs along it, by a limit in feet."""
    rules = Rules().with_overrides({"near_foundation": near_ft * FOOT})
    found = near_walls(replace(a_site(buildings=(HOUSE,)), rules=rules), path)
    return found.returns, found.along_m > rules["along_foundation"]


def test_water_along_a_wall_four_feet_out_is_flagged_by_any_limit_over_that() -> None:
    """It leaves the wall, runs 20 ft along it 4 ft out, and goes straight off.

    By hand: within 5 ft of it 4 + 20 + 1 ft, of which 5 ft are straight out, so 20 ft more.
    """
    out = -4 * FOOT
    path = np.array([[1.0, 0.0], [1.0, out], [1.0 + 20 * FOOT, out], [1.0 + 20 * FOOT, -9.0]])
    for near in (5, 6, 8, 10, 20):
        assert implied(path, near)[1]
    found = near_walls(a_site(buildings=(HOUSE,)), path)
    assert found.along_m == pytest.approx(20 * FOOT)
    assert found.within_near_m == pytest.approx(25 * FOOT)


def test_straight_out_is_never_along() -> None:
    path = np.array([[6.0, 0.0], [6.0, -9.0]])
    for near in (3, 5, 10, 25, 60):
        assert implied(path, near) == (False, False)


def test_water_that_comes_back_does_so_by_a_stricter_limit_too() -> None:
    out, back = -6 * FOOT, -4.5 * FOOT
    path = np.array([[2.0, 0.0], [2.0, out], [4.0, back], [4.0, -9.0]])
    for near in (5, 5.5, 7, 10, 15):
        assert implied(path, near)[0]


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    steps=st.lists(st.tuples(st.floats(-3, 3), st.floats(-3, 3)), min_size=1, max_size=6),
    limits=st.lists(st.floats(5, 20), min_size=2, max_size=4),
)
def test_a_stricter_limit_is_never_milder(steps: list, limits: list[float]) -> None:
    """Any broken way in front of the house: what one limit flags every stricter one flags."""
    path = np.vstack([[6.0, 0.0], np.array([6.0, 0.0]) + np.cumsum(steps, axis=0)])
    path[:, 1] = -np.abs(path[:, 1])
    bad = [any(implied(path, near)) for near in sorted(limits)]
    assert bad == sorted(bad)
    along = [
        near_walls(
            replace(
                a_site(buildings=(HOUSE,)),
                rules=Rules().with_overrides({"near_foundation": near * FOOT}),
            ),
            path,
        ).along_m
        for near in sorted(limits)
    ]
    assert all(b >= a - 0.02 for a, b in pairwise(along))


def test_the_summary_prints_the_distances_in_force() -> None:
    from runoff.inspection import inspect
    from runoff.report import summary_text
    from runoff.sample import sample_folder
    from runoff.site import read_site

    site = read_site(sample_folder() / "site.toml")
    rules = site.rules.with_overrides({"near_foundation": 7 * FOOT, "foundation_reach": 12 * FOOT})
    told = " ".join(summary_text(inspect(replace(site, rules=rules))).split())
    assert "within 7 ft" in told
    assert "within 12 ft of a foundation" in told
    assert "within 5 ft" not in told
    assert "within 10 ft" not in told
