"""A buried line put together: its fittings, crossings, dig table, protection and cautions.

In: a line's bed and profile and where it ends. Out: the `BuriedLine` record.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from runoff.discharge.digging import DigRow, dig_table, instrument_height
from runoff.discharge.fittings import fittings_of, turns
from runoff.discharge.line_cautions import cautions_of, shallow_stretches
from runoff.discharge.line_levels import Bed
from runoff.discharge.line_water import end_protection, end_velocity, standing_back
from runoff.discharge.lot import LotGround
from runoff.discharge.obstacles import apron_beyond, crossings_on
from runoff.discharge.outlet import Apron
from runoff.discharge.pipes import PipeAtFlow
from runoff.discharge.profile import LineProfile
from runoff.discharge.routes import Route
from runoff.discharge.ways import BuriedLine, Caution, Crossing, Fitting, LineEnd, NotPossible
from runoff.quantities import Shown
from runoff.site.model import OTHERS_GROUND, Downspout, Outlet, Site

_ROWS_US, _ROWS_METRIC = 5 * 0.3048, 2.0
# Metres of a line's end that say in which direction its water flows out.
_LAST_LEG = 0.05


def assembled(
    ground: LotGround,
    downspout: Downspout,
    flow: PipeAtFlow,
    bed: Bed,
    profile: LineProfile,
    ends: LineEnd,
    outlet: Outlet | None,
) -> BuriedLine:
    """Everything to dig and buy by, from a line's profile."""
    site, route = ground.site, bed.route
    length = float(profile.stations_m[-1])
    head = standing_back(site, flow, profile, None if outlet is None else outlet.water)
    crossings = crossings_on(site, route, length, bed.trench.half_m)
    crossings = sorted([*crossings, *shallow_stretches(profile)], key=lambda c: c.start_m)
    corners = turns(route.points, route.corners_m)
    opens = profile.daylight_m is not None if outlet is None else outlet.kind != "storm inlet"
    fittings = fittings_of(corners, profile, opens, downspout.leader, site.rules)
    instrument, said = _instrument(site, profile)
    velocity = end_velocity(site, flow, profile)
    protection, apron = end_protection(site, flow, velocity, outlet) if opens else ("", None)
    end, start = route.at(length), (downspout.x, downspout.y)
    if apron is not None:
        back = route.at(max(length - _LAST_LEG, 0.0))
        said = (*said, *_apron_cautions(site, apron, end, (end[0] - back[0], end[1] - back[1])))
    near = _assumed_near(bed, profile)
    return BuriedLine(
        route=np.vstack([route.points[:1], *_inner(route, length), route.at(length)]),
        drawn=route.drawn,
        profile=profile,
        flow=flow,
        trench_width_m=bed.trench.width_m,
        greatest_cut_m=float(profile.cut_m.max()),
        rows=_rows(site, profile, fittings, crossings, instrument),
        instrument_m=instrument,
        fittings=fittings,
        crossings=tuple(crossings),
        ends=ends,
        end=end,
        head_m=head,
        apron=apron,
        protection=protection,
        cautions=(*cautions_of(site, profile, flow.pipe, crossings, near, outlet, start), *said),
        end_velocity_m_per_s=velocity,
    )


def _apron_cautions(
    site: Site, apron: Apron, end: tuple[float, float], toward: tuple[float, float]
) -> tuple[Caution, ...]:
    """Whose leave an apron that reaches over the lot's sides needs.

    Raises
    ------
    NotPossible
        Where it would lie on a neighbor's ground.
    """
    shown = Shown.of(site)
    beyond = apron_beyond(site, apron, end, toward)
    for side in beyond:
        if side.neighbor in OTHERS_GROUND:
            raise NotPossible(
                f"its stone apron, {shown.height(apron.length_m)} long, would lie on the "
                f"neighbor's ground beyond the '{side.name}' side"
            )
    return tuple(Caution("apron over side", side.name) for side in beyond)


def with_overflow_fitting(site: Site, line: BuriedLine, station_m: float) -> BuriedLine:
    """The line with a grated overflow fitting on it, among its fittings and in its dig table."""
    added = Fitting(station_m, "overflow fitting")
    fittings = tuple(sorted((*line.fittings, added), key=lambda each: each.station_m))
    rows = _rows(site, line.profile, fittings, line.crossings, line.instrument_m)
    return replace(line, fittings=fittings, rows=rows)


def _rows(
    site: Site,
    profile: LineProfile,
    fittings: Iterable[Fitting],
    crossings: Iterable[Crossing],
    instrument: float | None,
) -> tuple[DigRow, ...]:
    spacing = _ROWS_US if site.units == "ft" else _ROWS_METRIC
    also = _stations(fittings, crossings, float(profile.stations_m[-1]))
    return dig_table(profile, spacing, instrument, also)


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
    fittings: Iterable[Fitting], crossings: Iterable[Crossing], length: float
) -> list[float]:
    """Where the dig table has rows besides the regular ones."""
    marks = [fitting.station_m for fitting in fittings]
    marks += [station for each in crossings for station in (each.start_m, each.end_m)]
    marks = sorted(min(max(mark, 0.0), length) for mark in marks)
    return [m for k, m in enumerate(marks) if not k or m - marks[k - 1] > 1e-3]


def _instrument(site: Site, profile: LineProfile) -> tuple[float | None, tuple[Caution, ...]]:
    """Height of the line of sight, where the benchmark and the rod on it are given."""
    mark = site.benchmark
    if mark is None or mark.backsight is None:
        return None, ()
    height = instrument_height(mark.height, mark.backsight)
    highest = float(profile.invert_m.max())
    if height < highest:
        return None, (Caution("level too low", mark.name),)
    return height, ()
