"""Planning the sample beside inspecting it: a plan's cost in inspections of the same lot."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from runoff.inspection import inspect
from runoff.planning import plan
from runoff.sample import sample_folder
from runoff.site import read_site

# A plan makes ten ways for each of five downspouts, and the storm anew on each changed ground.
MOST_INSPECTIONS = 40.0


def _seconds(work: Callable[..., Any], *arguments: Any) -> float:
    began = time.process_time()
    work(*arguments)
    return time.process_time() - began


def test_a_plan_in_inspections():
    """Both in turn in one process, each by its best, so that a busy machine slows both alike."""
    site = read_site(sample_folder() / "site.toml")
    # The first of each meets kernels that may still have to be compiled.
    pairs = [(_seconds(plan, site), _seconds(inspect, site)) for _ in range(2)]
    planned, inspected = (min(times) for times in zip(*pairs, strict=True))
    assert planned < MOST_INSPECTIONS * inspected


def test_whole_plan(benchmark):
    """From the site to what to build at each downspout."""
    site = read_site(sample_folder() / "site.toml")
    found = benchmark(plan, site)
    assert len(found.recommendations) == len(site.downspouts)
