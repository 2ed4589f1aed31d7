"""A swale cut into the ground: its bottom along its line, and the water that then comes to it.

In: the ground along the line and on both banks, metres, and the section. Out: the bottom at every
station, or why there is none.

In: the lot's ground, the line and bottom of a swale, its section. Out: the ground with it, and the
flow of the yard and of other roofs that it takes, m3/s.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from runoff.discharge.ground import LotGround, lot_ground
from runoff.discharge.swale.section import SwaleSection
from runoff.flow.engine.directions import CODE
from runoff.flow.engine.drainage import fill
from runoff.flow.storm import runoff_coefficients
from runoff.site.model import Outlet, Site, Written
from runoff.terrain.model import Grid, Terrain

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ground:
    """What a swale meets along a line; arrays of shape (n,), metres.

    `middle` is the ground on the line, `low` and `high` the lowest and highest of it and of both
    banks. `grade` is the fall (m/m) asked for, `room` how far anything lies that the swale must
    not touch, and `safe` whether water may be let go.
    """

    stations: Array
    middle: Array
    low: Array
    high: Array
    grade: Array
    room: Array
    safe: NDArray[np.bool_]


@dataclass(frozen=True)
class Bottom:
    """A swale's bottom; arrays of shape (n,), metres. From `full_to` on its banks are lower."""

    stations: Array
    ground: Array
    bottom: Array
    full_to: float


@dataclass(frozen=True)
class Shortfall:
    """How near a bottom that lacks fall is to coming out; metres.

    At station `at` the lower bank must lie `asked` lower than at the swale's head (the depth there
    and the fall of the grade) and lies `found` lower; below 0 it lies higher. It is the station
    that has the most of what is asked, the farthest of them where several have.
    """

    at: float
    asked: float
    found: float

    @property
    def share(self) -> float:
        """How much of the fall asked is found."""
        return self.found / self.asked


@dataclass(frozen=True)
class NoBottom:
    """Why a line has no bottom: `no fall`, `unsafe end`, `no room` or `too deep`; station, m."""

    why: str
    at: float
    short: Shortfall | None = None


def lay_bottom(
    ground: Ground, section: SwaleSection, start: float, greatest_cut: float
) -> Bottom | NoBottom:
    """Lay the bottom of a swale that comes out of the ground as soon as it may.

    It starts at a height of `start` or lower, the section's depth under the lower bank. From there
    it keeps depth and grade (going down with the ground), up to a station from which it is held at
    the grade until it meets the lower bank. The first such station is taken for which the ground
    is safe from where the banks are lower than the section, the cut nowhere too deep, and the
    sides touch nothing.

    With S the fall that the grade asks for up to a station and h = low bank - depth + S, a bottom
    that keeps both is the running minimum of h, less S.

    Examples
    --------
    >>> x = np.linspace(0, 20, 201)
    >>> flat = np.full(201, 0.01)
    >>> z = 10 - 0.03 * x
    >>> clear, safe = np.full(201, 9.0), np.ones(201, bool)
    >>> found = lay_bottom(
    ...     Ground(x, z, z, z, flat, clear, safe), SwaleSection(0.3, 3, 0.2), 10, 0.6)
    >>> round(float(found.stations[-1]), 6)  # 0.2 m deep, 3 % of ground against 1 % of bottom
    10.0
    """
    x = ground.stations
    fall = np.concatenate([[0.0], np.cumsum(ground.grade[1:] * np.diff(x))])
    h = ground.low - section.depth_m + fall
    h[0] = min(h[0], start)
    level = np.minimum.accumulate(h)
    after = np.arange(x.size)[None, :] > np.arange(x.size)[:, None]
    out = after & ((ground.low + fall)[None, :] <= level[:, None])
    releases = np.flatnonzero(out.any(axis=1))
    if not releases.size:
        return NoBottom("no fall", float(x[-1]), _shortfall(ground, float(level[0]), fall))
    ends = out[releases].argmax(axis=1)
    worst = NoBottom("unsafe end", float(x[ends[0]]))
    for release, end in zip(releases.tolist(), ends.tolist(), strict=True):
        bottom = np.where(np.arange(x.size) < release, level, level[release]) - fall
        trouble = _trouble(ground, section, bottom, release, end, greatest_cut)
        if trouble is None:
            return _ended(ground, section, bottom, release, end)
        if trouble.why != "unsafe end":
            worst = trouble
            if trouble.at <= x[release]:
                break
    return worst


