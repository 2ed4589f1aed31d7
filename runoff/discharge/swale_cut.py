"""A swale cut into the ground, and the water that then comes to it.

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

from runoff.discharge.lot import LotGround, lot_ground
from runoff.discharge.swale import SwaleSection
from runoff.flow.directions import CODE
from runoff.flow.drainage import fill
from runoff.flow.yard import runoff_coefficients
from runoff.site.model import Outlet, Site, Written
from runoff.terrain.model import Grid, Terrain

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


def _along(points: NDArray[np.float64], line: NDArray[np.float64]) -> tuple[NDArray, NDArray]:
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
