"""A buried line put together: its fittings, crossings, dig table, protection and cautions.

In: a line's bed and profile and where it ends. Out: the `BuriedLine` record.
"""

from __future__ import annotations

import numpy as np

from runoff.discharge.digging import dig_table, instrument_height
from runoff.discharge.fittings import fittings_of, turns
from runoff.discharge.line_cautions import cautions_of, shallow_stretches
from runoff.discharge.line_levels import Bed
from runoff.discharge.line_water import end_protection, standing_back
from runoff.discharge.lot import LotGround
from runoff.discharge.obstacles import crossings_on
from runoff.discharge.pipes import PipeAtFlow
from runoff.discharge.profile import LineProfile
from runoff.discharge.routes import Route
from runoff.discharge.ways import BuriedLine, Crossing, Fitting
from runoff.quantities import format_length
from runoff.site.model import Downspout, Outlet, Site

_ROWS_US, _ROWS_METRIC = 5 * 0.3048, 2.0


def assembled(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    bed: Bed,
    profile: LineProfile,
    ends: str,
    outlet: Outlet | None,
) -> BuriedLine:
    """Everything to dig and buy by, from a line's profile."""
    site, route = ground.site, bed.route
    length = float(profile.stations_m[-1])
    head = standing_back(site, flow, profile, None if outlet is None else outlet.water)
    crossings = crossings_on(site, route, length, bed.trench.half_m)
    crossings = sorted([*crossings, *shallow_stretches(site, profile)], key=lambda c: c.start_m)
    corners = turns(route.points, route.corners_m)
    opens = profile.daylight_m is not None if outlet is None else outlet.kind != "storm inlet"
    fittings = fittings_of(corners, profile, opens, _leader_words(site, downspout), site.rules)
    instrument, said = _instrument(site, profile)
    also = _stations(fittings, crossings, length)
    protection, apron = end_protection(site, flow, profile, outlet) if opens else ("", None)
    start = (downspout.x, downspout.y)
    near = _assumed_near(bed, profile)
    return BuriedLine(
        route=np.vstack([route.points[:1], *_inner(route, length), route.at(length)]),
        drawn=route.drawn,
        profile=profile,
        flow=flow,
        trench_width_m=bed.trench.width_m,
        greatest_cut_m=float(profile.cut_m.max()),
        rows=dig_table(profile, _ROWS_US if site.units == "ft" else _ROWS_METRIC, instrument, also),
        instrument_m=instrument,
        fittings=fittings,
        crossings=tuple(crossings),
        ends=ends,
        end=route.at(length),
        head_m=head,
        apron=apron,
        protection=protection,
        cautions=(*cautions_of(site, profile, flow, crossings, near, outlet, start), *said),
    )


def _inner(route: Route, length: float) -> list[np.ndarray]:
    return [
        corner[None, :]
        for corner, station in zip(route.points[1:-1], route.corners_m, strict=True)
        if station < length - 1e-3
    ]


def _assumed_near(bed: Bed, profile: LineProfile) -> tuple[str, ...]:
    """The buildings of assumed footing whose 45 degree line comes near this trench."""
    names = bed.footings.assumed
    lowest = np.interp(profile.stations_m, bed.route.stations_m, bed.footings.lowest_m.clip(-1e9))
    return names if (lowest > profile.bottom_m - 1.0).any() else ()


def _stations(
    fittings: tuple[Fitting, ...], crossings: list[Crossing], length: float
) -> list[float]:
    """Where the dig table has rows besides the regular ones."""
    marks = [fitting.station_m for fitting in fittings]
    marks += [station for each in crossings for station in (each.start_m, each.end_m)]
    marks = sorted(min(max(mark, 0.0), length) for mark in marks)
    return [m for k, m in enumerate(marks) if not k or m - marks[k - 1] > 1e-3]


def _instrument(site: Site, profile: LineProfile) -> tuple[float | None, tuple[str, ...]]:
    """Height of the line of sight, where the benchmark and the rod on it are given."""
    mark = site.benchmark
    if mark is None or mark.backsight is None:
        return None, ()
    height = instrument_height(mark.height, mark.backsight)
    highest = float(profile.invert_m.max())
    if height < highest:
        return None, (
            f"From the backsight on '{mark.name}' the level stands below part of this line: set "
            "it up higher for rod readings.",
        )
    return height, ()


def _leader_words(site: Site, downspout: Downspout) -> str:
    leader = downspout.leader
    if leader is None:
        return "leader"
    if leader.shape == "round":
        return f"{_length(site, leader.width)} round leader"
    return f"{_length(site, leader.width)} x {_length(site, leader.depth)} leader"


def _length(site: Site, metres: float) -> str:
    return format_length(metres, "us" if site.units == "ft" else "metric", 4)
