"""How large a seepage pit (dry well) is: what it must hold, what it holds, how fast it empties,
in sizes to dig by.

In: a roof's effective catchment (m2, area x runoff coefficient), rain (seconds and metres), a pit,
and the soil's rate after the factor of safety (m/s). The pit's depth counts from the inlet's
invert down to its bottom: what lies above the invert holds nothing.

In: the roof's plan area, the rains of the site and the soil's design rate. Out: a pit checked by
both methods, its plan and depth rounded up to 6 in (0.1 m on metric sites); its equals of other
shapes; stone, fabric and soil (m3, m2).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import ClassVar, Literal

from runoff.discharge.line.pipes import INCH
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import Caution, Failure, WaterToMove
from runoff.discharge.pit.soil import DesignRate
from runoff.discharge.reasons import Clearance, NothingToStore, NotPossible, Simply
from runoff.quantities.numbers import not_negative, positive, share
from runoff.rules import Rules
from runoff.site.model import Site

Kind = Literal["box", "trench", "cylinder", "chamber"]
Method = Literal["BRE Digest 365", "whole storm"]
PitWarning = Literal["longest rain governs"]
LONGEST = 1000.0  # metres; no pit of a lot comes near


@dataclass(frozen=True)
class Pit:
    """A pit of stone or chambers: plan and effective depth in metres, voids as a share of it.

    A cylinder has its diameter as length and as width. Make it by `box_pit`, `trench_pit`,
    `cylinder_pit` or `chamber_pit`, which check the numbers.
    """

    kind: Kind
    length_m: float
    width_m: float
    depth_m: float
    voids: float

    @property
    def plan_area_m2(self) -> float:
        """Area of the bottom."""
        return self.length_m * self.width_m * (math.pi / 4 if self.kind == "cylinder" else 1)

    @property
    def perimeter_m(self) -> float:
        """Length around the plan."""
        if self.kind == "cylinder":
            return math.pi * self.length_m
        return 2 * (self.length_m + self.width_m)

    @property
    def half_side_area_m2(self) -> float:
        """Half of the sides, base left out (BRE's as50)."""
        return self.perimeter_m * self.depth_m / 2

    @property
    def stone_m3(self) -> float:
        """Volume of the stone below the inlet's invert."""
        return self.plan_area_m2 * self.depth_m

    @property
    def stored_m3(self) -> float:
        """Water that the voids hold up to the inlet's invert."""
        return self.stone_m3 * self.voids


@dataclass(frozen=True)
class Duration:
    """One rain of a table: its length (s), and inflow, outflow and their difference (m3)."""

    seconds: float
    inflow_m3: float
    outflow_m3: float

    @property
    def storage_m3(self) -> float:
        """What is left in the pit at the end, m3."""
        return self.inflow_m3 - self.outflow_m3


@dataclass(frozen=True)
class PitCheck:
    """What a pit must hold and what it holds.

    `emptying_s` is the time in which it is half empty (BRE Digest 365) or drained (whole storm),
    `emptying_limit_s` the most that is allowed. `durations` are the rains of the table and
    `governing` the one that asks for most; there are none for a whole storm.
    """

    method: Method
    pit: Pit
    required_m3: float
    emptying_s: float
    emptying_limit_s: float
    durations: tuple[Duration, ...] = ()
    governing: Duration | None = None
    warnings: tuple[PitWarning, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether the pit holds what it must, a billionth less for rounding."""
        return self.pit.stored_m3 >= self.required_m3 * (1 - 1e-9)

    @property
    def emptying_full_s(self) -> float:
        """The same time from all that it holds: its limit is not judged by it, but it is told."""
        return self.emptying_s * self.pit.stored_m3 / self.required_m3 if self.required_m3 else 0.0

    @property
    def empties_in_time(self) -> bool:
        """Whether it is ready for the next storm in time."""
        return self.emptying_s <= self.emptying_limit_s

    @property
    def sufficient(self) -> bool:
        """Whether it holds what it must and empties in time."""
        return self.holds and self.empties_in_time


@dataclass(frozen=True)
class SeepagePit:
    """A seepage pit (dry well), roof water only, and the solid line that feeds it.

    Parameters
    ----------
    center : (x, y)
    angle : float, degrees counterclockwise from the plan's x that its length is turned
    by_durations : PitCheck or None
        By the rains of a table (BRE Digest 365); None where no table is given.
    by_whole_storm : PitCheck
    governing : PitCheck
        The one that the pit is built by: by durations where a table is given.
    rate : DesignRate
    ground_m, inlet_m : float, metres
        Heights of the ground at the pit and of the inlet's invert; the depth counts from it.
    dig_depth_m : float, metres
        From the ground to the pit's bottom.
    line : BuriedLine
        From the downspout to the pit.
    clearances : tuple of Clearance
        What it keeps away from, how far it is, how far it must be.
    overflow : Failure
        Where its water runs when it is full.
    warnings : tuple of Caution
        What is particular to this pit, besides those of its rate and of its check.
    """

    center: tuple[float, float]
    angle: float
    by_durations: PitCheck | None
    by_whole_storm: PitCheck
    governing: PitCheck
    rate: DesignRate
    ground_m: float
    inlet_m: float
    dig_depth_m: float
    line: BuriedLine
    clearances: tuple[Clearance, ...]
    overflow: Failure
    warnings: tuple[Caution, ...]
    kind: ClassVar[Literal["seepage pit"]] = "seepage pit"


def box_pit(length_m: float, width_m: float, depth_m: float, voids: float) -> Pit:
    """A pit with a rectangular plan.

    Raises
    ------
    ValueError
        Where a length is not a finite number above 0, or the voids are not a share.

    Examples
    --------
    >>> round(box_pit(2.0, 1.0, 1.5, 0.4).stored_m3, 6)
    1.2
    """
    return _pit("box", length_m, width_m, depth_m, voids)


def trench_pit(length_m: float, width_m: float, depth_m: float, voids: float) -> Pit:
    """A long pit; where its plan is sized, its length grows and its width stays.

    Raises
    ------
    ValueError
        As `box_pit`.

    Examples
    --------
    >>> round(trench_pit(23.0, 5.0, 0.80, 0.4).half_side_area_m2, 6)
    22.4
    """
    return _pit("trench", length_m, width_m, depth_m, voids)


def cylinder_pit(diameter_m: float, depth_m: float, voids: float) -> Pit:
    """A round pit.

    Raises
    ------
    ValueError
        As `box_pit`.

    Examples
    --------
    >>> round(cylinder_pit(2.0, 1.0, 0.4).plan_area_m2, 4)
    3.1416
    """
    return _pit("cylinder", diameter_m, diameter_m, depth_m, voids)


def chamber_pit(length_m: float, width_m: float, depth_m: float, voids: float) -> Pit:
    """A row of chambers in stone, of a stated share of voids; sized as a trench is.

    Raises
    ------
    ValueError
        As `box_pit`.

    Examples
    --------
    >>> round(chamber_pit(2.0, 1.0, 0.5, 0.6).stored_m3, 6)
    0.6
    """
    return _pit("chamber", length_m, width_m, depth_m, voids)


def _pit(kind: Kind, length_m: float, width_m: float, depth_m: float, voids: float) -> Pit:
    name = "diameter" if kind == "cylinder" else "length"
    return Pit(
        kind,
        positive(length_m, name, "m"),
        positive(width_m, "width", "m"),
        positive(depth_m, "effective depth", "m"),
        share(voids, "voids"),
    )


def check_by_durations(
    catchment_m2: float,
    rain: Sequence[tuple[float, float]],
    pit: Pit,
    rate_m_per_s: float,
    rules: Rules | None = None,
) -> PitCheck:
    """What a pit must hold by BRE Digest 365: the largest of inflow less outflow.

    Inflow is catchment x depth of each duration, outflow as50 x rate x duration; as50 is half of
    the sides, the base left out, for it silts up. Half empty after S / 2 / (as50 x rate), S the
    required volume.

    Parameters
    ----------
    catchment_m2 : float, m2, plan area x runoff coefficient
    rain : sequence of (duration in seconds, depth in metres)
    pit : Pit
    rate_m_per_s : float, m/s, after the factor of safety
    rules : Rules, whose ``pit_half_empty_time`` is the limit

    Raises
    ------
    ValueError
        Where there is no rain or a number is out of range.

    Examples
    --------
    >>> pit = trench_pit(23.0, 5.0, 0.80, 0.4)
    >>> found = check_by_durations(690, [(21600, 0.03872), (36000, 0.04296)], pit, 8.5e-6)
    >>> round(found.required_m3, 1), found.governing.seconds / 60
    (22.8, 600.0)
    """
    positive(catchment_m2, "catchment", "m2")
    positive(rate_m_per_s, "soil rate", "m/s")
    if len(rain) == 0:
        raise ValueError("the rain table is empty: expected at least one duration with its depth")
    leaving = pit.half_side_area_m2 * rate_m_per_s
    durations = tuple(
        Duration(
            positive(seconds, "rain duration", "s"),
            catchment_m2 * not_negative(depth, "rain depth", "m"),
            leaving * seconds,
        )
        for seconds, depth in rain
    )
    governing = max(durations, key=lambda each: each.storage_m3)
    required = max(governing.storage_m3, 0.0)
    return PitCheck(
        "BRE Digest 365",
        pit,
        required,
        required / 2 / leaving,
        (rules or Rules())["pit_half_empty_time"],
        durations,
        governing,
        _at_the_end(governing, durations),
    )


def _at_the_end(governing: Duration, durations: Sequence[Duration]) -> tuple[PitWarning, ...]:
    if governing.seconds < max(each.seconds for each in durations):
        return ()
    return ("longest rain governs",)


def check_whole_storm(
    catchment_m2: float,
    depth_m: float,
    pit: Pit,
    rate_m_per_s: float,
    rules: Rules | None = None,
) -> PitCheck:
    """What a pit must hold as US manuals ask: all of a storm, nothing counted that soaks away.

    The water then drains through the bottom alone: time = volume / (plan x rate).

    Parameters
    ----------
    catchment_m2 : float, m2, plan area x runoff coefficient
    depth_m : float, metres, of rain
    pit : Pit
    rate_m_per_s : float, m/s, after the factor of safety
    rules : Rules, whose ``pit_drain_time`` is the limit

    Raises
    ------
    ValueError
        Where a number is out of range.

    Examples
    --------
    >>> found = check_whole_storm(50, 0.1, box_pit(3, 3, 1.5, 0.4), 5e-6)
    >>> found.required_m3, found.sufficient, round(found.emptying_s / 3600, 1)
    (5.0, True, 30.9)
    """
    positive(catchment_m2, "catchment", "m2")
    not_negative(depth_m, "rain depth", "m")
    positive(rate_m_per_s, "soil rate", "m/s")
    required = catchment_m2 * depth_m
    return PitCheck(
        "whole storm",
        pit,
        required,
        required / (pit.plan_area_m2 * rate_m_per_s),
        (rules or Rules())["pit_drain_time"],
    )


def least_depth(pit: Pit, check: Callable[[Pit], PitCheck]) -> PitCheck:
    """The least depth at which a pit of this plan is sufficient.

    Parameters
    ----------
    pit : Pit
        Its plan and voids count; its depth does not.
    check : function of a Pit
        `check_by_durations` or `check_whole_storm` with everything but the pit filled in.

    Raises
    ------
    ValueError
        Where no depth is enough: the plan is too small to drain in time.

    Examples
    --------
    >>> found = least_depth(
    ...     box_pit(3, 3, 1, 0.4), lambda pit: check_whole_storm(50, 0.1, pit, 5e-6)
    ... )
    >>> round(found.pit.depth_m, 3)
    1.389
    """

    def of_depth(depth_m: float) -> PitCheck:
        return check(replace(pit, depth_m=depth_m))

    return _least(of_depth, "no depth is enough for this plan to empty in time: take a larger plan")


def least_plan(pit: Pit, check: Callable[[Pit], PitCheck]) -> PitCheck:
    """The least plan at which a pit of this depth is sufficient.

    A trench or chamber grows in length at its width; a box and a cylinder grow in proportion.

    Parameters
    ----------
    pit : Pit
        Its depth, voids and proportions count.
    check : function of a Pit
        As `least_depth` takes it.

    Raises
    ------
    ValueError
        Where no plan is enough.

    Examples
    --------
    >>> found = least_plan(
    ...     trench_pit(1, 1, 1.25, 0.4), lambda pit: check_whole_storm(50, 0.1, pit, 2e-5)
    ... )
    >>> round(found.pit.length_m, 3)
    10.0
    """
    proportion = pit.width_m / pit.length_m

    def of_length(length_m: float) -> PitCheck:
        width = pit.width_m if pit.kind in ("trench", "chamber") else length_m * proportion
        return check(replace(pit, length_m=length_m, width_m=width))

    return _least(of_length, "no plan is enough at this depth")


def _least(of_size: Callable[[float], PitCheck], refusal: str) -> PitCheck:
    low, high = 0.0, 0.1
    while not of_size(high).sufficient:
        low, high = high, 2 * high
        if high > LONGEST:
            raise ValueError(refusal)
    while high - low > 1e-9 * high:
        middle = (low + high) / 2
        if of_size(middle).sufficient:
            high = middle
        else:
            low = middle
    return of_size(high)


# A size that lies this much of a step above a whole one is that one, by rounding.
_ROUNDING = 1e-6


class TooLarge(NotPossible):
    """No pit of any lot's size holds the water, at the depth that there is."""

    def __init__(self) -> None:
        super().__init__(Simply("roof too large for a pit"))


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
        raise NotPossible(NothingToStore(water.downspout))
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

    plan = _fewest_steps(needs, of_length)
    if plan is None:
        raise TooLarge
    deep_enough = _fewest_steps(needs, lambda depth_m: replace(plan, depth_m=depth_m))
    depth = shape.depth_m if deep_enough is None else min(deep_enough.depth_m, shape.depth_m)
    return needs.governing(replace(plan, depth_m=depth))


def _fewest_steps(needs: PitNeeds, of_size: Callable[[float], Pit]) -> Pit | None:
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


def height_over_inlet_m(bore_m: float, rules: Rules) -> float:
    """From the inlet's invert to the top of the stone."""
    return bore_m + rules["pit_stone_over_inlet"]
