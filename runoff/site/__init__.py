"""What the user wrote down about a lot: the site file, read whole or refused line by line.

The public names load when they are first used, so that the command line starts quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.site.levels import LevelTable, reduce_levels
    from runoff.site.model import Site
    from runoff.site.problems import InputError, Problem
    from runoff.site.reading import read_site
    from runoff.site.schema import site_schema

__all__ = [
    "InputError",
    "LevelTable",
    "Problem",
    "Site",
    "read_site",
    "reduce_levels",
    "site_schema",
]

_HOME = {
    "InputError": "runoff.site.problems",
    "LevelTable": "runoff.site.levels",
    "Problem": "runoff.site.problems",
    "Site": "runoff.site.model",
    "read_site": "runoff.site.reading",
    "reduce_levels": "runoff.site.levels",
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
