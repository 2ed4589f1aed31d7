"""What a number must be before anything is computed from it: one clear line where it is not."""

from __future__ import annotations

import math


def positive(value: float, name: str, unit: str = "") -> float:
    """The value, where it is finite and above 0.

    Raises
    ------
    ValueError
        Where it is not; the line names the quantity, what came and what is expected.

    Examples
    --------
    >>> positive(0.0, "slope", "m/m")
    Traceback (most recent call last):
    ValueError: slope is 0 m/m: expected a finite number above 0
    """
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {_shown(value, unit)}: expected a finite number above 0")
    return float(value)


def not_negative(value: float, name: str, unit: str = "") -> float:
    """The value, where it is finite and 0 or more.

    Raises
    ------
    ValueError
        Where it is not.

    Examples
    --------
    >>> not_negative(0, "flow", "m3/s")
    0.0
    """
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} is {_shown(value, unit)}: expected a finite number, 0 or more")
    return float(value)


def share(value: float, name: str) -> float:
    """The value, where it is above 0 and at most 1.

    Raises
    ------
    ValueError
        Where it is not.

    Examples
    --------
    >>> share(0.4, "voids")
    0.4
    """
    if not 0 < value <= 1:
        raise ValueError(f"{name} is {value:g}: expected a share above 0 and at most 1, like 0.4")
    return float(value)


def _shown(value: float, unit: str) -> str:
    return f"{value:g} {unit}".rstrip()
