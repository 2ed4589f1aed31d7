"""Soil tests reduced: percolation tests to their steady readings, trial pits to the time from 75
% to 25 % of each filling.

In: readings of the water in a round hole, seconds and metres, with the refills between them. Out: a
`PercolationTest`: the rate of each fall, those that are used, and what to be warned of.

Water leaves the hole through bottom and side alike at a rate I, so it falls as
dh/dt = -I (1 + 4 h / D), D the diameter. The rate of a fall is I = (fall / time) / (1 + 4 h / D)
with h the mean of the depths before and after: the reduction by the hole's shape that county
manuals print (from memory). It is the same at every depth of a steady soil, whether or not the hole
was refilled; the bare fall is not.

In: fillings with their readings, seconds and metres. Out: a `TrialPitTest`: times and rates of the
fillings that count, which were left out and why, and what to be warned of.

The test is that of BRE Digest 365: a pit is filled three times, and the slowest filling counts.
Water that leaves through bottom and sides alike at a rate f falls as dh/dt = -f (1 + h p / a), p
the pit's girth and a its plan area. A filling that was not watched down to 25 % is carried on by
that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from runoff.quantities.numbers import positive
from runoff.rules import Rules
from runoff.site.model import Percolation, TrialPit
from runoff.site.notices import Notice


@dataclass(frozen=True)
class WaterReading:
    """Depth of the water (m) in the hole at a time (s); `refilled` where it was just filled up."""

    seconds: float
    depth: float
    refilled: bool = False


@dataclass(frozen=True)
class Fall:
    """Water that fell from `depth` by `fall` (m), from `start` (s) for `seconds`; `rate` in m/s."""

    start: float
    seconds: float
    depth: float
    fall: float
    rate: float

    @property
    def mean_depth(self) -> float:
        """Mean of the depths before and after, metres."""
        return self.depth - self.fall / 2.0


@dataclass(frozen=True)
class PercolationTest:
    """A percolation test reduced.

    `diameter` is in metres; `used` are the falls that count, `left_out` the others, both in order
    of time; `steady` says whether the last of them agreed; `record` is the test as a site holds it:
    one fall that gives the rate of all that are used.
    """

    diameter: float
    used: tuple[Fall, ...]
    left_out: tuple[Fall, ...]
    steady: bool
    warnings: tuple[Notice, ...]
    record: Percolation

    @property
    def rates(self) -> tuple[float, ...]:
        """Infiltration rates of the falls that are used, m/s."""
        return tuple(fall.rate for fall in self.used)


def reduce_percolation(
    readings: Sequence[WaterReading],
    diameter_m: float,
    step_m: float = 0.0,
    rules: Rules | None = None,
) -> PercolationTest:
    """Reduce a percolation test to its steady rate.

    Steady are the last falls, three or more, whose rates lie within 10 % of each other (common
    practice): the greatest at most 10 % above the least. As many as agree are used, reckoned back
    from the last. Where they never steadied, the slowest of the last three is used.

    Parameters
    ----------
    readings : sequence of WaterReading
        In order of time.
    diameter_m : float, metres
        Of the hole.
    step_m : float, metres
        To which depths were read; water that was never seen to fall fell by less than this.
    rules : Rules
        ``soil_test_agreement`` and ``percolation_steady_readings``.

    Returns
    -------
    PercolationTest

    Raises
    ------
    ValueError
        Where the diameter is not a finite number above 0, readings go back in time or rise without
        a refill, no two follow each other without a refill, or the water never fell and no step is
        given.

    Examples
    --------
    >>> inch, minute = 0.0254, 60.0
    >>> marks = [(0, 6), (10, 4), (10, 6), (20, 4.5), (20, 6), (30, 4.5), (30, 6), (40, 4.5)]
    >>> readings = [
    ...     WaterReading(t * minute, h * inch, refilled=k > 0 and h == 6)
    ...     for k, (t, h) in enumerate(marks)
    ... ]
    >>> test = reduce_percolation(readings, 8 * inch)
    >>> test.steady, len(test.used), len(test.left_out)
    (True, 3, 1)
    >>> round(test.rates[0] / inch * 3600, 3)  # 9 in/h / (1 + 4 x 5.25 / 8)
    2.483
    """
    rules = rules or Rules()
    if not (math.isfinite(diameter_m) and diameter_m > 0.0):
        raise ValueError(f"the diameter is {diameter_m!r} m: expected one above 0")
    falls = _falls(readings, diameter_m)
    if not falls:
        raise ValueError("no two readings follow each other without a refill between them")
    fewest = max(int(rules["percolation_steady_readings"]), 1)
    share = rules["soil_test_agreement"]
    count = _steady_count(falls, share)
    steady = count >= fewest
    if steady:
        used = falls[-count:]
        warnings = []
    else:
        used = [min(falls[-fewest:], key=lambda fall: fall.rate)]
        warnings = [_unsteady(falls[-fewest:], used[0], fewest, share)]
    rest = tuple(fall for fall in falls if fall not in used)
    if any(fall.fall >= fall.depth for fall in used):
        warnings.append(Notice("ran dry"))
    record, doubt = _one_fall(used, diameter_m, step_m)
    return PercolationTest(diameter_m, tuple(used), rest, steady, (*warnings, *doubt), record)


def _falls(readings: Sequence[WaterReading], diameter: float) -> list[Fall]:
    falls = []
    for before, after in pairwise(readings):
        if after.seconds < before.seconds:
            raise ValueError("a reading goes back in time")
        if after.refilled or before.depth <= 0.0:
            continue
        fall, seconds = before.depth - after.depth, after.seconds - before.seconds
        if fall < 0.0 or seconds == 0.0:
            raise ValueError("the water rises without a refill, or two readings have one time")
        mean = before.depth - fall / 2.0
        rate = fall / seconds / (1.0 + 4.0 * mean / diameter)
        falls.append(Fall(before.seconds, seconds, before.depth, fall, rate))
    return falls


def _steady_count(falls: Sequence[Fall], share: float) -> int:
    """How many falls, reckoned back from the last, agree."""
    least = most = falls[-1].rate
    for count, fall in enumerate(reversed(falls)):
        least, most = min(least, fall.rate), max(most, fall.rate)
        if most > least * (1.0 + share) * (1.0 + 1e-9):
            return count
    return len(falls)


def _unsteady(last: Sequence[Fall], used: Fall, fewest: int, share: float) -> Notice:
    if len(last) < fewest:
        few = {"falls": len(last), "asked": fewest, "rate_m_per_s": used.rate}
        return Notice("few falls", figures=few)
    rates = tuple(fall.rate for fall in last)
    return Notice("never steadied", figures={"rates_m_per_s": rates, "share": share})


def _one_fall(
    used: Sequence[Fall], diameter: float, step: float
) -> tuple[Percolation, tuple[Notice, ...]]:
    """One fall with the rate of all that are used, and the warning that none was seen.

    Each depth counts by its time, so that falls of one rate give that rate whatever their lengths.
    """
    seconds = sum(fall.seconds for fall in used)
    mean_depth = sum(fall.mean_depth * fall.seconds for fall in used) / seconds
    fallen = sum(fall.fall for fall in used)
    doubt: tuple[Notice, ...] = ()
    if fallen == 0.0:
        if not step > 0.0:
            raise ValueError("the water never fell: expected readings over a longer time")
        fallen = typical = min(step, 2.0 * mean_depth)
        doubt = (Notice("no fall seen"),)
    else:
        typical = sum(fall.fall * fall.seconds for fall in used) / seconds
    time = typical * seconds / fallen
    return Percolation(typical, time, diameter, mean_depth + typical / 2.0, "shaft"), doubt


UPPER, LOWER = 0.75, 0.25
LEAST_WATCHED = 0.5
_DEPTHS_DIFFER = 0.05
_ROUNDING_M = 1e-9


@dataclass(frozen=True)
class Filling:
    """One filling of a trial pit: (seconds, depth of the water in metres) in order of time.

    Where `seconds` is given, the time from 75 % to 25 % was taken in the field and there are no
    readings.
    """

    name: str
    readings: tuple[tuple[float, float], ...] = ()
    seconds: float | None = None


@dataclass(frozen=True)
class FillingTime:
    """A filling that counts: seconds from 75 % to 25 % of the effective depth, its rate in m/s.

    `carried_from` is the share of the depth at which it was read last, where that is above 25 %.
    """

    name: str
    seconds: float
    rate: float
    carried_from: float | None = None


@dataclass(frozen=True)
class TrialPitTest:
    """A trial pit reduced.

    `length`, `width` and `depth` (the effective depth) are in metres; `used` are the fillings that
    count; `left_out` those that do not; `warnings` say why the rate may be wrong.
    """

    length: float
    width: float
    depth: float
    used: tuple[FillingTime, ...]
    left_out: tuple[Notice, ...]
    warnings: tuple[Notice, ...]

    @property
    def rates(self) -> tuple[float, ...]:
        """Infiltration rates of the fillings that count, m/s."""
        return tuple(filling.rate for filling in self.used)

    @property
    def record(self) -> TrialPit:
        """The test as a site holds it."""
        times = tuple(filling.seconds for filling in self.used)
        return TrialPit(self.length, self.width, self.depth, times)


def reduce_trial_pit(
    fillings: Sequence[Filling],
    length_m: float,
    width_m: float,
    depth_m: float | None = None,
    rules: Rules | None = None,
) -> TrialPitTest:
    """Reduce a trial pit to the times that its water took from 75 % to 25 % of the effective depth.

    Parameters
    ----------
    fillings : sequence of Filling
        In the order in which the pit was filled.
    length_m, width_m : float, metres
        The pit's plan.
    depth_m : float or None, metres
        The effective depth, from the water's full level to the bottom; where None, the least of the
        depths that the fillings were first read at, which all of them have.
    rules : Rules
        ``trial_pit_fillings`` asked for; ``soil_test_agreement``, by which a filling may be slower
        than the one before it.

    Returns
    -------
    TrialPitTest

    Raises
    ------
    ValueError
        Where a size is not a finite number above 0, readings go back in time or rise, no filling
        can be used, or no effective depth is known.

    References
    ----------
    BRE Digest 365, Soakaway design.

    Examples
    --------
    >>> water = ((0, 0.65), (1000, 0.4875), (5020, 0.1625), (7000, 0.08))
    >>> test = reduce_trial_pit([Filling("1", water)], 1.60, 0.60)
    >>> round(test.used[0].seconds, 6), f"{test.rates[0]:.3e}"
    (4020.0, '3.247e-05')
    >>> [told.code for told in test.warnings]
    ['few fillings']
    """
    rules = rules or Rules()
    depth, warnings = _effective_depth(fillings, depth_m)
    for size in (length_m, width_m, depth):
        if not (math.isfinite(size) and size > 0.0):
            raise ValueError(f"a size of the trial pit is {size!r} m: expected one above 0")
    pit = _Pit(length_m, width_m, depth)
    used, left_out = [], []
    for filling in fillings:
        found = pit.time_of(filling)
        if isinstance(found, FillingTime):
            used.append(found)
        else:
            left_out.append(found)
        warnings += pit.doubts(filling, found)
    if not used:
        reasons = "; ".join(f"filling {each.names[0]} {why_left_out(each)}" for each in left_out)
        raise ValueError(f"no filling can be used: {reasons or 'none is given'}")
    warnings += _warnings(used, rules)
    return TrialPitTest(length_m, width_m, depth, tuple(used), tuple(left_out), tuple(warnings))


def trial_pit_rate(
    length_m: float, width_m: float, depth_m: float, seconds_75_to_25: float
) -> float:
    """Infiltration rate from one filling of a trial pit, BRE Digest 365, m/s.

    f = V / (a50 t): V the water between 75 % and 25 % of the effective depth, a50 the inside area
    that is wet at half of it, base included.

    Parameters
    ----------
    length_m, width_m : float, metres, the pit's plan
    depth_m : float, metres, the effective depth: from the water's full level to the bottom
    seconds_75_to_25 : float, seconds in which the water fell from 75 % to 25 % of it

    Raises
    ------
    ValueError
        Where one of them is not a finite number above 0.

    Examples
    --------
    >>> f"{trial_pit_rate(1.60, 0.60, 0.65, 4020):.3e}"
    '3.247e-05'
    """
    positive(length_m, "length", "m")
    positive(width_m, "width", "m")
    positive(depth_m, "effective depth", "m")
    positive(seconds_75_to_25, "time from 75 % to 25 %", "s")
    plan = length_m * width_m
    wet = plan + 2 * (length_m + width_m) * depth_m / 2
    return plan * depth_m / 2 / (wet * seconds_75_to_25)


@dataclass(frozen=True)
class _Pit:
    """A pit's plan and effective depth, metres."""

    length: float
    width: float
    depth: float

    def time_of(self, filling: Filling) -> FillingTime | Notice:
        """The filling's time from 75 % to 25 %, or why it has none."""
        if filling.seconds is not None:
            return self._timed(filling.name, filling.seconds)
        _check_order(filling)
        first, last = filling.readings[0][1], filling.readings[-1][1]
        if first < UPPER * self.depth - _ROUNDING_M:
            share = {"share": first / self.depth}
            return Notice("filling from too low", (filling.name,), share)
        if last > LOWER * self.depth + _ROUNDING_M:
            if last > LEAST_WATCHED * self.depth:
                share = {"share": last / self.depth}
                return Notice("filling not watched", (filling.name,), share)
            return self._carried(filling)
        start, end = (_when(filling.readings, share * self.depth) for share in (UPPER, LOWER))
        return self._timed(filling.name, end - start)

    def doubts(self, filling: Filling, found: FillingTime | Notice) -> list[Notice]:
        """What to be warned of in one filling."""
        if isinstance(found, Notice):
            return [found]
        if found.carried_from is not None:
            share = {"share": found.carried_from}
            return [Notice("filling carried on", (filling.name,), share)]
        low, high = LOWER * self.depth - _ROUNDING_M, UPPER * self.depth + _ROUNDING_M
        within = [h for _, h in filling.readings if low <= h <= high]
        if filling.seconds is None and not within:
            return [Notice("filling rough", (filling.name,))]
        return []

    def _timed(self, name: str, seconds: float, carried_from: float | None = None) -> FillingTime:
        if not (math.isfinite(seconds) and seconds > 0.0):
            raise ValueError(
                f"filling {name} fell from 75 % to 25 % in {seconds:g} s: expected a time above 0"
            )
        rate = trial_pit_rate(self.length, self.width, self.depth, seconds)
        return FillingTime(name, seconds, rate, carried_from)

    def _carried(self, filling: Filling) -> FillingTime:
        """The time to 25 %, had the soil gone on as it did from 75 % to the last reading."""
        last_time, last = filling.readings[-1]
        watched = last_time - _when(filling.readings, UPPER * self.depth)
        share = self._log(UPPER * self.depth, LOWER * self.depth)
        share /= self._log(UPPER * self.depth, last)
        return self._timed(filling.name, watched * share, last / self.depth)

    def _log(self, above: float, below: float) -> float:
        girth = 2.0 * (self.length + self.width) / (self.length * self.width)
        return math.log((1.0 + girth * above) / (1.0 + girth * below))


