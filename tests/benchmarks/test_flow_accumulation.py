"""`flow_accumulation` beside richdem on one fractal terrain, its time a cell, its peak memory.

Without ``--benchmark-enable`` everything runs once, on small terrains, and nothing is timed.
"""

from __future__ import annotations

import numpy as np
import pytest

from runoff.flow import flow_accumulation
from tests.benchmarks.fractals import fractal
from tests.benchmarks.peak_memory import growth
from tests.benchmarks.peers import peer_accumulation, peer_array

SMALL = 96


def terrain_for(benchmark, n):
    """The terrain of a benchmark, small where it is only run to see that it runs."""
    return fractal(SMALL if benchmark.disabled else n)


def leaves_over_border(counts):
    """How many cells drain over the border in all."""
    return counts[0].sum() + counts[-1].sum() + counts[1:-1, [0, -1]].sum()


@pytest.mark.parametrize("n", [1024, 4096])
def test_ours(benchmark, n):
    benchmark.group = f"filling, directions and counts, {n} x {n}"
    z = terrain_for(benchmark, n)
    counts = benchmark.pedantic(flow_accumulation, (z,), rounds=3, warmup_rounds=1)
    assert leaves_over_border(counts) == z.size


@pytest.mark.parametrize("n", [1024, 4096])
def test_peer(benchmark, n):
    benchmark.group = f"filling, directions and counts, {n} x {n}"
    z = terrain_for(benchmark, n)
    counts = benchmark.pedantic(peer_accumulation, (peer_array(z),), rounds=3)
    assert counts.shape == z.shape


@pytest.mark.parametrize("n", [1024, 8192])
def test_time_a_cell(benchmark, n):
    benchmark.group = "time a cell"
    z = terrain_for(benchmark, n)
    counts = benchmark.pedantic(flow_accumulation, (z,), rounds=3, warmup_rounds=1)
    assert leaves_over_border(counts) == z.size
    if not benchmark.disabled:
        benchmark.extra_info["ns_a_cell"] = benchmark.stats.stats.min / z.size * 1e9


@pytest.mark.parametrize("engine", ["runoff", "richdem"])
def test_peak_memory(benchmark, engine, tmp_path):
    benchmark.group = "peak memory above the input, in elevation arrays (see extra_info)"
    file = tmp_path / "terrain.npy"
    np.save(file, terrain_for(benchmark, 4096))
    arrays = benchmark.pedantic(growth, (engine, file), rounds=1)
    assert arrays >= 0.0
    benchmark.extra_info["elevation_arrays"] = arrays
