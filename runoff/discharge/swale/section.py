"""What a swale carries, with freeboard, whether its grass or soil bears the velocity, and its
section for a flow.

In: a section in metres, its slope, Manning's n, a flow in m3/s. Out: SI.

In: a flow in m3/s, the site's rules and soil. Out: SI.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.model import Caution, Onward
from runoff.discharge.reasons import NotPossible, TooMuchForSwale
from runoff.quantities.numbers import not_negative, positive
from runoff.rules import Rules
from runoff.site.model import Site

Cover = Literal["bluegrass", "grass mixture"]
# By cover: up to which slope, and the rule for erodible soil (SCS-TP-61). Mixtures are not for
# slopes above 10 %.
_GRASS = {
    "bluegrass": (
        (0.05, "bluegrass_velocity_to_5_percent"),
        (0.10, "bluegrass_velocity_to_10_percent"),
        (math.inf, "bluegrass_velocity_over_10_percent"),
    ),
    "grass mixture": (
        (0.05, "swale_velocity_to_5_percent"),
        (0.10, "swale_velocity_to_10_percent"),
    ),
}
_BARE = {
    "sand": "bare_velocity_sandy",
    "silt": "bare_velocity_sandy",
    "sandy loam": "bare_velocity_sandy",
    "silt loam": "bare_velocity_sandy",
    "sandy clay": "bare_velocity_sandy_clay",
    "clay": "bare_velocity_clay",
}


@dataclass(frozen=True)
class SwaleSection:
    """A trapezoid: bottom width and depth to the brim in metres, sides in run over rise.

    With a bottom width of 0 it is a triangle.
    """

    bottom_m: float
    side_run: float
    depth_m: float

    def __post_init__(self) -> None:
        not_negative(self.bottom_m, "bottom width", "m")
        not_negative(self.side_run, "run of the sides", "m/m")
        positive(self.depth_m, "depth of the swale", "m")
        if self.bottom_m == self.side_run == 0:
            raise ValueError("the swale has no width: give a bottom width or sloping sides")

    def area_m2(self, water_m: float) -> float:
        """Area of water of a depth."""
        return (self.bottom_m + self.side_run * water_m) * water_m

    def hydraulic_radius_m(self, water_m: float) -> float:
        """Area over wetted perimeter."""
        wetted = self.bottom_m + 2 * water_m * math.hypot(1, self.side_run)
        return self.area_m2(water_m) / wetted


@dataclass(frozen=True)
class SwaleFlow:
    """Water in a swale: its depth (m), flow (m3/s), velocity (m/s), and freeboard left (m)."""

    water_m: float
    flow_m3_per_s: float
    velocity_m_per_s: float
    freeboard_m: float


@dataclass(frozen=True)
class Swale:
    """A shallow graded channel from beside the downspout to where its water may go.

    `line` is (k, 2) plan metres, `stations_m`, `ground_m` and `bottom_m` (n,) along it; `flow` the
    section at the design flow; `greatest_velocity_m_per_s` what its grass bears. `path` is where
    the water runs from its end, (n, 2) plan metres, and `ends` where it goes.
    """

    line: NDArray[np.float64]
    stations_m: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    bottom_m: NDArray[np.float64]
    slope: float
    section: SwaleSection
    design_flow_m3_per_s: float
    flow: SwaleFlow
    capacity_m3_per_s: float
    greatest_velocity_m_per_s: float
    dig_m3: float
    ends: Onward
    cautions: tuple[Caution, ...] = ()
    path: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2)))
    kind: ClassVar[Literal["swale"]] = "swale"

    @property
    def deepest(self) -> int:
        """Where it is cut deepest, an index of `stations_m`."""
        return int(np.argmax(self.ground_m - self.bottom_m))

    @property
    def greatest_cut_m(self) -> float:
        """Depth of the cut there."""
        return float(self.ground_m[self.deepest] - self.bottom_m[self.deepest])

    @property
    def greatest_width_m(self) -> float:
        """Width from bank to bank there, on the ground as it is."""
        return self.section.bottom_m + 2 * self.section.side_run * max(self.greatest_cut_m, 0.0)


def swale_flow(section: SwaleSection, water_m: float, slope: float, roughness: float) -> SwaleFlow:
    """Flow of water of a depth in a swale, by Manning.

    v = (1/n) R^(2/3) S^(1/2), Q = A v.

    Parameters
    ----------
    section : SwaleSection
    water_m : float, metres, at most the section's depth
    slope : float, m/m, along the swale
    roughness : float, Manning's n, s/m^(1/3)

    Raises
    ------
    ValueError
        Where a number is not finite and above 0, or the water is deeper than the swale.

    Examples
    --------
    >>> state = swale_flow(SwaleSection(0.5, 3, 0.3), 0.2, 0.02, 0.05)
    >>> round(state.flow_m3_per_s, 4), round(state.velocity_m_per_s, 3)
    (0.1553, 0.706)
    """
    positive(water_m, "depth of the water", "m")
    positive(slope, "slope", "m/m")
    positive(roughness, "Manning's n", "s/m^(1/3)")
    if water_m > section.depth_m * (1 + 1e-12):
        raise ValueError(f"water of {water_m!r} m is deeper than the swale, {section.depth_m!r} m")
    velocity = section.hydraulic_radius_m(water_m) ** (2 / 3) * math.sqrt(slope) / roughness
    flow = section.area_m2(water_m) * velocity
    return SwaleFlow(water_m, flow, velocity, max(section.depth_m - water_m, 0.0))


def swale_capacity(
    section: SwaleSection, slope: float, roughness: float, freeboard_m: float
) -> SwaleFlow:
    """What a swale carries with a freeboard kept above the water.

    Raises
    ------
    ValueError
        Where the freeboard takes all of the depth, or a number is out of range.

    Examples
    --------
    >>> state = swale_capacity(SwaleSection(0.5, 3, 0.3), 0.02, 0.05, 0.1)
    >>> round(state.water_m, 6), round(state.flow_m3_per_s, 4)
    (0.2, 0.1553)
    """
    not_negative(freeboard_m, "freeboard", "m")
    if freeboard_m >= section.depth_m:
        raise ValueError(
            f"freeboard of {freeboard_m!r} m leaves no depth of the {section.depth_m!r} m"
        )
    return swale_flow(section, section.depth_m - freeboard_m, slope, roughness)


def swale_at_flow(
    section: SwaleSection, flow_m3_per_s: float, slope: float, roughness: float
) -> SwaleFlow:
    """Depth and velocity at which a flow runs in a swale.

    Raises
    ------
    ValueError
        Where the flow is over what the swale carries brim-full, or a number is out of range.

    Examples
    --------
    >>> round(swale_at_flow(SwaleSection(0.5, 3, 0.3), 0.1553, 0.02, 0.05).water_m, 3)
    0.2
    """
    positive(flow_m3_per_s, "flow", "m3/s")
    brim = swale_flow(section, section.depth_m, slope, roughness)
    if flow_m3_per_s > brim.flow_m3_per_s * (1 + 1e-12):
        raise ValueError(
            f"the flow of {flow_m3_per_s:.4g} m3/s is over what the swale carries brim-full, "
            f"{brim.flow_m3_per_s:.4g} m3/s"
        )
    low, high = 0.0, section.depth_m
    while high - low > 1e-12 * section.depth_m:
        middle = (low + high) / 2
        if swale_flow(section, middle, slope, roughness).flow_m3_per_s < flow_m3_per_s:
            low = middle
        else:
            high = middle
    return swale_flow(section, high, slope, roughness)


def grass_velocity(
    cover: Cover, slope: float, erodible: bool = True, rules: Rules | None = None
) -> float:
    """Greatest velocity that grass bears, m/s, by SCS-TP-61.

    Raises
    ------
    ValueError
        Where there is no figure for the grass at that slope.

    Examples
    --------
    >>> round(grass_velocity("grass mixture", 0.02) / 0.3048, 6)
    4.0
    """
    positive(slope, "slope", "m/m")
    if cover not in _GRASS:
        raise ValueError(f"cover is {cover!r}: expected {' or '.join(_GRASS)}")
    for greatest, rule in _GRASS[cover]:
        if slope <= greatest:
            return (rules or Rules())[rule if erodible else f"{rule}_resistant"]
    raise ValueError(f"no velocity is known for a {cover} at {slope:.1%}: it is for up to 10 %")


def bare_velocity(soil: str, rules: Rules | None = None) -> float:
    """Greatest velocity that bare soil bears, m/s, by the Minnesota manual.

    Raises
    ------
    ValueError
        Where there is no figure for the soil.

    Examples
    --------
    >>> round(bare_velocity("clay") / 0.3048, 6)
    2.5
    """
    if soil not in _BARE:
        raise ValueError(f"soil is {soil!r}: expected one of {', '.join(_BARE)}")
    return (rules or Rules())[_BARE[soil]]


_BARE_SOILS = {"loamy sand": "sand", "loam": "silt loam", "sandy clay loam": "sandy clay"}


def section_for(site: Site, flow: float) -> SwaleSection:
    """The section for a flow at the least grade, its depth rounded up to an inch or 10 mm."""
    rules = site.rules
    bottom, side = rules["swale_bottom_width"], rules["swale_side_run"]
    grade, n = least_grade(site), rules["roughness_grass_swale"]
    deep = SwaleSection(bottom, side, rules["swale_greatest_cut"])
    brim = swale_flow(deep, deep.depth_m, grade, n).flow_m3_per_s
    if flow > brim:
        raise NotPossible(TooMuchForSwale(deep.depth_m))
    depth = swale_at_flow(deep, flow, grade, n).water_m + rules["swale_freeboard"]
    step = 0.0254 if site.units == "ft" else 0.01
    depth = max(depth, rules["swale_least_depth"])
    return SwaleSection(bottom, side, math.ceil(depth / step - 1e-9) * step)


def fastest(
    site: Site, section: SwaleSection, flow: float, steepest: float
) -> tuple[float, float, tuple[Caution, ...]]:
    """Velocity of the flow where it is fastest, what grass bears there, and what to watch.

    Judged with the roughness of short grass, for grass that is mown low lets the water run faster;
    where the rules have it rougher than tall grass, with that of tall grass.
    """
    rules = site.rules
    n = min(rules["roughness_short_grass"], rules["roughness_grass_swale"])
    velocity = swale_at_flow(section, flow, steepest, n).velocity_m_per_s
    cover: Cover = "grass mixture" if steepest <= 0.10 else "bluegrass"
    cautions = []
    if cover == "bluegrass":
        cautions.append(Caution("bluegrass", figures=(steepest,)))
    texture = site.soil.texture or "sand"
    try:
        bare = bare_velocity(_BARE_SOILS.get(texture, texture), rules)
    except ValueError:
        bare = rules["bare_velocity_sandy"]
    if velocity > bare:
        cautions.append(Caution("sod before water"))
    return velocity, grass_velocity(cover, steepest, rules=rules), tuple(cautions)


def least_grade(site: Site) -> float:
    return min(site.rules["swale_grade"], site.rules["swale_grade_beyond"])
