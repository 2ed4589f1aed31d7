"""Dead-level lots: on sand the roof water goes into a pit, on clay nothing on the lot takes it."""

import pytest

import runoff
from runoff.words import way_reason, why_chosen
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
    made = runoff.plan(flat(tmp_path, 'texture = "sand"', *neighbors))
    (found,) = made.recommendations
    ways = {option.kind: option for option in found.options}
    assert found.chosen.kind == "seepage pit"
    assert "does not fall enough" in way_reason(made.site, ways["buried line"])
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
    said = why_chosen(found.site, one)
    assert said.startswith("Nothing that was tried keeps the water away")
    assert "A line with bends is tried only along a route that is drawn" in said
    assert "In the way of the line: no straight line works" in said
    assert why in way_reason(found.site, pit)
    assert len(one.chosen.asks) == 3
    left = way_reason(found.site, one.chosen)
    assert all(word in left for word in ("swale", "storm sewer", "pumped basin"))
