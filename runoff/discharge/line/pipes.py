"""What a round pipe carries: full and part full by Manning, its size, its velocity.

In: flow in m3/s, slope in m/m, diameter in metres, Manning's n. Out: the same units. The wall
matters more than the size suggests: a corrugated inside halves what a smooth one carries.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from runoff.quantities.numbers import not_negative, positive
from runoff.rules import Rules

Wall = Literal["smooth", "corrugated", "unknown"]
INCH = 0.0254
# Nominal size: bore and outside diameter of schedule 40 plastic pipe, inches. The bores of 3 and
# 4 in are published beside the sizing table they meet; the rest is ASTM D1785 from memory.
_SCHEDULE_40 = {3: (3.068, 3.500), 4: (4.026, 4.500), 6: (6.065, 6.625), 8: (7.981, 8.625)}
# Corrugated pipe is named by its bore; its outside from memory of AASHTO M252 pipe, inches.
_CORRUGATED = {3: (3.0, 3.6), 4: (4.0, 4.6), 6: (6.0, 6.9), 8: (8.0, 9.5)}
SIZES_IN = tuple(_SCHEDULE_40)
# Metric pipe in the place of each, named by its outside: bore and outside, mm, smooth (EN 1401,
# SN 8) and corrugated (EN 13476, twin wall), both from memory.
_METRIC_SMOOTH = {3: (69.0, 75.0), 4: (103.6, 110.0), 6: (150.6, 160.0), 8: (188.2, 200.0)}
_METRIC_CORRUGATED = {3: (63.0, 75.0), 4: (94.0, 110.0), 6: (137.0, 160.0), 8: (171.0, 200.0)}
_ROUGHNESS = {
    "smooth": "roughness_pvc",
    "corrugated": "roughness_corrugated_plastic",
    "unknown": "roughness_corrugated_plastic",
}


@dataclass(frozen=True)
class PartFull:
    """A circle filled to a depth, each quantity as a ratio to the full circle's.

    Manning's n is taken as the same at every depth.
    """

    depth_ratio: float
    area_ratio: float
    hydraulic_radius_ratio: float
    velocity_ratio: float
    flow_ratio: float


@dataclass(frozen=True)
class Pipe:
    """A pipe as sold: nominal size in inches, wall, bore and outside in metres, Manning's n.

    A `metric` pipe is the one sold in the place of that nominal size, named by its outside.
    """

    nominal_in: int
    wall: Wall
    bore_m: float
    outside_m: float
    roughness: float
    metric: bool = False

    @property
    def size(self) -> str:
        """Its size as it is sold: ``4 in``, or ``110 mm``."""
        return size_words(self.nominal_in, self.metric)

    @property
    def wall_m(self) -> float:
        """Thickness of the wall, metres."""
        return (self.outside_m - self.bore_m) / 2


def size_words(nominal_in: int, metric: bool) -> str:
    """A size of pipe as it is sold.

    Examples
    --------
    >>> [size_words(size, metric=True) for size in SIZES_IN], size_words(4, metric=False)
    (['75 mm', '110 mm', '160 mm', '200 mm'], '4 in')
    """
    return f"{_METRIC_SMOOTH[nominal_in][1]:.0f} mm" if metric else f"{nominal_in} in"


@dataclass(frozen=True)
class PipeAtFlow:
    """A pipe at a slope (m/m) with a flow in it.

    `flow_m3_per_s` is what runs, `full_flow_m3_per_s` what the full pipe carries; `depth_ratio`
    is the depth of the water over the bore; `self_cleaning` says whether `velocity_m_per_s`
    reaches `least_velocity_m_per_s` at this flow.
    """

    pipe: Pipe
    slope: float
    flow_m3_per_s: float
    full_flow_m3_per_s: float
    depth_ratio: float
    velocity_m_per_s: float
    least_velocity_m_per_s: float

    @property
    def self_cleaning(self) -> bool:
        """Whether the water moves fast enough at this flow to keep the line clean."""
        return self.velocity_m_per_s >= self.least_velocity_m_per_s


def full_pipe_velocity(diameter_m: float, slope: float, roughness: float) -> float:
    """Velocity in a round pipe that runs just full, by Manning.

    v = (1/n) (D/4)^(2/3) S^(1/2), in m/s.

    Parameters
    ----------
    diameter_m : float, metres, the bore
    slope : float, m/m
    roughness : float, Manning's n, s/m^(1/3)

    Raises
    ------
    ValueError
        Where one of them is not a finite number above 0.

    Examples
    --------
    >>> round(full_pipe_velocity(0.1, 0.01, 0.01), 3)
    0.855
    """
    positive(diameter_m, "diameter", "m")
    positive(slope, "slope", "m/m")
    positive(roughness, "Manning's n", "s/m^(1/3)")
    return (diameter_m / 4) ** (2 / 3) * math.sqrt(slope) / roughness


def full_pipe_flow(diameter_m: float, slope: float, roughness: float) -> float:
    """Flow that a round pipe carries when it runs just full, by Manning, m3/s.

    Q = A v with A = pi D^2 / 4 and v of `full_pipe_velocity`. It is what the pipe is counted on
    for: the 7 % more that a circle carries at 0.94 of its depth does not last in a real pipe.

    Parameters
    ----------
    diameter_m : float, metres, the bore
    slope : float, m/m
    roughness : float, Manning's n, s/m^(1/3)

    Raises
    ------
    ValueError
        Where one of them is not a finite number above 0.

    Examples
    --------
    >>> round(full_pipe_flow(4.026 * 0.0254, 0.01, 0.010) * 1000, 2)  # liters per second
    7.13
    """
    velocity = full_pipe_velocity(diameter_m, slope, roughness)
    return math.pi / 4 * diameter_m**2 * velocity


def part_full(depth_ratio: float) -> PartFull:
    """Area, hydraulic radius, velocity and flow of a part-full circle, exact, n constant.

    With theta = 2 acos(1 - 2 d/D): A/Afull = (theta - sin theta) / 2 pi, R/Rfull = 1 - sin theta /
    theta, V/Vfull = (R/Rfull)^(2/3), Q/Qfull the product of area and velocity.

    Parameters
    ----------
    depth_ratio : float, depth of the water over the diameter, from 0 to 1

    Raises
    ------
    ValueError
        Where the ratio is not from 0 to 1.

    Examples
    --------
    >>> half = part_full(0.5)
    >>> round(half.area_ratio, 6), round(half.velocity_ratio, 6), round(half.flow_ratio, 6)
    (0.5, 1.0, 0.5)
    """
    if not 0 <= depth_ratio <= 1:
        raise ValueError(f"depth ratio is {depth_ratio!r}: expected from 0 (empty) to 1 (full)")
    if depth_ratio == 0:
        return PartFull(0.0, 0.0, 0.0, 0.0, 0.0)
    theta = 2 * math.acos(1 - 2 * depth_ratio)
    area = (theta - math.sin(theta)) / (2 * math.pi)
    # Nearly empty, the differences of theta and its sine cancel to nothing, or below.
    radius = max(1 - math.sin(theta) / theta, 0.0)
    velocity = radius ** (2 / 3)
    area = max(area, 0.0)
    return PartFull(float(depth_ratio), area, radius, velocity, area * velocity)


def normal_depth_ratio(
    flow_m3_per_s: float, diameter_m: float, slope: float, roughness: float
) -> float:
    """Depth at which a flow runs in a pipe, over the diameter; the lower of the two roots.

    Parameters
    ----------
    flow_m3_per_s : float, m3/s
    diameter_m, slope, roughness : float
        As `full_pipe_flow` takes them.

    Raises
    ------
    ValueError
        Where the flow is over the full pipe's capacity, or a number is out of range.

    Examples
    --------
    >>> full = full_pipe_flow(0.1, 0.01, 0.01)
    >>> round(normal_depth_ratio(full / 2, 0.1, 0.01, 0.01), 6)
    0.5
    """
    not_negative(flow_m3_per_s, "flow", "m3/s")
    full = full_pipe_flow(diameter_m, slope, roughness)
    if flow_m3_per_s > full * (1 + 1e-12):
        raise ValueError(
            f"the flow of {flow_m3_per_s:.4g} m3/s is over what the pipe carries full: "
            f"{full:.4g} m3/s; take a larger pipe, a steeper slope or a smoother wall"
        )
    low, high = 0.0, 0.9  # flow rises all the way to a depth of 0.938
    while high - low > 1e-12:
        middle = (low + high) / 2
        if part_full(middle).flow_ratio < flow_m3_per_s / full:
            low = middle
        else:
            high = middle
    return high if flow_m3_per_s else 0.0


def pipe_of(nominal_in: int, wall: Wall, rules: Rules | None = None, metric: bool = False) -> Pipe:
    """The pipe of a nominal size (3, 4, 6 or 8 in) and wall, or the metric one in its place.

    Smooth pipe is taken with schedule 40 bores, corrugated pipe with its nominal bore. A wall not
    known takes the corrugated pipe's roughness and bore, the lesser of the two in each size but
    8 in, where its nominal bore is 0.2 % over schedule 40's.

    Raises
    ------
    ValueError
        Where there is no such size or wall.

    Examples
    --------
    >>> pipe = pipe_of(4, "unknown")
    >>> round(pipe.bore_m, 4), pipe.roughness
    (0.1016, 0.022)
    >>> pipe = pipe_of(4, "smooth", metric=True)
    >>> pipe.size, round(pipe.bore_m, 4)
    ('110 mm', 0.1036)
    """
    if wall not in get_args(Wall):
        raise ValueError(f"wall is {wall!r}: expected {', '.join(get_args(Wall))}")
    if nominal_in not in SIZES_IN:
        raise ValueError(f"nominal size is {nominal_in!r} in: expected one of {SIZES_IN}")
    unit = 0.001 if metric else INCH
    if wall == "smooth":
        table = _METRIC_SMOOTH if metric else _SCHEDULE_40
    else:
        table = _METRIC_CORRUGATED if metric else _CORRUGATED
    bore, outside = table[nominal_in]
    roughness = (rules or Rules())[_ROUGHNESS[wall]]
    return Pipe(nominal_in, wall, bore * unit, outside * unit, roughness, metric)


def pipe_at_flow(
    pipe: Pipe, slope: float, flow_m3_per_s: float, rules: Rules | None = None
) -> PipeAtFlow:
    """Depth and velocity of a flow in a pipe, and whether it keeps the line clean.

    Parameters
    ----------
    pipe : Pipe
    slope : float, m/m
    flow_m3_per_s : float, m3/s
    rules : Rules, whose ``self_cleaning_velocity`` is the limit

    Raises
    ------
    ValueError
        Where the flow is over the full pipe's capacity, or a number is out of range.

    Examples
    --------
    >>> state = pipe_at_flow(pipe_of(4, "corrugated"), 0.01, 0.002)
    >>> round(state.depth_ratio, 2), state.self_cleaning
    (0.57, False)
    """
    ratio = normal_depth_ratio(flow_m3_per_s, pipe.bore_m, slope, pipe.roughness)
    full_velocity = full_pipe_velocity(pipe.bore_m, slope, pipe.roughness)
    return PipeAtFlow(
        pipe,
        slope,
        float(flow_m3_per_s),
        full_pipe_flow(pipe.bore_m, slope, pipe.roughness),
        ratio,
        full_velocity * part_full(ratio).velocity_ratio,
        (rules or Rules())["self_cleaning_velocity"],
    )


def size_pipe(
    flow_m3_per_s: float,
    slope: float,
    wall: Wall,
    rules: Rules | None = None,
    metric: bool = False,
) -> PipeAtFlow:
    """The smallest of 3, 4, 6 and 8 in that carries a flow without running over full.

    Raises
    ------
    ValueError
        Where not even 8 in carries it, or a number is out of range.

    Examples
    --------
    >>> size_pipe(0.006, 0.01, "smooth").pipe.nominal_in
    4
    >>> size_pipe(0.006, 0.01, "unknown").pipe.nominal_in
    6
    """
    positive(flow_m3_per_s, "flow", "m3/s")
    for size in SIZES_IN:
        pipe = pipe_of(size, wall, rules, metric)
        if full_pipe_flow(pipe.bore_m, slope, pipe.roughness) >= flow_m3_per_s:
            return pipe_at_flow(pipe, slope, flow_m3_per_s, rules)
    raise ValueError(
        f"the flow of {flow_m3_per_s:.4g} m3/s is over what an {SIZES_IN[-1]} in pipe with a "
        f"{wall} wall carries at {slope:.2%}: split the flow or make the line steeper"
    )
