"""The fittings of a line, from the leader's foot to its end: adapter, bends, cleanouts, grate.

In: the corners of the route and of the grade, stations in metres and angles in degrees. Out:
`Fitting` records in the order of their stations.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.profile import LineProfile
from runoff.discharge.ways import Fitting, FittingWhy
from runoff.rules import Rules
from runoff.site.model import Leader

# Pipe and joints give this much without a fitting.
_GIVES = 5.0
_FOOT = 0.0
# In steps of 22.5 degrees.
_BENDS: tuple[tuple[float, ...], ...] = (
    (22.5,),
    (45.0,),
    (45.0, 22.5),
    (45.0, 45.0),
    (45.0, 45.0, 22.5),
    (45.0, 45.0, 45.0),
)


def bends_for(degrees: float) -> tuple[float, ...]:
    """The bends for a turn, by the nearest angle sold; none where the joints give enough.

    Two 45s rather than a 90, so that leaves and a snake pass.

    Examples
    --------
    >>> bends_for(3.0), bends_for(20.0), bends_for(50.0), bends_for(90.0)
    ((), (22.5,), (45.0,), (45.0, 45.0))
    """
    if degrees < _GIVES:
        return ()
    return min(_BENDS, key=lambda bends: abs(sum(bends) - degrees))


def turns(
    points: NDArray[np.float64], stations_m: NDArray[np.float64]
) -> list[tuple[float, float]]:
    """Station and angle (degrees) of each corner of a route, (k, 2) plan metres.

    Examples
    --------
    >>> turns(np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 5.0]]), np.array([5.0]))
    [(5.0, 90.0)]
    """
    legs = np.diff(points, axis=0)
    bearing = np.degrees(np.arctan2(legs[:, 1], legs[:, 0]))
    angle = np.abs((np.diff(bearing) + 180) % 360 - 180)
    return [(float(s), float(a)) for s, a in zip(stations_m, angle, strict=True)]


def grade_turns(profile: LineProfile) -> list[tuple[float, float]]:
    """Station and angle (degrees) of each break of the pipe's grade."""
    found = []
    for station in profile.breaks_m:
        grade = [_grade(profile, station, side) for side in (-1, 1)]
        found.append((station, abs(math.degrees(math.atan(grade[0]) - math.atan(grade[1])))))
    return found


def _grade(profile: LineProfile, station: float, side: int) -> float:
    x, z = profile.stations_m, profile.invert_m
    at = int(np.argmin(np.abs(x - station)))
    other = min(max(at + side, 0), len(x) - 1)
    return float((z[other] - z[at]) / (x[other] - x[at])) if other != at else 0.0


def cleanout_stations(
    length_m: float, bends: list[tuple[float, float]], rules: Rules
) -> list[tuple[float, FittingWhy]]:
    """Where cleanouts stand and why: at the foot, at sharp bends, and so far apart at most.

    Parameters
    ----------
    bends : stations (m) and angles (degrees) of the route's corners

    Examples
    --------
    >>> found = cleanout_stations(70.0, [(10.0, 90.0)], Rules())
    >>> [round(station, 2) for station, why in found]
    [0.0, 10.0, 40.0]
    """
    spacing = rules["cleanout_spacing"]
    sharp = math.degrees(math.atan(rules["cleanout_bend"]))
    found: list[tuple[float, FittingWhy]] = [(_FOOT, "foot")]
    last_bend = -math.inf
    for station, angle in bends:
        if angle > sharp + 1e-6 and station - last_bend >= rules["cleanout_bend_spacing"]:
            found.append((station, "sharp bend"))
            last_bend = station
    placed: list[tuple[float, FittingWhy]] = []
    for (station, why), until in zip(found, [*[s for s, _ in found[1:]], length_m], strict=True):
        placed.append((station, why))
        gaps = max(1, math.ceil((until - station) / spacing - 1e-9))
        placed += [(station + k * (until - station) / gaps, "spacing") for k in range(1, gaps)]
    return placed


def fittings_of(
    corners: list[tuple[float, float]],
    profile: LineProfile,
    daylight: bool,
    leader: Leader | None,
    rules: Rules,
) -> tuple[Fitting, ...]:
    """All fittings of a line.

    Parameters
    ----------
    corners : stations (m) and angles (degrees) of the route's corners
    daylight : bool, whether it ends in the open
    leader : Leader or None, what the adapter joins; None where its size is not known
    """
    end, size = float(profile.stations_m[-1]), profile.pipe.size
    found = [
        Fitting(_FOOT, "leaf screen"),
        Fitting(_FOOT, "adapter", size=size, leader=leader),
        Fitting(_FOOT, "bend", "foot", (45.0, 45.0), 90.0),
    ]
    turns_by_why: tuple[tuple[FittingWhy, list[tuple[float, float]]], ...] = (
        ("route turns", corners),
        ("grade changes", grade_turns(profile)),
    )
    for why, at in turns_by_why:
        found += [
            Fitting(station, "bend", why, bends_for(angle), angle)
            for station, angle in at
            if bends_for(angle) and station < end
        ]
    inside = [(station, angle) for station, angle in corners if station < end]
    found += [
        Fitting(station, "cleanout", why) for station, why in cleanout_stations(end, inside, rules)
    ]
    found.append(Fitting(end, "outlet grate" if daylight else "connection", size=size))
    return tuple(sorted(found, key=lambda fitting: fitting.station_m))
