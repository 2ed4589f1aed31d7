"""What the user wrote down about a lot: the site file, read whole or refused line by line.

The public names load when they are first used, so that the command line starts quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.site.levels import LevelTable, reduce_levels
    from runoff.site.model import Site
    from runoff.site.percolation import PercolationTest, WaterReading, reduce_percolation
    from runoff.site.problems import InputError, Problem
    from runoff.site.reading import read_site
    from runoff.site.schema import site_schema
    from runoff.site.trial_pits import Filling, TrialPitTest, reduce_trial_pit

__all__ = [
    "Filling",
    "InputError",
    "LevelTable",
    "PercolationTest",
    "Problem",
    "Site",
    "TrialPitTest",
    "WaterReading",
    "read_site",
    "reduce_levels",
    "reduce_percolation",
    "reduce_trial_pit",
    "site_schema",
]

_HOME = {
    "Filling": "runoff.site.trial_pits",
    "InputError": "runoff.site.problems",
    "LevelTable": "runoff.site.levels",
    "PercolationTest": "runoff.site.percolation",
    "Problem": "runoff.site.problems",
    "Site": "runoff.site.model",
    "TrialPitTest": "runoff.site.trial_pits",
    "WaterReading": "runoff.site.percolation",
    "read_site": "runoff.site.reading",
    "reduce_levels": "runoff.site.levels",
    "reduce_percolation": "runoff.site.percolation",
    "reduce_trial_pit": "runoff.site.trial_pits",
    "site_schema": "runoff.site.schema",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.site' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
