"""Peak memory of one engine on one terrain, in a process of its own.

``python -m tests.benchmarks.peak_memory {runoff,richdem} FILE.npy`` prints how many times the
elevation array the process grew above what it held with the array loaded and the kernels ready.
"""

from __future__ import annotations

import sys

import numpy as np
import psutil


def peak() -> int:
    """The most memory this process ever had resident, bytes."""
    import resource  # not on every system

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (
        1 if sys.platform == "darwin" else 1024
    )


def growth(engine: str, file: str) -> float:
    """How far memory peaks above the loaded array, in sizes of the array.

    An upper bound: a peak while the kernels were loaded counts as well.
    """
    if engine == "runoff":
        from runoff.flow.drainage import flow_accumulation as count
    else:
        from tests.benchmarks.peers import peer_accumulation, peer_array

        def count(z):
            return peer_accumulation(peer_array(z))

    count(np.random.default_rng(0).random((64, 64), dtype=np.float32))
    z = np.load(file)
    before = psutil.Process().memory_info().rss
    count(z)
    return (peak() - before) / z.nbytes


if __name__ == "__main__":
    print(growth(*sys.argv[1:]))
