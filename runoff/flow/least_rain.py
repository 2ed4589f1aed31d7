"""The least rain that does something, found by few storms.

More rain never does less, so halving would find it; where it is known how far a storm falls short
or goes beyond, the next storm to try is aimed by that, and halving is left for when aiming fails.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, floor, isfinite, sqrt

GREATEST_RAIN = 1.0
"""Storms are tried up to this depth, metres."""
_STEPS = 2**14
"""Steps in which storms up to the greatest are told apart: 0.06 mm."""
_AIMED = 2
"""So many aimed storms must halve the interval twice, or it is halved itself."""


def least_rain(
    beyond: Callable[[float], float], at_none: float = -float("inf"), tried: float | None = None
) -> float:
    """Least rain (m) for which `beyond` is above 0, to 0.1 mm; infinite where 1 m does not do it.

    Parameters
    ----------
    beyond : callable
        How far a rain (m) goes beyond what is asked: above 0 where it does it. Any unit; infinite
        where the sign alone is known. Its sign never falls back as rain grows.
    at_none : float
        The same for no rain at all, where it is known; 0 or below.
    tried : float, optional, metres
        A rain that costs nothing to ask about, as it has been run before.

    Returns
    -------
    float, metres

    Examples
    --------
    >>> asked = []
    >>> round(least_rain(lambda rain: asked.append(rain) or rain - 0.05, at_none=-0.05), 4)
    0.05
    >>> len(asked)
    3
    >>> least_rain(lambda rain: rain - 2.0)
    inf
    """
    search = _Search(at_none)
    if tried is not None and 0 < tried <= GREATEST_RAIN:
        search.learn(tried * _STEPS, beyond(tried))
    while search.enough - search.short > 1:
        step = search.next_step()
        search.learn(step, beyond(step * GREATEST_RAIN / _STEPS))
    return search.enough * GREATEST_RAIN / _STEPS if search.enough <= _STEPS else float("inf")


class _Search:
    """The interval that holds the answer, in steps, and what is known at and before its ends."""

    def __init__(self, at_none: float) -> None:
        self.short, self.enough = 0, _STEPS + 1
        self._lows = [(0.0, at_none)]
        self._high = (float(_STEPS + 1), float("inf"))
        self._widths = [self.enough - self.short]

    def learn(self, step: float, beyond: float) -> None:
        """Narrow the interval by one storm, which need not be of whole steps."""
        if beyond > 0:
            self.enough, self._high = ceil(step), (step, beyond)
        else:
            self.short = floor(step)
            self._lows.append((step, beyond))
        self._widths.append(self.enough - self.short)

    def next_step(self) -> int:
        """The step to try next."""
        stuck = len(self._widths) > _AIMED and self._widths[-1] * 4 > self._widths[-1 - _AIMED]
        aim = None if stuck else self._aim()
        if aim is None:
            aim = self._middle()
            self._widths = []
        return min(max(ceil(aim), self.short + 1), self.enough - 1)

    def _aim(self) -> float | None:
        """Where a straight line through what is known says that the answer lies."""
        low, ends = self._lows[-1], [self._high, *self._lows[-2:-1]]
        end = next((end for end in ends if isfinite(end[1])), None)
        if end is None or not isfinite(low[1]) or end[1] == low[1]:
            return None
        aim = low[0] - low[1] * (end[0] - low[0]) / (end[1] - low[1])
        return aim if low[0] <= aim <= self.enough else None

    def _middle(self) -> float:
        """The middle of the interval; by ratio where its ends are of different order."""
        if self.enough > _STEPS:
            return _STEPS
        if self.enough > 4 * self.short:
            return sqrt(max(self.short, 1) * self.enough)
        return (self.short + self.enough) / 2
