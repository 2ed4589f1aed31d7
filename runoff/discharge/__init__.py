"""Ways to take water away: swale, extension, buried line, seepage pit, and what ends them.

Plain numbers in SI go in and come out; each public name is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.discharge.pipes import full_pipe_flow as full_pipe_flow
    from runoff.discharge.pipes import full_pipe_velocity as full_pipe_velocity
    from runoff.discharge.pipes import normal_depth_ratio as normal_depth_ratio
    from runoff.discharge.pipes import part_full as part_full
    from runoff.discharge.pipes import pipe_at_flow as pipe_at_flow
    from runoff.discharge.pipes import pipe_of as pipe_of
    from runoff.discharge.pipes import size_pipe as size_pipe

_HOME = {
    "full_pipe_flow": "pipes",
    "full_pipe_velocity": "pipes",
    "normal_depth_ratio": "pipes",
    "part_full": "pipes",
    "pipe_at_flow": "pipes",
    "pipe_of": "pipes",
    "size_pipe": "pipes",
}
__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.discharge' has no attribute {name!r}")
    value = getattr(import_module(f"runoff.discharge.{_HOME[name]}"), name)
    globals()[name] = value
    return value
