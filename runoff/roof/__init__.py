"""Roof water: how much comes, how rain tables are read, and what gutters and leaders carry.

The public functions take plain numbers in SI; each is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.roof.flows import curve_number_runoff as curve_number_runoff
    from runoff.roof.flows import design_flow as design_flow
    from runoff.roof.leaders import equal_area_diameter as equal_area_diameter
    from runoff.roof.leaders import leader_capacity as leader_capacity
    from runoff.roof.leaders import rectangular_leader_capacity as rectangular_leader_capacity
    from runoff.roof.rain import RainTable as RainTable
    from runoff.roof.rain import depth as depth
    from runoff.roof.rain import intensity as intensity
    from runoff.roof.rain import read_rain_table as read_rain_table
    from runoff.roof.takeoff import GutterTakeOff as GutterTakeOff
    from runoff.roof.takeoff import take_off as take_off

_HOME = {
    "GutterTakeOff": "runoff.roof.takeoff",
    "RainTable": "runoff.roof.rain",
    "curve_number_runoff": "runoff.roof.flows",
    "depth": "runoff.roof.rain",
    "design_flow": "runoff.roof.flows",
    "equal_area_diameter": "runoff.roof.leaders",
    "intensity": "runoff.roof.rain",
    "leader_capacity": "runoff.roof.leaders",
    "read_rain_table": "runoff.roof.rain",
    "rectangular_leader_capacity": "runoff.roof.leaders",
    "take_off": "runoff.roof.takeoff",
}
__all__ = [
    "GutterTakeOff",
    "RainTable",
    "curve_number_runoff",
    "depth",
    "design_flow",
    "equal_area_diameter",
    "intensity",
    "leader_capacity",
    "read_rain_table",
    "rectangular_leader_capacity",
    "take_off",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.roof' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value
