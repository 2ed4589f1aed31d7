"""One lot of about 400 x 400 cells, from its heights to its downspouts' answers."""

from __future__ import annotations

from runoff.inspection import prepare_flow
from tests.benchmarks.lots import answers, answers_from_heights, lot, with_moved_downspout

CELLS = 160_000
FEW = 10_000


def test_answers_from_heights(benchmark):
    site, terrain = lot(FEW if benchmark.disabled else CELLS)
    found = benchmark(answers_from_heights, site, terrain)
    assert [answer.name for answer in found] == [d.name for d in site.downspouts]


def test_answers_again_for_a_moved_downspout(benchmark):
    site, terrain = lot(FEW if benchmark.disabled else CELLS)
    flow = prepare_flow(site, terrain)
    before = answers(site, flow)
    found = benchmark(answers, with_moved_downspout(site), flow)
    assert found[0].start != before[0].start
