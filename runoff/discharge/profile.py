"""The profile of a buried line: where its invert runs under the ground, and where it comes out.

In: the ground along the line (stations and heights, metres), a pipe, and the least slope, cover
and bedding. Out: the invert at every break of the ground or the pipe, with cover and cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.discharge.checks import not_negative, positive
from runoff.discharge.pipes import Pipe
from runoff.rules import Rules

_TOUCH = 1e-9  # metres; nearer than this is touching


@dataclass(frozen=True)
class LineLimits:
    """Least slope (m/m), least cover and bedding (metres) of a buried line."""

    slope: float
    cover_m: float
    bedding_m: float


@dataclass(frozen=True)
class LineProfile:
    """A buried line in section; arrays of shape (stations,), metres.

    `breaks_m` are the stations where the pipe's slope changes. The line comes to daylight at
    `daylight_m` (None where it does not within the ground given: it then ends buried at the last
    station). From `exempt_from_m` to daylight it has less than the least cover: that stretch is
    exempt and needs protection.
    """

    pipe: Pipe
    limits: LineLimits
    stations_m: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    invert_m: NDArray[np.float64]
    breaks_m: tuple[float, ...]
    daylight_m: float | None
    exempt_from_m: float | None

    @property
    def cover_m(self) -> NDArray[np.float64]:
        """Soil over the pipe's top; below 0 where the pipe shows."""
        return self.ground_m - self.invert_m - self.pipe.bore_m - self.pipe.wall_m

    @property
    def bottom_m(self) -> NDArray[np.float64]:
        """Height of the trench's bottom, under the bedding."""
        return self.invert_m - self.pipe.wall_m - self.limits.bedding_m

    @property
    def cut_m(self) -> NDArray[np.float64]:
        """Depth from the ground to the trench's bottom."""
        return self.ground_m - self.bottom_m

    @property
    def exempt_length_m(self) -> float:
        """Length of the last stretch, below least cover."""
        if self.daylight_m is None or self.exempt_from_m is None:
            return 0.0
        return self.daylight_m - self.exempt_from_m


def line_limits(rules: Rules | None = None) -> LineLimits:
    """The limits of a line that carries no load.

    Examples
    --------
    >>> line_limits().slope
    0.01
    """
    rules = rules or Rules()
    return LineLimits(rules["line_slope"], rules["line_cover"], rules["bedding_depth"])


def trench_width(outside_m: float, rules: Rules | None = None) -> float:
    """Least width of a pipe's trench, metres: the greater of OD + 16 in and 1.25 OD + 12 in.

    ASTM D2321-05, read second hand.

    Raises
    ------
    ValueError
        Where the outside diameter is not a finite number above 0.

    Examples
    --------
    >>> round(trench_width(4.5 * 0.0254) / 0.0254, 6)
    20.5
    """
    positive(outside_m, "outside diameter", "m")
    rules = rules or Rules()
    factor, margin = rules["trench_width_factor"], rules["trench_width_margin"]
    return max(outside_m + rules["trench_width_addition"], factor * outside_m + margin)


