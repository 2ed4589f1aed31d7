"""How large one downspout's seepage pit must be, in sizes to dig by, and what it is made of.

In: the roof's plan area, the rains of the site and the soil's design rate. Out: a pit checked by
both methods, its plan and depth rounded up to 6 in (0.1 m on metric sites); its equals of other
shapes; stone, fabric and soil (m3, m2).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace

from runoff.discharge.pipes import INCH
from runoff.discharge.pit import (
    LONGEST,
    Pit,
    PitCheck,
    box_pit,
    chamber_pit,
    check_by_durations,
    check_whole_storm,
    cylinder_pit,
    trench_pit,
)
from runoff.discharge.ways import NotPossible, SeepagePit, WaterToMove
from runoff.rules import Rules
from runoff.site.model import Site

# A size that lies this much of a step above a whole one is that one, by rounding.
_ROUNDING = 1e-6


class TooLarge(NotPossible):
    """No pit of any lot's size holds the water, at the depth that there is."""

    def __init__(self) -> None:
        super().__init__("the roof brings more water than any pit of a lot's size holds")


@dataclass(frozen=True)
class PitNeeds:
    """What a pit must cope with.

    `catchment_m2` is roof on the plan times its runoff coefficient: the pit then gets the water
    that the storm on the lot lets go at the downspout. `rain` are the (seconds, metres) of a
    table, empty where none is given; `storm_m` the whole storm; `step_m` the step of its sizes.
    """

    catchment_m2: float
    rain: tuple[tuple[float, float], ...]
    storm_m: float
    rate_m_per_s: float
    step_m: float
    rules: Rules
    _kept: dict[Pit, PitCheck] = field(default_factory=dict, init=False, repr=False, compare=False)

    def by_durations(self, pit: Pit) -> PitCheck | None:
        """The pit by the rains of the table; None where there is no table."""
        if not self.rain:
            return None
        return check_by_durations(self.catchment_m2, self.rain, pit, self.rate_m_per_s, self.rules)

    def by_whole_storm(self, pit: Pit) -> PitCheck:
        """The pit by the whole storm."""
        return check_whole_storm(
            self.catchment_m2, self.storm_m, pit, self.rate_m_per_s, self.rules
        )

    def governing(self, pit: Pit) -> PitCheck:
        """The check that the pit is built by: of the table where one is given."""
        return self.by_durations(pit) or self.by_whole_storm(pit)

    def sized(self, shape: Pit) -> PitCheck:
        """The least pit of a shape and depth, in sizes to dig by; worked out once, then kept.

        Raises
        ------
        TooLarge
        """
        if shape not in self._kept:
            self._kept[shape] = _rounded(self, shape)
        return self._kept[shape]


def needs_of(site: Site, water: WaterToMove, rate_m_per_s: float) -> PitNeeds:
    """What a pit for a downspout must cope with.

    The allowance for wind-blown rain belongs to a few minutes' intensity and is left out of a
    storm's volume, as in the ponding on the lot.

    Raises
    ------
    NotPossible
        Where the downspout brings no water.
    """
    catchment = water.plan_area_m2 * site.rules["runoff_coefficient_roof"]
    if catchment <= 0:
        raise NotPossible(f"the downspout '{water.downspout}' carries no roof: nothing to store")
    return PitNeeds(
        catchment,
        site.rains.pit.durations,
        site.rains.pit.depth,
        rate_m_per_s,
        6 * INCH if site.units == "ft" else 0.1,
        site.rules,
    )


def box_of_depth(needs: PitNeeds, depth_m: float) -> PitCheck:
    """The least square box of at most this depth, in sizes to dig by.

    Examples
    --------
    500 sq ft of roof with 4 in of rain, 3 ft deep: 158.3 / (3 x 0.4) = 131.9 sq ft, 11.49 ft
    square, so 11 ft 6 in; and at that plan 2.99 ft deep, so 3 ft.

    >>> foot = 0.3048
    >>> needs = PitNeeds(475 * foot**2, (), foot / 3, 1e-5, foot / 2, Rules())
    >>> found = box_of_depth(needs, 3 * foot)
    >>> round(found.pit.length_m / foot, 6), round(found.pit.depth_m / foot, 6)
    (11.5, 3.0)
    """
    return needs.sized(box_pit(1, 1, depth_m, needs.rules["stone_voids"]))


def trench_of_depth(needs: PitNeeds, depth_m: float) -> PitCheck:
    """The shortest trench of at most this depth and the rule's width, in sizes to dig by."""
    width = _up(needs.rules["pit_trench_width"], needs)
    return needs.sized(trench_pit(1, width, depth_m, needs.rules["stone_voids"]))


