"""Roof water: how much comes, how rain tables are read, and what gutters and leaders carry.

The public functions take plain numbers in SI; each is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.roof.catchments import Allowance as Allowance
    from runoff.roof.catchments import HalfRise as HalfRise
    from runoff.roof.catchments import HalfTangent as HalfTangent
    from runoff.roof.catchments import HalfWall as HalfWall
    from runoff.roof.catchments import NoAllowance as NoAllowance
    from runoff.roof.catchments import PitchFactor as PitchFactor
    from runoff.roof.catchments import catchment_area as catchment_area
    from runoff.roof.flows import curve_number_runoff as curve_number_runoff
    from runoff.roof.flows import design_flow as design_flow
    from runoff.roof.gutters import GUTTERS as GUTTERS
    from runoff.roof.gutters import Gutter as Gutter
    from runoff.roof.gutters import gutter_capacity as gutter_capacity
    from runoff.roof.gutters import half_round_capacity as half_round_capacity
    from runoff.roof.gutters import outlet_capacity as outlet_capacity
    from runoff.roof.gutters import trapezoid_capacity as trapezoid_capacity
    from runoff.roof.leaders import equal_area_diameter as equal_area_diameter
    from runoff.roof.leaders import leader_capacity as leader_capacity
    from runoff.roof.leaders import rectangular_leader_capacity as rectangular_leader_capacity
    from runoff.roof.links import GutterChoice as GutterChoice
    from runoff.roof.links import Link as Link
    from runoff.roof.links import WeakestLink as WeakestLink
    from runoff.roof.links import choose_gutter as choose_gutter
    from runoff.roof.links import weakest_link as weakest_link
    from runoff.roof.takeoff import GutterTakeOff as GutterTakeOff
    from runoff.roof.takeoff import take_off as take_off
    from runoff.site.rain import RainTable as RainTable
    from runoff.site.rain import depth as depth
    from runoff.site.rain import intensity as intensity
    from runoff.site.rain import read_rain_table as read_rain_table

_HOME = {
    "GUTTERS": "runoff.roof.gutters",
    "Allowance": "runoff.roof.catchments",
    "Gutter": "runoff.roof.gutters",
    "GutterChoice": "runoff.roof.links",
    "GutterTakeOff": "runoff.roof.takeoff",
    "HalfRise": "runoff.roof.catchments",
    "HalfTangent": "runoff.roof.catchments",
    "HalfWall": "runoff.roof.catchments",
    "Link": "runoff.roof.links",
    "NoAllowance": "runoff.roof.catchments",
    "PitchFactor": "runoff.roof.catchments",
    "RainTable": "runoff.site.rain",
    "WeakestLink": "runoff.roof.links",
    "catchment_area": "runoff.roof.catchments",
    "choose_gutter": "runoff.roof.links",
    "curve_number_runoff": "runoff.roof.flows",
    "depth": "runoff.site.rain",
    "design_flow": "runoff.roof.flows",
    "equal_area_diameter": "runoff.roof.leaders",
    "gutter_capacity": "runoff.roof.gutters",
    "half_round_capacity": "runoff.roof.gutters",
    "intensity": "runoff.site.rain",
    "leader_capacity": "runoff.roof.leaders",
    "outlet_capacity": "runoff.roof.gutters",
    "read_rain_table": "runoff.site.rain",
    "rectangular_leader_capacity": "runoff.roof.leaders",
    "take_off": "runoff.roof.takeoff",
    "trapezoid_capacity": "runoff.roof.gutters",
    "weakest_link": "runoff.roof.links",
}
__all__ = [
    "GUTTERS",
    "Allowance",
    "Gutter",
    "GutterChoice",
    "GutterTakeOff",
    "HalfRise",
    "HalfTangent",
    "HalfWall",
    "Link",
    "NoAllowance",
    "PitchFactor",
    "RainTable",
    "WeakestLink",
    "catchment_area",
    "choose_gutter",
    "curve_number_runoff",
    "depth",
    "design_flow",
    "equal_area_diameter",
    "gutter_capacity",
    "half_round_capacity",
    "intensity",
    "leader_capacity",
    "outlet_capacity",
    "read_rain_table",
    "rectangular_leader_capacity",
    "take_off",
    "trapezoid_capacity",
    "weakest_link",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.roof' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value
