"""The fittings of a line, from the leader's foot to its end: adapter, bends, cleanouts, grate.

In: the corners of the route and of the grade, stations in metres and angles in degrees. Out:
`Fitting` records in the order of their stations.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from runoff.discharge.profile import LineProfile
from runoff.discharge.ways import Fitting
from runoff.rules import Rules

# Pipe and joints give this much without a fitting.
_GIVES = 5.0
_FOOT = 0.0
# In steps of 22.5 degrees.
_BENDS = (
    "22.5 degree bend",
    "45 degree bend",
    "45 and 22.5 degree bends",
    "two 45 degree bends",
    "two 45 and a 22.5 degree bends",
    "three 45 degree bends",
)


def bend_name(degrees: float) -> str:
    """The fitting for a turn, by the nearest angle sold; empty where the joints give enough.

    Two 45s rather than a 90, so that leaves and a snake pass.

    Examples
    --------
    >>> bend_name(3.0), bend_name(20.0), bend_name(50.0), bend_name(90.0)
    ('', '22.5 degree bend', '45 degree bend', 'two 45 degree bends')
    """
    if degrees < _GIVES:
        return ""
    return _BENDS[min(range(len(_BENDS)), key=lambda k: abs(22.5 * (k + 1) - degrees))]


def _why(what: str, degrees: float) -> str:
    """How much a line turns, and what to do where no bend is sold for that."""
    said = f"{what} by {degrees:.0f} degrees"
    spare = min(abs(22.5 * k - degrees) for k in range(1, len(_BENDS) + 1))
    return f"{said}; ease the pipe into the rest over the next lengths" if spare > 2 else said


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
) -> list[tuple[float, str]]:
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
    found = [(_FOOT, "at the foot of the leader")]
    last_bend = -math.inf
    for station, angle in bends:
        if angle > sharp + 1e-6 and station - last_bend >= rules["cleanout_bend_spacing"]:
            found.append((station, "at a bend of more than 45 degrees"))
            last_bend = station
    placed: list[tuple[float, str]] = []
    for (station, why), until in zip(found, [*[s for s, _ in found[1:]], length_m], strict=True):
        placed.append((station, why))
        gaps = max(1, math.ceil((until - station) / spacing - 1e-9))
        placed += [
            (station + k * (until - station) / gaps, "so that no stretch is too long to clean")
            for k in range(1, gaps)
        ]
    return placed


def fittings_of(
    corners: list[tuple[float, float]],
    profile: LineProfile,
    daylight: bool,
    leader: str,
    rules: Rules,
) -> tuple[Fitting, ...]:
    """All fittings of a line.

    Parameters
    ----------
    corners : stations (m) and angles (degrees) of the route's corners
    daylight : bool, whether it ends in the open
    leader : str, what the adapter joins, such as ``2 in x 3 in leader``
    """
    end, pipe = float(profile.stations_m[-1]), profile.pipe
    size = pipe.size
    found = [
        Fitting(
            _FOOT,
            "leaf screen with an overflow gap",
            "leaves stay out, and where the line is blocked the water comes out here and is seen",
        ),
        Fitting(_FOOT, f"adapter from the {leader} to {size} pipe", "the leader goes inside it"),
        Fitting(_FOOT, "two 45 degree bends", "from the leader into the line, not one 90"),
    ]
    for station, angle in corners:
        name = bend_name(angle)
        if name and station < end:
            found.append(Fitting(station, name, _why("the route turns", angle)))
    for station, angle in grade_turns(profile):
        name = bend_name(angle)
        if name and station < end:
            found.append(Fitting(station, name, _why("the grade changes", angle)))
    inside = [(station, angle) for station, angle in corners if station < end]
    for station, why in cleanout_stations(end, inside, rules):
        found.append(Fitting(station, "cleanout", why))
    if daylight:
        found.append(Fitting(end, f"{size} outlet grate", "animals stay out"))
    else:
        found.append(Fitting(end, f"{size} connection", "sealed where the line enters"))
    return tuple(sorted(found, key=lambda fitting: fitting.station_m))