def pit_alternatives(site: Site, water: WaterToMove, pit: SeepagePit) -> tuple[PitCheck, ...]:
    """Pits of the other shapes that do the same at the same greatest depth.

    Parameters
    ----------
    site : Site
    water : WaterToMove
    pit : SeepagePit
        The one that was placed; the others are sized, not placed.

    Returns
    -------
    tuple of PitCheck
        Of box, trench, cylinder and chamber those that the pit is not and that can hold its water.
        The chamber's voids are the rule ``chamber_voids`` until its maker's figure replaces it.
    """
    needs = needs_of(site, water, pit.rate.rate_m_per_s)
    rules, built = site.rules, pit.governing.pit
    stone, width = rules["stone_voids"], _up(rules["pit_trench_width"], needs)
    shapes = (
        box_pit(1, 1, built.depth_m, stone),
        trench_pit(1, width, built.depth_m, stone),
        cylinder_pit(1, built.depth_m, stone),
        chamber_pit(1, width, built.depth_m, rules["chamber_voids"]),
    )
    found = []
    for shape in shapes:
        if shape.kind != built.kind:
            with suppress(TooLarge):
                found.append(needs.sized(shape))
    return tuple(found)


def _rounded(needs: PitNeeds, shape: Pit) -> PitCheck:
    """The least plan at a shape's depth, in whole steps; then no deeper than that plan asks for."""
    own_width = shape.kind in ("trench", "chamber")

    def of_length(length_m: float) -> Pit:
        width = shape.width_m if own_width else length_m
        return replace(shape, length_m=max(length_m, width), width_m=width)

    plan = _least(needs, of_length)
    if plan is None:
        raise TooLarge
    deep_enough = _least(needs, lambda depth_m: replace(plan, depth_m=depth_m))
    depth = shape.depth_m if deep_enough is None else min(deep_enough.depth_m, shape.depth_m)
    return needs.governing(replace(plan, depth_m=depth))


def _least(needs: PitNeeds, of_size: Callable[[float], Pit]) -> Pit | None:
    """The pit of the fewest whole steps that does; None where none of a lot's size does."""

    def does(steps: int) -> bool:
        return needs.governing(of_size((steps + _ROUNDING) * needs.step_m)).sufficient

    low, high = 0, 1
    while not does(high):
        low, high = high, 2 * high
        if high * needs.step_m > LONGEST:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if does(middle) else (middle, high)
    return of_size(whole_steps(high, needs))


def whole_steps(steps: int, needs: PitNeeds) -> float:
    """So many steps, metres; free of rounding, so that equal sizes are equal.

    Examples
    --------
    >>> whole_steps(6, PitNeeds(50.0, (), 0.1, 1e-5, 0.1, Rules()))
    0.6
    """
    return round(steps * needs.step_m, 9)


def steps_within(length_m: float, needs: PitNeeds) -> int:
    """How many whole steps a length holds.

    Examples
    --------
    >>> steps_within(0.69, PitNeeds(50.0, (), 0.1, 1e-5, 0.1, Rules()))
    6
    """
    return math.floor(length_m / needs.step_m + _ROUNDING)


def _up(length_m: float, needs: PitNeeds) -> float:
    return whole_steps(math.ceil(length_m / needs.step_m - _ROUNDING), needs)


def stone_height_m(pit: SeepagePit, rules: Rules) -> float:
    """From the pit's bottom to the top of its stone, a little over the pipe that comes in."""
    return pit.governing.pit.depth_m + height_over_inlet_m(pit.line.profile.pipe.bore_m, rules)


def height_over_inlet_m(bore_m: float, rules: Rules) -> float:
    """From the inlet's invert to the top of the stone."""
    return bore_m + rules["pit_stone_over_inlet"]


def stone_m3(pit: SeepagePit, rules: Rules) -> float:
    """Clean stone, up to its top over the inlet; what lies above the invert stores nothing.

    Around chambers it is what they leave of the pit: chambers have no stone in them, so the stone's
    own voids and the chamber's v give (1 - v) / (1 - voids of stone) of the volume.
    """
    body = pit.governing.pit
    volume = body.plan_area_m2 * stone_height_m(pit, rules)
    if body.kind != "chamber":
        return volume
    return volume * min((1 - body.voids) / (1 - rules["stone_voids"]), 1.0)


def fabric_m2(pit: SeepagePit, rules: Rules) -> float:
    """Filter fabric on the sides and the top of the stone, with its laps; none on the bottom."""
    body = pit.governing.pit
    wrapped = body.perimeter_m * stone_height_m(pit, rules) + body.plan_area_m2
    return wrapped * (1 + rules["pit_fabric_lap"])


def dig_m3(pit: SeepagePit) -> float:
    """Soil dug for the pit, as it lies in the ground."""
    return pit.governing.pit.plan_area_m2 * pit.dig_depth_m


def spoil_m3(pit: SeepagePit, rules: Rules) -> float:
    """Loose soil left over once the ground over the stone is filled again."""
    filled = pit.governing.pit.plan_area_m2 * stone_height_m(pit, rules)
    return min(filled, dig_m3(pit)) * rules["soil_bulking"]
