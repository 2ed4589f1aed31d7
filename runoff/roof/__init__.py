"""Roof water: how much comes, how rain tables are read, and what gutters and leaders carry.

The public functions take plain numbers in SI; each is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.roof.flows import design_flow as design_flow
    from runoff.roof.leaders import equal_area_diameter as equal_area_diameter
    from runoff.roof.leaders import leader_capacity as leader_capacity
    from runoff.roof.leaders import rectangular_leader_capacity as rectangular_leader_capacity

_HOME = {
    "design_flow": "runoff.roof.flows",
    "equal_area_diameter": "runoff.roof.leaders",
    "leader_capacity": "runoff.roof.leaders",
    "rectangular_leader_capacity": "runoff.roof.leaders",
}
__all__ = [
    "design_flow",
    "equal_area_diameter",
    "leader_capacity",
    "rectangular_leader_capacity",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.roof' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value
