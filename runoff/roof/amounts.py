"""The check that every number of this room passes before it is reckoned with.

In: an argument's name and value. Out: the value as a float, or `ValueError` naming both.
"""

from __future__ import annotations

import math


def positive(name: str, value: float) -> float:
    """The value, where it is finite and above zero.

    Examples
    --------
    >>> positive("diameter_m", 0)
    Traceback (most recent call last):
    ...
    ValueError: diameter_m is 0; expected a finite number above 0
    """
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value:g}; expected a finite number above 0")
    return float(value)


def not_negative(name: str, value: float) -> float:
    """The value, where it is finite and zero or more.

    Examples
    --------
    >>> not_negative("area_m2", 12)
    12.0
    """
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} is {value:g}; expected a finite number, 0 or more")
    return float(value)


def share(name: str, value: float) -> float:
    """The value, where it is above zero and at most one.

    Examples
    --------
    >>> share("fill_ratio", 1.5)
    Traceback (most recent call last):
    ...
    ValueError: fill_ratio is 1.5; expected a number above 0 and at most 1
    """
    if not 0 < value <= 1:
        raise ValueError(f"{name} is {value:g}; expected a number above 0 and at most 1")
    return float(value)
