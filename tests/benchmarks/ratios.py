"""Print the table of ratios: ``python -m tests.benchmarks.ratios``; it takes some minutes.

Each engine is timed best of three, the two in turn in one process, on the terrain of `fractals`.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from runoff.flow import answer_moved, flow_accumulation, prepare_flow
from tests.benchmarks.fractals import fractal
from tests.benchmarks.lots import (
    answers_and_spots,
    answers_from_heights,
    lot,
    moved_downspout,
    other_water,
)
from tests.benchmarks.peak_memory import growth
from tests.benchmarks.peers import peer_accumulation, peer_array


def seconds(work: Callable[..., Any], *arguments: Any) -> float:
    """How long one call takes."""
    began = time.perf_counter()
    work(*arguments)
    return time.perf_counter() - began


def beside_peer(n: int) -> str:
    """Both engines on (n, n) cells."""
    z = fractal(n)
    array = peer_array(z)
    pairs = [(seconds(flow_accumulation, z), seconds(peer_accumulation, array)) for _ in range(3)]
    ours, theirs = (min(times) for times in zip(*pairs, strict=True))
    return (
        f"{n:5} x {n:<5} ours {ours:7.3f} s   richdem {theirs:7.3f} s   {theirs / ours:5.1f} times"
    )


def a_cell(n: int) -> float:
    """Nanoseconds a cell on (n, n) cells."""
    z = fractal(n)
    return min(seconds(flow_accumulation, z) for _ in range(3)) / z.size * 1e9


def memory(engine: str, n: int) -> float:
    """Peak memory above the input, in elevation arrays."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "terrain.npy"
        np.save(file, fractal(n))
        return growth(engine, file)


def main() -> None:
    """Print the table."""
    flow_accumulation(fractal(1024))
    for n in (1024, 4096):
        print(beside_peer(n), flush=True)
    small, large = a_cell(1024), a_cell(8192)
    print(f"a cell at 1024: {small:.1f} ns, at 8192: {large:.1f} ns, {large / small:.2f} times")
    for engine in ("runoff", "richdem"):
        print(f"peak memory above the input, {engine}: {memory(engine, 4096):.1f} arrays")
    site, terrain = lot(160_000)
    answers_from_heights(site, terrain)
    whole = min(seconds(answers_from_heights, site, terrain) for _ in range(5))
    flow = prepare_flow(site, terrain)
    _, spots = answers_and_spots(site, flow)
    moved, others = moved_downspout(site), other_water(site, flow)
    again = min(seconds(answer_moved, site, flow, others, spots, moved) for _ in range(5))
    rows, cols = terrain.grid.rows, terrain.grid.cols
    print(f"lot of {rows} x {cols}: {whole * 1e3:.1f} ms, moved downspout {again * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
