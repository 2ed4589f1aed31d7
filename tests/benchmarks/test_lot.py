"""One lot of about 400 x 400 cells, from its heights to its downspouts' answers."""

from __future__ import annotations

from runoff.flow import answer_moved, prepare_flow
from runoff.inspection import inspect
from tests.benchmarks.lots import (
    answers_and_spots,
    answers_from_heights,
    lot,
    moved_downspout,
    other_water,
)

CELLS = 160_000
FEW = 10_000


def test_answers_from_heights(benchmark):
    site, terrain = lot(FEW if benchmark.disabled else CELLS)
    found = benchmark(answers_from_heights, site, terrain)
    assert [answer.name for answer in found] == [d.name for d in site.downspouts]


def test_answer_again_for_a_moved_downspout(benchmark):
    site, terrain = lot(FEW if benchmark.disabled else CELLS)
    flow = prepare_flow(site, terrain)
    before, spots = answers_and_spots(site, flow)
    moved, others = moved_downspout(site), other_water(site, flow)
    found = benchmark(answer_moved, site, flow, others, spots, moved)
    assert found.name == before[0].name
    assert found.start != before[0].start


def test_whole_inspection(benchmark):
    """From the site to its findings: ground, storm, walls, openings, safe area, second engine."""
    site, _ = lot(FEW if benchmark.disabled else CELLS)
    found = benchmark(inspect, site)
    assert found.at_the_wall.runs
