"""What was found, shown: the map picture and the summary in words.

Everything here is drawn and printed from the findings alone. The public names load when they are
first used, since drawing brings in matplotlib.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.report.map import draw_map
    from runoff.report.summary import summary, summary_text

__all__ = ["draw_map", "summary", "summary_text"]

_HOME = {
    "draw_map": "runoff.report.map",
    "summary": "runoff.report.summary",
    "summary_text": "runoff.report.summary",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.report' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
