"""Drains in a storm: what they take, what they cannot, and where it goes on."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.flow import LetGo, LotFlow
from runoff.site import HeightAccuracy
from runoff.terrain import Grid, Terrain, TerrainDrain
from tests.flow.terrains import hilly, rough

HOUR = 3600.0
CELL = 0.5


def lot(z, *drains, closed=None):
    """A lot that sheds all rain, with these drains, and one hour of storm."""
    walls = np.zeros(z.shape, bool) if closed is None else closed
    terrain = Terrain(
        grid=Grid(*z.shape, CELL, 0.0, 0.0),
        ground=z,
        surface=z,
        closed=walls,
        building=np.full(z.shape, -1, np.int16),
        drains=drains,
        accuracy=HeightAccuracy(0.006, "laser level", False),
        suspects=(),
        notices=(),
    )
    return LotFlow(terrain, np.where(walls, 0.0, 100.0), HOUR)


def two_hollows():
    """Two level hollows of 3 and 2 cells, 2 m deep, on a level plain."""
    z = np.full((7, 12), 5.0)
    z[3, 2:5] = 3.0
    z[3, 8:10] = 3.0
    return z


def test_a_drain_of_unknown_capacity_takes_all_that_comes():
    flow = lot(two_hollows(), TerrainDrain("yard inlet", (3, 3), None, None))
    assert flow.run(0.0, [LetGo((3, 2), 100.0)]).drained == {"yard inlet": 0.0}
    run = flow.run(1.0, [LetGo((3, 2), 100.0)])
    assert run.overwhelmed == ()
    assert run.ponding.depth()[3, 2:5].max() == 0.0
    assert run.drained["yard inlet"] >= 100.0


def test_a_drain_takes_its_capacity_for_the_duration_and_the_rest_stands():
    capacity = 0.5 / HOUR  # m3/s: half a cubic metre in the storm
    flow = lot(two_hollows(), TerrainDrain("yard inlet", (3, 3), None, capacity))
    run = flow.run(1e-9, [LetGo((3, 2), 0.8e9)])  # 0.8 m3, and next to no rain
    assert run.overwhelmed == ("yard inlet",)
    assert run.drained["yard inlet"] == pytest.approx(0.5)
    depth = run.ponding.depth()
    assert depth.sum() * CELL**2 == pytest.approx(0.3, abs=1e-6)
    assert depth[3, 2:5] == pytest.approx(0.3 / (3 * CELL**2), abs=1e-6)


def test_a_drain_with_enough_capacity_is_not_overwhelmed():
    flow = lot(two_hollows(), TerrainDrain("yard inlet", (3, 3), None, 0.5 / HOUR))
    run = flow.run(1e-9, [LetGo((3, 2), 0.4e9)])
    assert run.overwhelmed == ()
    assert run.drained["yard inlet"] == pytest.approx(0.4, abs=1e-6)
    assert run.ponding.depth()[3, 2:5].max() == 0.0


def test_water_comes_out_at_the_outlet():
    flow = lot(two_hollows(), TerrainDrain("culvert", (3, 3), (3, 8), 0.3 / HOUR))
    run = flow.run(1e-9, [LetGo((3, 2), 0.5e9)])
    depth = run.ponding.depth()
    assert depth[3, 2:5].sum() * CELL**2 == pytest.approx(0.2, abs=1e-6)
    assert depth[3, 8:10].sum() * CELL**2 == pytest.approx(0.3, abs=1e-6)


def test_drains_that_feed_each_other():
    z = two_hollows()
    first = TerrainDrain("first", (3, 3), (3, 8), None)
    second = TerrainDrain("second", (3, 9), None, None)
    for drains in ((first, second), (second, first)):
        run = lot(z, *drains).run(1e-9, [LetGo((3, 2), 0.5e9)])
        assert run.drained["first"] == pytest.approx(0.5, abs=1e-6)
        assert run.drained["second"] == pytest.approx(0.5, abs=1e-6)
        assert run.ponding.depth().sum() == 0.0


def test_a_moved_downspout_gives_what_a_new_lot_gives():
    z = rough(5, (20, 22))
    drains = (TerrainDrain("inlet", (10, 10), None, 2.0 / HOUR),)
    kept = lot(z, *drains)
    kept.run(0.05, [LetGo((4, 4), 60.0)])
    moved = kept.run(0.05, [LetGo((15, 9), 60.0)])
    new = lot(z, *drains).run(0.05, [LetGo((15, 9), 60.0)])
    np.testing.assert_array_equal(moved.ponding.depth(), new.ponding.depth())
    assert moved.drained == new.drained


def test_a_drain_whose_water_comes_back_takes_none():
    # Once the second hollow is full it spills back into the first: the water would go in circles.
    z = np.full((5, 9), 9.0)
    z[2, 1:8] = [2.0, 2.0, 4.0, 3.0, 3.0, 3.0, 6.0]
    flow = lot(z, TerrainDrain("culvert", (2, 1), (2, 5), None))
    little, much = [LetGo((2, 1), 100.0 * CELL**2)], [LetGo((2, 1), 900.0 * CELL**2)]
    run = flow.run(0.01, little)
    assert run.circling == ()
    run = flow.run(0.01, much)
    assert run.circling == run.overwhelmed == ("culvert",)
    assert run.drained["culvert"] == 0.0
    depth = run.ponding.depth()
    surface = (z + depth)[2, 1:7]
    assert np.ptp(surface) < 1e-12
    assert balance(flow, run, 0.01, much) == pytest.approx(0.0, abs=1e-12)
    again = flow.run_as(run, 0.01, much)
    np.testing.assert_array_equal(again.depth(), depth)


def balance(flow, run, rain, let_go):
    """What came less what stands, left, or went down a drain that leads off the lot, m3."""
    full = [d for d in flow.terrain.drains if d.name in run.overwhelmed]
    passed_on = sum(
        run.drained[d.name]
        for d in flow.terrain.drains
        if d.outlet is not None and d.name not in run.overwhelmed
    )
    came = flow.shed(rain).sum() * CELL**2 + sum(each.per_rain for each in let_go) * rain
    stands_or_left = (run.ponding.depth().sum() + run.ponding.left.sum()) * CELL**2
    down_full = sum(run.drained[d.name] for d in full if d.outlet is None)
    return came + passed_on - stands_or_left - down_full


def test_an_overwhelmed_drain_on_a_ridge_takes_no_more_than_runs_there():
    # Open, it draws in both hollows beside it; full, only its own cell's water is certain.
    z = np.full((3, 5), 9.0)
    z[1] = [9.0, 2.0, 5.0, 3.0, 9.0]
    flow = lot(z, TerrainDrain("inlet", (1, 2), None, 2.5 * CELL**2 / HOUR))
    run = flow.run(1.0, [])
    assert run.overwhelmed == ("inlet",)
    assert run.drained["inlet"] == pytest.approx(2.0 * CELL**2)
    assert balance(flow, run, 1.0, []) == pytest.approx(0.0, abs=1e-12)


CELLS = st.tuples(st.integers(1, 10), st.integers(1, 12))


@settings(max_examples=150, deadline=None)
@given(
    st.integers(0, 10_000),
    st.lists(
        st.tuples(CELLS, st.booleans(), st.sampled_from([None, 0.01, 0.1, 1.0])),
        max_size=4,
        unique_by=lambda drain: drain[0],
    ),
    st.floats(0.0, 0.5),
)
def test_what_came_stands_left_or_was_drained(seed, wanted, rain):
    z = hilly(seed, (12, 14))
    drains = []
    for n, (inlet, leads_on, most) in enumerate(wanted):
        lower = np.argwhere(z < z[inlet])
        somewhere = tuple(int(i) for i in lower[seed % len(lower)]) if len(lower) else None
        capacity = None if most is None else most / HOUR
        drains.append(TerrainDrain(f"drain {n}", inlet, somewhere if leads_on else None, capacity))
    flow, let_go = lot(z, *drains), [LetGo((6, 6), 4.0)]
    run = flow.run(rain, let_go)
    assert balance(flow, run, rain, let_go) == pytest.approx(0.0, abs=1e-9)
    for drain in drains:
        assert run.drained[drain.name] >= 0.0
        if drain.capacity is not None:
            assert run.drained[drain.name] <= drain.capacity * HOUR + 1e-12
    assert (run.ponding.left >= 0.0).all()
