"""Dead-level lots: on sand the roof water goes into a pit, on clay nothing on the lot takes it."""

import pytest

import runoff
from tests.lots.written import building, downspout, lot, read

HOUSE = [(-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0)]
NEIGHBORS = ("street", "neighbor", "neighbor", "neighbor")


def flat(folder, soil: str, *neighbors: str):
    """A level lot of 40 by 40 m with a slab house in its middle, a downspout at its front."""
    house = building("house", HOUSE) + 'kind = "slab"\n'
    sides = lot(*neighbors) if neighbors else ""
    spout = downspout("front", -4.0, -4.15)
    return read(folder, lambda x, y: 10.0, house + sides + spout + f"[soil]\n{soil}\n", reach=24.0)


@pytest.mark.parametrize("neighbors", [(), NEIGHBORS])
def test_flat_sand_takes_a_pit(tmp_path, neighbors):
    (found,) = runoff.plan(flat(tmp_path, 'texture = "sand"', *neighbors)).recommendations
    ways = {option.kind: option for option in found.options}
    assert found.chosen.kind == "seepage pit"
    assert "does not fall enough" in ways["buried line"].reason
    assert not ways["extension"].feasible
    assert not ways["swale"].feasible


@pytest.mark.parametrize(
    ("soil", "why"),
    [
        ('texture = "clay"', "no pit here"),
        ('texture = "sand"\nexpansive = true', "expansive"),
        ('texture = "sand"\ngroundwater = "1 m"', "water table"),
    ],
)
def test_flat_tight_or_wet_ground_takes_none_and_says_what_is_left(tmp_path, soil, why):
    found = runoff.plan(flat(tmp_path, soil, *NEIGHBORS))
    (one,) = found.recommendations
    pit = next(option for option in one.options if option.kind == "seepage pit")
    assert one.chosen.kind == "refer"
    assert one.why.startswith("Nothing that was tried keeps the water away")
    assert "A line with bends is tried only along a route that is drawn" in one.why
    assert "In the way of the line: no straight line works" in one.why
    assert why in pit.reason
    assert len(one.chosen.asks) == 3
    assert all(word in one.chosen.reason for word in ("swale", "storm sewer", "pumped basin"))
