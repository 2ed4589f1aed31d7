"""Where each downspout's water goes on this lot, and what to build so that it leaves for good.

The public functions and classes; each is imported when it is first used, so that ``import runoff``
is quick and the command line can show its help without numpy.

Examples
--------
>>> import runoff
>>> runoff.quantities.format_length(2.54)
'8 ft 4 in'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff import discharge, flow, quantities, report, roof, rules, sample, site, terrain
    from runoff.checking import Checked, check
    from runoff.inspection import Findings, inspect
    from runoff.planning import Plan, plan
    from runoff.site import read_site
    from runoff.site.model import Site
    from runoff.site.problems import InputError, Problem

__all__ = [
    "Checked",
    "Findings",
    "InputError",
    "Plan",
    "Problem",
    "Site",
    "__version__",
    "check",
    "discharge",
    "flow",
    "inspect",
    "plan",
    "quantities",
    "read_site",
    "report",
    "roof",
    "rules",
    "sample",
    "site",
    "terrain",
]

_ROOMS = ("discharge", "flow", "quantities", "report", "roof", "rules", "sample", "site", "terrain")
_HOME = {
    "Checked": "runoff.checking",
    "Findings": "runoff.inspection",
    "InputError": "runoff.site.problems",
    "Plan": "runoff.planning",
    "Problem": "runoff.site.problems",
    "Site": "runoff.site.model",
    "check": "runoff.checking",
    "inspect": "runoff.inspection",
    "plan": "runoff.planning",
    "read_site": "runoff.site",
}


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("runoff")
    except PackageNotFoundError:
        return "0+source"


def __getattr__(name: str) -> Any:
    if name in _ROOMS:
        value: Any = import_module(f"runoff.{name}")
    elif name in _HOME:
        value = getattr(import_module(_HOME[name]), name)
    elif name == "__version__":
        value = _version()
    else:
        raise AttributeError(f"module 'runoff' has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