def _effective_depth(
    fillings: Sequence[Filling], stated: float | None
) -> tuple[float, list[Notice]]:
    """The effective depth, and the warning that the fillings started from different ones."""
    if stated is not None:
        return stated, []
    firsts = [filling.readings[0][1] for filling in fillings if filling.readings]
    if not firsts:
        raise ValueError("the effective depth is not known: expected the depth of the full water")
    least, most = min(firsts), max(firsts)
    if most - least <= _DEPTHS_DIFFER * least:
        return least, []
    return least, [Notice("pit filled unalike", figures={"least_m": least, "most_m": most})]


def why_left_out(told: Notice) -> str:
    """Why a filling does not count, such as to follow its name."""
    share = f"{100.0 * told['share']:.0f} %"
    if told.code == "filling from too low":
        return f"was first read at {share} of the effective depth, below 75 %"
    return f"never reached 25 %: it was read last at {share}"


def _check_order(filling: Filling) -> None:
    if not filling.readings:
        raise ValueError(f"filling {filling.name} has no reading")
    for (before, high), (after, low) in pairwise(filling.readings):
        if after < before or low > high:
            raise ValueError(f"filling {filling.name}: a reading goes back in time, or rises")


def _when(readings: Sequence[tuple[float, float]], depth: float) -> float:
    """The time at which the water first stood at a depth, straight between two readings."""
    for (before, high), (after, low) in pairwise(readings):
        if low <= depth + _ROUNDING_M:
            share = 0.0 if high == low else min(max(high - depth, 0.0) / (high - low), 1.0)
            return before + share * (after - before)
    return readings[0][0]


def _warnings(used: Sequence[FillingTime], rules: Rules) -> list[Notice]:
    """Too few fillings, and a last one that is slower still."""
    warnings = []
    asked, done = int(rules["trial_pit_fillings"]), len(used)
    if done < asked:
        warnings.append(Notice("few fillings", figures={"fillings": done, "asked": asked}))
    if done > 1 and used[-1].seconds > used[-2].seconds * (1.0 + rules["soil_test_agreement"]):
        more = used[-1].seconds / used[-2].seconds - 1.0
        slower = {"longer_share": more}
        warnings.append(Notice("fillings slow down", (used[-1].name,), slower))
    return warnings
