"""Roof water: how much comes, how rain tables are read, and what gutters and leaders carry.

The public functions take plain numbers in SI, or a site and give its records; each is imported when
it is first used.
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
    from runoff.roof.drainage import RoofDrainage as RoofDrainage
    from runoff.roof.drainage import roof_drainage as roof_drainage
    from runoff.roof.drainage import with_line as with_line
    from runoff.roof.drainage_parts import GutterAtFlow as GutterAtFlow
    from runoff.roof.drainage_parts import LeaderAtFlow as LeaderAtFlow
    from runoff.roof.drainage_parts import OutletAtFlow as OutletAtFlow
    from runoff.roof.flows import curve_number_runoff as curve_number_runoff
    from runoff.roof.flows import design_flow as design_flow
    from runoff.roof.gutters import GUTTERS as GUTTERS
    from runoff.roof.gutters import GUTTERS_METRIC as GUTTERS_METRIC
    from runoff.roof.gutters import Gutter as Gutter
    from runoff.roof.gutters import gutter_capacity as gutter_capacity
    from runoff.roof.gutters import half_round_capacity as half_round_capacity
    from runoff.roof.gutters import outlet_capacity as outlet_capacity
    from runoff.roof.gutters import outlet_head as outlet_head
    from runoff.roof.gutters import trapezoid_capacity as trapezoid_capacity
    from runoff.roof.leader_choice import choose_leader as choose_leader
    from runoff.roof.leader_choice import leader_flow as leader_flow
    from runoff.roof.leader_choice import leader_name as leader_name
    from runoff.roof.leader_choice import rule_of_thumb_flow as rule_of_thumb_flow
    from runoff.roof.leaders import equal_area_diameter as equal_area_diameter
    from runoff.roof.leaders import leader_capacity as leader_capacity
    from runoff.roof.leaders import rectangular_leader_capacity as rectangular_leader_capacity
    from runoff.roof.links import GutterChoice as GutterChoice
    from runoff.roof.links import Link as Link
    from runoff.roof.links import WeakestLink as WeakestLink
    from runoff.roof.links import choose_gutter as choose_gutter
    from runoff.roof.links import sizes_of as sizes_of
    from runoff.roof.links import weakest_link as weakest_link
    from runoff.roof.run_takeoffs import RunTakeOff as RunTakeOff
    from runoff.roof.run_takeoffs import gutter_take_offs as gutter_take_offs
    from runoff.roof.site_catchments import Catchment as Catchment
    from runoff.roof.site_catchments import RoofBalance as RoofBalance
    from runoff.roof.site_catchments import RoofPart as RoofPart
    from runoff.roof.site_catchments import catchments_of as catchments_of
    from runoff.roof.site_catchments import roof_balance as roof_balance
    from runoff.roof.site_catchments import wind_allowance as wind_allowance
    from runoff.roof.takeoff import GutterTakeOff as GutterTakeOff
    from runoff.roof.takeoff import take_off as take_off
    from runoff.site.rain import RainTable as RainTable
    from runoff.site.rain import depth as depth
    from runoff.site.rain import intensity as intensity
    from runoff.site.rain import read_rain_table as read_rain_table

_HOME = {
    "Allowance": "runoff.roof.catchments",
    "Catchment": "runoff.roof.site_catchments",
    "GUTTERS": "runoff.roof.gutters",
    "GUTTERS_METRIC": "runoff.roof.gutters",
    "Gutter": "runoff.roof.gutters",
    "GutterAtFlow": "runoff.roof.drainage_parts",
    "GutterChoice": "runoff.roof.links",
    "GutterTakeOff": "runoff.roof.takeoff",
    "HalfRise": "runoff.roof.catchments",
    "HalfTangent": "runoff.roof.catchments",
    "HalfWall": "runoff.roof.catchments",
    "LeaderAtFlow": "runoff.roof.drainage_parts",
    "Link": "runoff.roof.links",
    "NoAllowance": "runoff.roof.catchments",
    "OutletAtFlow": "runoff.roof.drainage_parts",
    "PitchFactor": "runoff.roof.catchments",
    "RainTable": "runoff.site.rain",
    "RoofBalance": "runoff.roof.site_catchments",
    "RoofDrainage": "runoff.roof.drainage",
    "RoofPart": "runoff.roof.site_catchments",
    "RunTakeOff": "runoff.roof.run_takeoffs",
    "WeakestLink": "runoff.roof.links",
    "catchment_area": "runoff.roof.catchments",
    "catchments_of": "runoff.roof.site_catchments",
    "choose_gutter": "runoff.roof.links",
    "sizes_of": "runoff.roof.links",
    "choose_leader": "runoff.roof.leader_choice",
    "curve_number_runoff": "runoff.roof.flows",
    "depth": "runoff.site.rain",
    "design_flow": "runoff.roof.flows",
    "equal_area_diameter": "runoff.roof.leaders",
    "gutter_capacity": "runoff.roof.gutters",
    "gutter_take_offs": "runoff.roof.run_takeoffs",
    "half_round_capacity": "runoff.roof.gutters",
    "intensity": "runoff.site.rain",
    "leader_capacity": "runoff.roof.leaders",
    "leader_flow": "runoff.roof.leader_choice",
    "leader_name": "runoff.roof.leader_choice",
    "outlet_capacity": "runoff.roof.gutters",
    "outlet_head": "runoff.roof.gutters",
    "read_rain_table": "runoff.site.rain",
    "rectangular_leader_capacity": "runoff.roof.leaders",
    "roof_balance": "runoff.roof.site_catchments",
    "roof_drainage": "runoff.roof.drainage",
    "rule_of_thumb_flow": "runoff.roof.leader_choice",
    "take_off": "runoff.roof.takeoff",
    "trapezoid_capacity": "runoff.roof.gutters",
    "weakest_link": "runoff.roof.links",
    "wind_allowance": "runoff.roof.site_catchments",
    "with_line": "runoff.roof.drainage",
}
__all__ = [
    "GUTTERS",
    "GUTTERS_METRIC",
    "Allowance",
    "Catchment",
    "Gutter",
    "GutterAtFlow",
    "GutterChoice",
    "GutterTakeOff",
    "HalfRise",
    "HalfTangent",
    "HalfWall",
    "LeaderAtFlow",
    "Link",
    "NoAllowance",
    "OutletAtFlow",
    "PitchFactor",
    "RainTable",
    "RoofBalance",
    "RoofDrainage",
    "RoofPart",
    "RunTakeOff",
    "WeakestLink",
    "catchment_area",
    "catchments_of",
    "choose_gutter",
    "choose_leader",
    "curve_number_runoff",
    "depth",
    "design_flow",
    "equal_area_diameter",
    "gutter_capacity",
    "gutter_take_offs",
    "half_round_capacity",
    "intensity",
    "leader_capacity",
    "leader_flow",
    "leader_name",
    "outlet_capacity",
    "outlet_head",
    "read_rain_table",
    "rectangular_leader_capacity",
    "roof_balance",
    "roof_drainage",
    "rule_of_thumb_flow",
    "sizes_of",
    "take_off",
    "trapezoid_capacity",
    "weakest_link",
    "wind_allowance",
    "with_line",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.roof' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value
