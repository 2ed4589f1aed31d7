"""Falling-head percolation tests reduced: the steady readings are used, the rest said.

In: readings of the water in a round hole, seconds and metres, with the refills between them. Out: a
`PercolationTest`: the rate of each fall, those that are used, and what to be warned of.

Water leaves the hole through bottom and side alike at a rate I, so it falls as
dh/dt = -I (1 + 4 h / D), D the diameter. The rate of a fall is I = (fall / time) / (1 + 4 h / D)
with h the mean of the depths before and after: the reduction by the hole's shape that county
manuals print (from memory). It is the same at every depth of a steady soil, whether or not the hole
was refilled; the bare fall is not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from runoff.quantities import format_rate
from runoff.rules import Rules
from runoff.site.model import Percolation


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
    warnings: tuple[str, ...]
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
    system: str = "us",
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
    system : {"us", "metric"}
        Units of the sentences.

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
        warnings = [_unsteady(falls[-fewest:], used[0], fewest, share, system)]
    rest = tuple(fall for fall in falls if fall not in used)
    if any(fall.fall >= fall.depth for fall in used):
        warnings.append(
            "the hole of the percolation test ran dry between two readings: the rate is at least "
            "what is reckoned; refill sooner"
        )
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


def _unsteady(last: Sequence[Fall], used: Fall, fewest: int, share: float, system: str) -> str:
    if len(last) < fewest:
        falls = "one fall" if len(last) == 1 else f"{len(last)} falls"
        return (
            f"the percolation test has {falls} of the water, {fewest} that agree are asked for: it "
            "is not known to have steadied, and the slowest is used, "
            f"{format_rate(used.rate, system)}"
        )
    rates = ", ".join(format_rate(fall.rate, system) for fall in last)
    return (
        f"the percolation test never steadied: its last rates, {rates}, differ by more than "
        f"{100 * share:.3g} %; the slowest of them is used, and more readings are needed"
    )


def _one_fall(
    used: Sequence[Fall], diameter: float, step: float
) -> tuple[Percolation, tuple[str, ...]]:
    """One fall with the rate of all that are used, and the warning that none was seen.

    Each depth counts by its time, so that falls of one rate give that rate whatever their lengths.
    """
    seconds = sum(fall.seconds for fall in used)
    mean_depth = sum(fall.mean_depth * fall.seconds for fall in used) / seconds
    fallen = sum(fall.fall for fall in used)
    doubt: tuple[str, ...] = ()
    if fallen == 0.0:
        if not step > 0.0:
            raise ValueError("the water never fell: expected readings over a longer time")
        fallen = typical = min(step, 2.0 * mean_depth)
        doubt = (
            "the water of the percolation test was not seen to fall at the end: the rate is at "
            "most that of a fall too small to be read",
        )
    else:
        typical = sum(fall.fall * fall.seconds for fall in used) / seconds
    time = typical * seconds / fallen
    return Percolation(typical, time, diameter, mean_depth + typical / 2.0, "shaft"), doubt
