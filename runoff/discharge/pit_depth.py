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
from runoff.quantities import Shown
from runoff.site.model import Site

Heights = TypeVar("Heights", float, NDArray[np.float64])
# The inlet's depth is foreseen with this pipe where none is chosen, nominal inches.
_USUAL_PIPE = 4


def layers_below(site: Site) -> list[tuple[str, float, float]]:
    """What a pit's bottom stays above: its name, its depth and the clearance, metres.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.rules import Rules
    >>> from runoff.site.model import Soil
    >>> layers_below(SimpleNamespace(rules=Rules(), soil=Soil(bedrock=2.0)))
    [('bedrock', 2.0, 0.9144)]
    """
    known = [
        ("groundwater", site.soil.groundwater, site.rules["pit_groundwater_clearance"]),
        ("bedrock", site.soil.bedrock, site.rules["pit_bedrock_clearance"]),
    ]
    return [(name, deep, clear) for name, deep, clear in known if deep is not None]


def deepest_m(site: Site) -> float:
    """How deep below the ground a pit's bottom may lie, metres."""
    allowed = [deep - clear for _, deep, clear in layers_below(site)]
    return min([site.rules["pit_greatest_dig"], *allowed])


def inlet_depth_m(site: Site) -> float:
    """How deep a line's invert lies at its start, metres."""
    pipe = usual_pipe(site)
    return site.rules["line_cover"] + pipe.bore_m + pipe.wall_m


def usual_pipe(site: Site) -> Pipe:
    """The pipe that the inlet's depth is foreseen with."""
    return pipe_of(
        site.pipe.nominal_in or _USUAL_PIPE, site.pipe.wall, site.rules, site.units == "m"
    )


def soil_over_inlet_m(site: Site, bore_m: float) -> float:
    """From the inlet's invert up to the lowest ground over the pit, at least."""
    return height_over_inlet_m(bore_m, site.rules) + site.rules["pit_soil_over_stone"]


def least_bottom_m(site: Site, middle: Heights, high: Heights) -> Heights:
    """Height below which a pit's bottom must not lie, of the ground at its middle and its highest.

    Groundwater and bedrock lie their depth below the ground at the middle, from which the pit's own
    depth is told and drawn: on a slope that is higher than below the lowest edge.
    """
    bottom = high - site.rules["pit_greatest_dig"]
    for _, deep, clear in layers_below(site):
        bottom = np.maximum(bottom, middle - deep + clear)
    return bottom


def refuse_no_depth(site: Site) -> None:
    """Refuse any pit where groundwater or bedrock leaves no depth for one.

    Raises
    ------
    NotPossible
        Where less than the least depth is left below a line at its least depth.
    """
    layers = layers_below(site)
    if not layers or (
        deepest_m(site) - inlet_depth_m(site) >= site.rules["pit_least_depth"] - 1e-9
    ):
        return
    name, deep, clear = min(layers, key=lambda layer: layer[1] - layer[2])
    what = "under the water table: groundwater stands" if name == "groundwater" else "bedrock lies"
    raise NotPossible(
        f"{what} {Shown.of(site).far(deep)} below the ground, and the pit's bottom must stay "
        f"{Shown.of(site).far(clear)} above it"
    )


def no_depth_left(site: Site) -> str:
    """Why a line that comes in deep leaves no depth for a pit."""
    deep = deepest_m(site) >= site.rules["pit_greatest_dig"]
    lowest = min(layers_below(site), key=lambda layer: layer[1] - layer[2], default=("",))[0]
    return (
        "the line comes in so deep that less than "
        f"{Shown.of(site).far(site.rules['pit_least_depth'])} is left "
        f"above the {'deepest that is dug' if deep else lowest}"
    )