def design_profile(
    stations_m: ArrayLike,
    ground_m: ArrayLike,
    pipe: Pipe,
    limits: LineLimits,
    buried_to_m: float | None = None,
) -> LineProfile:
    """Lay a line's invert: from its least depth, with slope and cover, to daylight.

    It starts at least cover and is held at the least slope until its invert meets the ground. Where
    the ground would dip to less than least cover and rise again on the way, the line first goes
    down with the ground, just at least cover, to that dip's bottom and is held from there. Of all
    lines that keep slope and cover it lies highest, so that it comes out soonest and is dug least.

    With h = ground - cover - pipe + slope x station, a line that keeps both is the running
    minimum of h, and one that is held is a constant: daylight is where h falls below that constant
    by the depth of the invert under least cover.

    Parameters
    ----------
    stations_m : array_like, shape (n,), metres along the line, rising
    ground_m : array_like, shape (n,), heights in metres; straight between stations
    pipe : Pipe
    limits : LineLimits
    buried_to_m : float, station up to which the line keeps its least cover, as under a walk or
        on the way into a pit; where it is None, wherever it comes out soonest

    Raises
    ------
    ValueError
        Where stations do not rise, a number is not finite, or a limit is out of range.

    Examples
    --------
    >>> from runoff.discharge.pipes import pipe_of
    >>> plane = design_profile([0, 30], [0, -0.9], pipe_of(4, "smooth"), line_limits())
    >>> round(plane.daylight_m, 2)
    20.65
    """
    x, ground = _checked(stations_m, ground_m)
    positive(limits.slope, "least slope", "m/m")
    not_negative(limits.cover_m, "least cover", "m")
    not_negative(limits.bedding_m, "bedding", "m")
    depth = limits.cover_m + pipe.bore_m + pipe.wall_m
    h = ground - depth + limits.slope * x
    buried = int(np.searchsorted(x, x[0] if buried_to_m is None else buried_to_m, side="right"))
    release, exempt_from, daylight = _released(x, h, depth, int(np.argmin(h[: max(buried, 1)])))
    kinks = _running_minimum(x, h, release)
    end = float(x[-1]) if daylight is None else daylight
    held = [] if end <= kinks[-1][0] else [(end, kinks[-1][1])]
    line_x, line_h = (np.array(part) for part in zip(*kinks, *held, strict=False))
    marks = [end] if exempt_from is None else [exempt_from, end]
    stations = np.unique(np.concatenate([x[x < end], line_x, marks]))
    invert = np.interp(stations, line_x, line_h) - limits.slope * stations
    return LineProfile(
        pipe,
        limits,
        stations,
        np.interp(stations, x, ground),
        invert,
        tuple(float(station) for station in line_x[1:-1]),
        daylight,
        exempt_from,
    )


def _checked(
    stations_m: ArrayLike, ground_m: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x = np.asarray(stations_m, dtype=np.float64)
    ground = np.asarray(ground_m, dtype=np.float64)
    if x.ndim != 1 or x.shape != ground.shape or x.size < 2:
        raise ValueError(
            f"stations have shape {x.shape}, heights {ground.shape}: expected two of each or more"
        )
    if not (np.isfinite(x).all() and np.isfinite(ground).all()):
        raise ValueError("a station or a ground height is not a finite number")
    if (np.diff(x) <= 0).any():
        raise ValueError("stations do not rise along the line: expected each beyond the one before")
    return x, ground


def _released(
    x: NDArray[np.float64], h: NDArray[np.float64], depth: float, release: int
) -> tuple[int, float | None, float | None]:
    """Vertex from which the line is held, where cover then falls short, and where it daylights."""
    while True:
        level, short_from, low = h[release], None, release
        for i in range(release + 1, len(x)):
            if h[i] < level - _TOUCH and short_from is None:
                short_from = _crossing(x, h, i, level)
            if h[i] <= level - depth:
                return release, short_from, _crossing(x, h, i, level - depth)
            if h[i] < h[low]:
                low = i
            if short_from is not None and h[i] >= level - _TOUCH:
                break
        if short_from is None:
            return release, None, None
        release = low


def _crossing(x: NDArray[np.float64], h: NDArray[np.float64], i: int, level: float) -> float:
    """Where h falls to a level in the stretch that ends at vertex i."""
    share = np.clip((h[i - 1] - level) / (h[i - 1] - h[i]), 0, 1)
    return float(x[i - 1] + share * (x[i] - x[i - 1]))


def _running_minimum(
    x: NDArray[np.float64], h: NDArray[np.float64], last: int
) -> list[tuple[float, float]]:
    """Breaks of the running minimum of h up to vertex `last`."""
    points, level = [(float(x[0]), float(h[0]))], float(h[0])
    for i in range(1, last + 1):
        if h[i] >= level:
            continue
        start = _crossing(x, h, i, level)
        if start > points[-1][0]:
            points.append((start, level))
        level = float(h[i])
        points.append((float(x[i]), level))
    return points