def _shortfall(ground: Ground, start: float, fall: Array) -> Shortfall:
    asked, found = ground.low[0] - start + fall, ground.low[0] - ground.low
    # The last station may lie in what ends the line.
    share = np.where(ground.room > 0, np.round(found / asked, 6), -np.inf)[1:]
    at = len(share) - int(share[::-1].argmax())
    return Shortfall(float(ground.stations[at]), float(asked[at]), float(found[at]))


def _trouble(
    ground: Ground,
    section: SwaleSection,
    bottom: Array,
    release: int,
    end: int,
    greatest_cut: float,
) -> NoBottom | None:
    x = ground.stations
    cut = np.maximum(ground.high - bottom, 0)[: end + 1]
    for why, bad in (
        ("no room", ground.room[: end + 1] < section.bottom_m / 2 + section.side_run * cut),
        ("too deep", (ground.middle - bottom)[: end + 1] > greatest_cut),
    ):
        if bad.any():
            return NoBottom(why, float(x[bad.argmax()]))
    run_out = slice(_first_shallow(ground, section, bottom, release), end + 1)
    return None if ground.safe[run_out].all() else NoBottom("unsafe end", float(x[end]))


def _first_shallow(ground: Ground, section: SwaleSection, bottom: Array, release: int) -> int:
    """The first station whose lower bank is lower than the section's depth."""
    shallow = ground.low - bottom < section.depth_m - 1e-9
    shallow[: release + 1] = False
    return int(shallow.argmax())


def _ended(ground: Ground, section: SwaleSection, bottom: Array, release: int, end: int) -> Bottom:
    """Cut the line off where the bottom meets the lower bank."""
    x, over = ground.stations, ground.low - bottom
    share = over[end - 1] / (over[end - 1] - over[end])
    last = x[end - 1] + share * (x[end] - x[end - 1])
    stations = np.append(x[:end], last)
    shallow = _first_shallow(ground, section, bottom, release)
    return Bottom(
        stations,
        np.interp(stations, x, ground.middle),
        np.interp(stations, x, bottom),
        float(x[max(shallow - 1, 0)]),
    )


# A channel narrower than this many cells would be broken up by the grid where it runs aslant.
_CELLS_WIDE = 1.5
_ALL_AROUND = 8


@dataclass(frozen=True)
class Cut:
    """A swale to cut: (k, 2) line, and along it (n,) stations and bottom, metres."""

    line: NDArray[np.float64]
    stations: NDArray[np.float64]
    bottom: NDArray[np.float64]
    section: SwaleSection


