"""Peak memory of one engine on one terrain, in a process of its own that is watched from outside.

What a process says of its own peak may be that of the one that started it.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import psutil

EVERY = 0.001  # seconds between two looks at the process


def growth(engine: str, file: Path) -> float:
    """How far memory peaks above the loaded array, in sizes of the array.

    Parameters
    ----------
    engine : "runoff" or "richdem"
    file : Path, the terrain, as `numpy.save` wrote it
    """
    command = [sys.executable, "-m", "tests.benchmarks.peak_memory", engine, str(file)]
    most = 0
    with psutil.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as run:
        while True:
            try:
                run.wait(EVERY)
                break
            except psutil.TimeoutExpired:
                most = max(most, run.memory_info().rss)
        said = run.stdout.read().split()
    if run.returncode:
        raise RuntimeError(f"{engine} ended with status {run.returncode}")
    before = int(said[-1])
    return (max(most, before) - before) / np.load(file, mmap_mode="r").nbytes


def _work(engine: str, file: str) -> int:
    """Let the engine count on the terrain; the memory held before it began, bytes."""
    if engine == "runoff":
        from runoff.flow import flow_accumulation as count
    else:
        from tests.benchmarks.peers import peer_accumulation, peer_array

        def count(z):
            return peer_accumulation(peer_array(z))

    count(np.random.default_rng(0).random((64, 64), dtype=np.float32))
    z = np.load(file)
    before = psutil.Process().memory_info().rss
    count(z)
    return before


if __name__ == "__main__":
    print(_work(*sys.argv[1:]))
