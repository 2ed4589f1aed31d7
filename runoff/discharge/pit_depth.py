"""How deep a seepage pit may be: between the line that feeds it, the groundwater and the digging.

In: a site, and heights of the ground over a pit (metres). Out: heights and depths in metres, and
the reasons where too little depth is left.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.pipes import Pipe, pipe_of
from runoff.discharge.pit_size import height_over_inlet_m
from runoff.discharge.ways import NotPossible
from runoff.quantities import format_length
from runoff.site.model import Site

Heights = TypeVar("Heights", float, NDArray[np.float64])
# The inlet's depth is foreseen with this pipe where none is chosen, nominal inches.
_USUAL_PIPE = 4


def deepest_m(site: Site) -> float:
    """How deep below the ground a pit's bottom may lie, metres."""
    rules, water = site.rules, site.soil.groundwater
    if water is None:
        return rules["pit_greatest_dig"]
    return min(rules["pit_greatest_dig"], water - rules["pit_groundwater_clearance"])


def inlet_depth_m(site: Site) -> float:
    """How deep a line's invert lies at its start, metres."""
    pipe = usual_pipe(site)
    return site.rules["line_cover"] + pipe.bore_m + pipe.wall_m


def usual_pipe(site: Site) -> Pipe:
    """The pipe that the inlet's depth is foreseen with."""
    return pipe_of(site.pipe.nominal_in or _USUAL_PIPE, site.pipe.wall, site.rules)


def soil_over_inlet_m(site: Site, bore_m: float) -> float:
    """From the inlet's invert up to the lowest ground over the pit, at least."""
    return height_over_inlet_m(bore_m, site.rules) + site.rules["pit_soil_over_stone"]


def least_bottom_m(site: Site, low: Heights, high: Heights) -> Heights:
    """Height below which a pit's bottom must not lie, of its lowest and highest ground."""
    dug = high - site.rules["pit_greatest_dig"]
    if site.soil.groundwater is None:
        return dug
    clearance = site.rules["pit_groundwater_clearance"]
    return np.maximum(dug, low - site.soil.groundwater + clearance)


def refuse_high_groundwater(site: Site) -> None:
    """Refuse any pit where the groundwater leaves no depth for one.

    Raises
    ------
    NotPossible
        Where less than the least depth is left below a line at its least depth.
    """
    if site.soil.groundwater is None:
        return
    if deepest_m(site) - inlet_depth_m(site) >= site.rules["pit_least_depth"] - 1e-9:
        return
    raise NotPossible(
        f"under the water table: groundwater stands {_length(site, site.soil.groundwater)} below "
        "the ground, and the pit's bottom must stay "
        f"{_length(site, site.rules['pit_groundwater_clearance'])} above it"
    )


def no_depth_left(site: Site) -> str:
    """Why a line that comes in deep leaves no depth for a pit."""
    deep = site.soil.groundwater is None or deepest_m(site) >= site.rules["pit_greatest_dig"]
    return (
        "the line comes in so deep that less than "
        f"{_length(site, site.rules['pit_least_depth'])} is left "
        f"above the {'deepest that is dug' if deep else 'groundwater'}"
    )


def _length(site: Site, metres: float) -> str:
    return format_length(metres, "us" if site.units == "ft" else "metric", 1)
