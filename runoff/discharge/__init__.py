"""Ways to take water away: swale, extension, buried line, seepage pit, and what ends them.

Plain numbers in SI go in and come out; each public name is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.discharge.digging import DigRow as DigRow
    from runoff.discharge.digging import dig_table as dig_table
    from runoff.discharge.digging import instrument_height as instrument_height
    from runoff.discharge.outlet import Apron as Apron
    from runoff.discharge.outlet import riprap_size as riprap_size
    from runoff.discharge.outlet import stone_apron as stone_apron
    from runoff.discharge.pipes import PartFull as PartFull
    from runoff.discharge.pipes import Pipe as Pipe
    from runoff.discharge.pipes import PipeAtFlow as PipeAtFlow
    from runoff.discharge.pipes import full_pipe_flow as full_pipe_flow
    from runoff.discharge.pipes import full_pipe_velocity as full_pipe_velocity
    from runoff.discharge.pipes import normal_depth_ratio as normal_depth_ratio
    from runoff.discharge.pipes import part_full as part_full
    from runoff.discharge.pipes import pipe_at_flow as pipe_at_flow
    from runoff.discharge.pipes import pipe_of as pipe_of
    from runoff.discharge.pipes import size_pipe as size_pipe
    from runoff.discharge.pit import Pit as Pit
    from runoff.discharge.pit import PitCheck as PitCheck
    from runoff.discharge.pit import box_pit as box_pit
    from runoff.discharge.pit import chamber_pit as chamber_pit
    from runoff.discharge.pit import check_by_durations as check_by_durations
    from runoff.discharge.pit import check_whole_storm as check_whole_storm
    from runoff.discharge.pit import cylinder_pit as cylinder_pit
    from runoff.discharge.pit import least_depth as least_depth
    from runoff.discharge.pit import least_plan as least_plan
    from runoff.discharge.pit import trench_pit as trench_pit
    from runoff.discharge.profile import LineLimits as LineLimits
    from runoff.discharge.profile import LineProfile as LineProfile
    from runoff.discharge.profile import design_profile as design_profile
    from runoff.discharge.profile import line_limits as line_limits
    from runoff.discharge.profile import trench_width as trench_width
    from runoff.discharge.soil import DesignRate as DesignRate
    from runoff.discharge.soil import SoilRate as SoilRate
    from runoff.discharge.soil import design_rate as design_rate
    from runoff.discharge.soil import percolation_soil as percolation_soil
    from runoff.discharge.soil import texture_soil as texture_soil
    from runoff.discharge.soil import trial_pit_rate as trial_pit_rate
    from runoff.discharge.soil import trial_pit_soil as trial_pit_soil
    from runoff.discharge.swale import SwaleFlow as SwaleFlow
    from runoff.discharge.swale import SwaleSection as SwaleSection
    from runoff.discharge.swale import bare_velocity as bare_velocity
    from runoff.discharge.swale import grass_velocity as grass_velocity
    from runoff.discharge.swale import swale_at_flow as swale_at_flow
    from runoff.discharge.swale import swale_capacity as swale_capacity
    from runoff.discharge.swale import swale_flow as swale_flow

_HOME = {
    "Apron": "outlet",
    "DesignRate": "soil",
    "DigRow": "digging",
    "LineLimits": "profile",
    "LineProfile": "profile",
    "PartFull": "pipes",
    "Pipe": "pipes",
    "PipeAtFlow": "pipes",
    "Pit": "pit",
    "PitCheck": "pit",
    "SoilRate": "soil",
    "SwaleFlow": "swale",
    "SwaleSection": "swale",
    "bare_velocity": "swale",
    "box_pit": "pit",
    "chamber_pit": "pit",
    "check_by_durations": "pit",
    "check_whole_storm": "pit",
    "cylinder_pit": "pit",
    "design_profile": "profile",
    "design_rate": "soil",
    "dig_table": "digging",
    "full_pipe_flow": "pipes",
    "full_pipe_velocity": "pipes",
    "grass_velocity": "swale",
    "instrument_height": "digging",
    "least_depth": "pit",
    "least_plan": "pit",
    "line_limits": "profile",
    "normal_depth_ratio": "pipes",
    "part_full": "pipes",
    "percolation_soil": "soil",
    "pipe_at_flow": "pipes",
    "pipe_of": "pipes",
    "riprap_size": "outlet",
    "size_pipe": "pipes",
    "stone_apron": "outlet",
    "swale_at_flow": "swale",
    "swale_capacity": "swale",
    "swale_flow": "swale",
    "texture_soil": "soil",
    "trench_pit": "pit",
    "trench_width": "profile",
    "trial_pit_rate": "soil",
    "trial_pit_soil": "soil",
}
__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'runoff.discharge' has no attribute {name!r}")
    value = getattr(import_module(f"runoff.discharge.{_HOME[name]}"), name)
    globals()[name] = value
    return value
