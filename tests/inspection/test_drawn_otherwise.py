"""Safe ground and what a lot's other rows say do not hang on how it was drawn."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

import runoff
from runoff.foundation import REASONS
from runoff.sample import sample_folder
from runoff.site import read_site
from tests.lots.moved import Drawn, drawn

WAYS = [
    Drawn(mirrored=True),
    Drawn(degrees=22.5),
    Drawn(degrees=90),
    Drawn(degrees=202.5, shift=(0.11, 0.07)),
    Drawn(mirrored=True, degrees=30, shift=(5.03, 2.2)),
    Drawn(cell_size=0.15),
]


def with_its_lot(site, how):
    sides = tuple(replace(side, line=how.move(side.line)) for side in site.lot.sides)
    boundary = shapely.transform(site.lot.boundary, how.move)
    return replace(drawn(site, how), lot=replace(site.lot, boundary=boundary, sides=sides))


def safe_ground(site):
    """Square metres."""
    findings = runoff.inspect(site)
    code = findings.at_the_wall.safe_area.code
    return (code == REASONS.index("safe")).sum() * findings.terrain.grid.cell_area


@pytest.fixture(scope="module")
def sample():
    return read_site(sample_folder() / "site.toml")


@pytest.fixture(scope="module")
def plain(sample):
    """Its safe ground as it is drawn."""
    return safe_ground(with_its_lot(sample, Drawn()))


@pytest.mark.parametrize("how", WAYS)
def test_safe_ground_stays_within_three_percent(sample, plain, how):
    assert safe_ground(with_its_lot(sample, how)) == pytest.approx(plain, rel=0.03)


def test_a_low_spot_just_at_its_limit_is_told(sample):
    """Its rim a hand's breadth from where the rule changes what is safe: said; far from it: not."""
    spot = runoff.inspect(sample).low_spots[0]
    said = {}
    for aside in (-0.1, 0.1, -0.5, 0.5):
        rules = sample.rules.with_overrides(
            {"pond_foundation_distance": spot.wall_distance_m + aside}
        )
        notices = runoff.inspect(replace(sample, rules=rules)).notices
        said[aside] = any(each.code == "pond at the limit" for each in notices)
    assert said == {-0.1: True, 0.1: True, -0.5: False, 0.5: False}
