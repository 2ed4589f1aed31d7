"""What was found and planned, shown: maps, figures, tables, and both in words.

Everything here is drawn and printed from the findings, or the plan, alone. The public names load
when they are first used, since drawing brings in matplotlib.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.report.map import draw_map
    from runoff.report.plan_files import write_plan
    from runoff.report.plan_summary import plan_summary, plan_text
    from runoff.report.printed.report import write_report
    from runoff.report.summary import summary, summary_text

__all__ = [
    "draw_map",
    "plan_summary",
    "plan_text",
    "summary",
    "summary_text",
    "write_plan",
    "write_report",
]

_HOME = {
    "draw_map": "runoff.report.map",
    "plan_summary": "runoff.report.plan_summary",
    "plan_text": "runoff.report.plan_summary",
    "write_plan": "runoff.report.plan_files",
    "write_report": "runoff.report.printed.report",
    "summary": "runoff.report.summary",
    "summary_text": "runoff.report.summary",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.report' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
