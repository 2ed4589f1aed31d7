"""The paths of the plain ground on lots whose answer is known by reasoning."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from runoff.site import HeightAccuracy, Lot, LotSide
from tests.discharge.plain_ground import MAYBE, NEIGHBOR, PONDS, SAFE, PlainGround
from tests.lots.records import WRITTEN
from tests.lots.ways import a_downspout, a_lot, a_plot, on_ground

# 3 mm a height: differences under 1.96 sqrt(2) 3 mm = 8.3 mm cannot be told.
LASER = HeightAccuracy(0.003, "laser level", False)


def outcomes(lot, surface, x, y):
    site = replace(a_plot(a_downspout(6.1, 0.0), lot=lot), height_accuracy=LASER)
    ground = PlainGround(site, on_ground(site, surface).terrain)
    return set(ground.around((x, y), 1.0).tolist())


@pytest.mark.parametrize(
    ("starts", "along", "outcome"),
    [
        (13.0, 0.001, NEIGHBOR),  # level from 2 m before the neighbor's side
        (13.0, 0.006, SAFE),  # it falls on by 18 mm in 10 ft, down the plan to the street
        (10.0, 0.001, MAYBE),  # level from 5 m before it
    ],
)
def test_level_ground_beside_a_neighbor(starts, along, outcome):
    def surface(x, y):
        return 100.0 - 0.03 * np.minimum(x, starts) + along * y

    lot = a_lot("street", "neighbor", "open ground", "open ground")
    assert outcomes(lot, surface, 8.5, 0.0) == {outcome}


def test_level_ground_beside_a_foundation():
    def surface(x, y):
        return 100.0 - 0.03 * np.minimum(x, -7.5) + 0.001 * y

    lot = a_lot("street", "open ground", "open ground", "open ground")
    assert outcomes(lot, surface, -12.0, 0.0) == {PONDS}


@pytest.mark.parametrize(
    ("beyond", "deep", "outcome"),
    [
        ("open ground", 3.0, MAYBE),
        ("neighbor", 3.0, NEIGHBOR),
        ("neighbor", 0.2, MAYBE),  # less than a cell of the neighbor's ground
        ("open ground", 30.0, SAFE),
    ],
)
def test_water_that_comes_back_to_the_lot_has_not_left_it(beyond, deep, outcome):
    """Water runs down the plan at x = 10, where a notch `deep` m long is cut from the lot."""
    corners = [
        (-15, -15), (15, -15), (15, -6 - deep), (8, -6 - deep), (8, -6), (15, -6), (15, 15),
        (-15, 15),
    ]  # fmt: skip
    if deep > 9:
        corners = [(-15, -15), (8, -15), (8, -6), (15, -6), (15, 15), (-15, 15)]
    ring = np.array(corners, float)
    sides = tuple(
        LotSide(f"side {k}", np.array([a, b]), "street" if b[1] == a[1] == -15 else beyond)
        for k, (a, b) in enumerate(zip(ring, np.roll(ring, -1, axis=0), strict=True))
    )
    lot = Lot(Polygon(corners), sides, WRITTEN)
    assert outcomes(lot, lambda x, y: 100.0 + 0.03 * y + 0 * x, 11.0, 0.0) == {outcome}
