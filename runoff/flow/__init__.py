"""Where water goes: filling, directions, depressions, ponding and paths.

The public functions take plain arrays; each is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.flow.dinf import d_infinity_directions as d_infinity_directions
    from runoff.flow.dinf import d_infinity_receivers as d_infinity_receivers
    from runoff.flow.drainage import fill_depressions as fill_depressions
    from runoff.flow.drainage import flow_accumulation as flow_accumulation
    from runoff.flow.paths import trace as trace
    from runoff.flow.pouring import ponding as ponding

_HOME = {
    "d_infinity_directions": "runoff.flow.dinf",
    "d_infinity_receivers": "runoff.flow.dinf",
    "fill_depressions": "runoff.flow.drainage",
    "flow_accumulation": "runoff.flow.drainage",
    "ponding": "runoff.flow.pouring",
    "trace": "runoff.flow.paths",
}
__all__ = [
    "d_infinity_directions",
    "d_infinity_receivers",
    "fill_depressions",
    "flow_accumulation",
    "ponding",
    "trace",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.flow' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value
