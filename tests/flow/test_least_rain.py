"""The least rain by few storms, against halving and against answers known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from runoff.flow import least_rain

STEP = 2.0**-14
"""The rains that are told apart, metres."""


def by_halving(beyond):
    """The plain search: fourteen halvings of 1 m."""
    if not beyond(1.0) > 0:
        return math.inf
    short, enough = 0.0, 1.0
    for _ in range(14):
        middle = (short + enough) / 2
        short, enough = (short, middle) if beyond(middle) > 0 else (middle, enough)
    return enough


def rising(kind, root, rng):
    """A function of rain that passes 0 at `root`; `kind` says how it rises and what it tells."""
    power = rng.uniform(0.3, 3.0)
    if kind == "sign alone":
        return lambda rain: math.inf if rain > root else -math.inf
    if kind == "unknown beyond":
        return lambda rain: math.inf if rain > root else rain**power - root**power
    if kind == "in steps":
        return lambda rain: math.floor(40 * (rain - root)) + 0.5
    return lambda rain: rain**power - root**power


@pytest.mark.parametrize("kind", ["sign alone", "unknown beyond", "in steps", "curved"])
@pytest.mark.parametrize("seed", range(50))
def test_it_agrees_with_halving(kind, seed):
    rng = np.random.default_rng(seed)
    beyond = rising(kind, 10 ** rng.uniform(-4.0, 0.1), rng)
    tried = None if seed % 2 else float(rng.uniform(0.02, 0.2))
    assert least_rain(beyond, tried=tried) == by_halving(beyond)


@pytest.mark.parametrize("root", [0.0001, 0.0135, 0.0999, 0.5, 0.9999])
def test_a_pond_that_fills_evenly_takes_few_storms(root):
    """Below the brim the water is in proportion to the rain; above, only that it is full."""
    asked = []

    def beyond(rain):
        asked.append(rain)
        return math.inf if rain >= root else rain - root

    found = least_rain(beyond, at_none=-root, tried=0.1)
    assert found - STEP < root <= found
    assert len(asked) <= 6


def test_what_the_greatest_rain_does_not_do_is_infinite():
    assert least_rain(lambda rain: rain - 1.0) == math.inf
    assert least_rain(lambda rain: -math.inf, at_none=-math.inf, tried=0.1) == math.inf


def test_the_greatest_rain_itself_may_be_the_answer():
    assert least_rain(lambda rain: rain - 1.0 + STEP / 2) == 1.0


def test_what_any_rain_does_is_told_as_the_least_rain_tried():
    assert least_rain(lambda rain: math.inf, tried=0.1) == STEP