@dataclass(frozen=True)
class Dug:
    """The ground with a swale in it, as wide as it is dug, however wide the cells are."""

    before: Terrain
    cut: Cut

    @property
    def blur(self) -> float:
        """That of the ground before, metres."""
        return self.before.blur

    def heights(
        self,
        points: NDArray[np.float64],
        feet: NDArray[np.float64] | None = None,
        outward: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """As `Relief.heights`."""
        section = _section_heights(self.cut, self.cut.section.bottom_m / 2, points)
        return np.minimum(self.before.heights(points, feet, outward), section)


def cut_volume(cut: Cut, ground_m: NDArray[np.float64]) -> float:
    """Soil dug, m3: the section at the cut of each station, summed along the line."""
    depth = np.maximum(ground_m - cut.bottom, 0.0)
    area = (cut.section.bottom_m + cut.section.side_run * depth) * depth
    return float(np.trapezoid(area, cut.stations))


def with_cut(ground: LotGround, cut: Cut) -> LotGround:
    """The ground with a swale cut in, its storm run; the walls drain to it as to any swale."""
    what = ("cut", cut.line.tobytes(), cut.stations.tobytes(), cut.bottom.tobytes(), cut.section)
    return ground.once(what, lambda: _cut_into(ground, cut))


def _cut_into(ground: LotGround, cut: Cut) -> LotGround:
    terrain = ground.terrain
    x, y = np.meshgrid(*terrain.grid.centers())
    centers = np.column_stack([x.ravel(), y.ravel()])
    height = _section_heights(cut, half_width(cut, terrain.grid), centers).reshape(x.shape)
    new = np.fmin(terrain.ground, np.where(np.isnan(terrain.ground), np.nan, height))
    lowered = terrain.ground - new
    dug = lowered > 0
    # Nothing that dams water is left standing in a swale.
    surface = np.where(dug, new, terrain.surface)
    made = replace(terrain, ground=new, surface=surface, relief=Dug(terrain, cut), surveyed=new)
    return lot_ground(ground.site, made, _with_outlet(ground.site, cut))


def water_beside(ground: LotGround, cut: Cut, own: str) -> float:
    """What comes to a swale beside its own downspout's water, m3/s, at the lines' intensity.

    Counted are the yard that drains to it, each cell by its runoff coefficient, and the roofs and
    sumps whose water comes to it.
    """
    site, flow = ground.site, ground.flow
    comes = _upstream(ground, _channel(ground.terrain, cut))
    intensity = site.rains.line.intensity
    shares = runoff_coefficients(site, ground.terrain)[comes]
    total = float(shares.sum()) * flow.grid.cell_area * intensity
    for source in ground.sources:
        if source.name != f"downspout '{own}'":
            total += sum(
                each.per_rain * intensity + each.fixed / flow.duration
                for each in source.let_go
                if comes[each.cell]
            )
    return total


def half_width(cut: Cut, grid: Grid) -> float:
    """Half the width of the channel's bottom on the grid, metres."""
    return max(cut.section.bottom_m, _CELLS_WIDE * grid.cell_size) / 2


def _section_heights(cut: Cut, half_m: float, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height of the swale's section at (n, 2) places; it rises without end aside."""
    away, station = _along(points, cut.line)
    side = np.maximum(away - half_m, 0.0) / cut.section.side_run
    return np.interp(station, cut.stations, cut.bottom) + side


def _along(
    points: NDArray[np.float64], line: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Of (n, 2) places, the distance from a line and the station nearest to each, metres."""
    x, y = points.T
    away, station = np.full(x.shape, np.inf), np.zeros(x.shape)
    start = 0.0
    for (ax, ay), (bx, by) in pairwise(line):
        length = float(np.hypot(bx - ax, by - ay))
        ux, uy = (bx - ax) / length, (by - ay) / length
        along = np.clip((x - ax) * ux + (y - ay) * uy, 0.0, length)
        off = np.hypot(x - ax - along * ux, y - ay - along * uy)
        nearer = off < away
        away, station = np.where(nearer, off, away), np.where(nearer, start + along, station)
        start += length
    return away, station


def _channel(terrain: Terrain, cut: Cut) -> NDArray[np.bool_]:
    x, y = np.meshgrid(*terrain.grid.centers())
    away, _ = _along(np.column_stack([x.ravel(), y.ravel()]), cut.line)
    return (away.reshape(x.shape) <= half_width(cut, terrain.grid)) & ~np.isnan(terrain.ground)


def _upstream(ground: LotGround, channel: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Every cell whose water runs to the channel, low spots on its way brim-full."""
    basins = ground.run.ponding.depressions.basins
    code = (fill(basins)[1] & CODE).astype(np.int64)
    here = np.arange(code.size)
    steps = np.append(basins.step, 0)
    onward = here + steps[np.minimum(code, _ALL_AROUND)]
    onward[channel.ravel()] = here[channel.ravel()]
    while True:
        further = onward[onward]
        if (further == onward).all():
            return channel.ravel()[onward].reshape(channel.shape)
        onward = further


def _with_outlet(site: Site, cut: Cut) -> Site:
    swale = Outlet(
        "planned swale", "swale", LineString(cut.line), "", Written("", None, "planned swale")
    )
    return replace(site, outlets=(*site.outlets, swale))


def footprint(cut: Cut, ground_m: NDArray[np.float64]) -> shapely.Geometry:
    """The plan of a swale between the tops of its banks."""
    at = np.column_stack(
        [np.interp(cut.stations, corner_stations(cut.line), cut.line[:, k]) for k in (0, 1)]
    )
    depth = np.maximum(ground_m - cut.bottom, 0.0)
    widths = cut.section.bottom_m / 2 + cut.section.side_run * depth
    pieces = [
        LineString([a, b]).buffer(max(wide, 1e-3), cap_style="flat")
        for a, b, wide in zip(at[:-1], at[1:], np.minimum(widths[:-1], widths[1:]), strict=True)
    ]
    return shapely.union_all(pieces)


def corner_stations(line: NDArray[np.float64]) -> NDArray[np.float64]:
    """Stations (m) of a line's corners."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
