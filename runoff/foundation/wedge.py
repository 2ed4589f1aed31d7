"""Correcting the grade: the wedge of soil that makes a failing run of wall pass.

In: a site, its terrain, the runs of wall and the storm's water. Out: `SoilWedge` records.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from runoff.foundation.grade import ROUNDING, WET, limits_of, water_beside
from runoff.foundation.model import SoilWedge, Station, Verdict, WallRun
from runoff.foundation.stations import Array, Profiles, Stations, measure
from runoff.foundation.wedge_limits import Fill, clearance_shortage, refusal
from runoff.foundation.wedge_words import wedge_sentence
from runoff.site.model import Site
from runoff.terrain.model import Grid, Terrain

FAILING: tuple[Verdict, ...] = ("too flat", "slopes back", "holds water")

_BESIDE_CELLS = 3.0
"""Cells by which the soil runs on past a run's ends, so that its last stations lie on it."""
_MOST_LIFTS = 10
_LIFT_MARGIN = 1e-4


def soil_wedges(
    site: Site, terrain: Terrain, runs: Sequence[WallRun], standing_depth: Array
) -> tuple[SoilWedge, ...]:
    """The soil that would make each failing run of wall pass, or why soil cannot.

    Along each profile the ground is raised to the plane that falls at the required grade from the
    wall and meets the existing ground within the profile's reach; where the ground beyond rises
    against the wall, the low place is filled too.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    runs : sequence of WallRun
    standing_depth : (rows, cols) float64, metres

    Returns
    -------
    tuple of SoilWedge, one for each run that is too flat, slopes back or holds water
        None where the heights give an indication only.
    """
    wedges = []
    for run in runs:
        members = [s for s in run.stations if s.reach > ROUNDING and np.isfinite(s.required)]
        if run.verdict in FAILING and members and not run.indication:
            wedges.append(_wedge(site, terrain, run, members, standing_depth))
    return tuple(wedges)


def apply_wedge(terrain: Terrain, wedge: SoilWedge) -> Terrain:
    """The terrain with a wedge of soil placed on it.

    Parameters
    ----------
    terrain : Terrain
        The one that the wedge was made for.
    wedge : SoilWedge

    Returns
    -------
    Terrain
    """
    rows, cols = wedge.cells.T
    ground, surface = terrain.ground.copy(), terrain.surface.copy()
    ground[rows, cols] += wedge.raised
    surface[rows, cols] += wedge.raised
    return replace(terrain, ground=ground, surface=surface)


def _wedge(
    site: Site, terrain: Terrain, run: WallRun, members: list[Station], standing_depth: Array
) -> SoilWedge:
    stations = _stations_of(members)
    profiles = measure(terrain, stations, _ends(stations))
    fill = _fill(site, members, profiles)
    short_by = clearance_shortage(site, run, members, fill)
    refused = refusal(
        site, terrain, stations, fill, _left_standing(terrain, stations, fill, standing_depth)
    )
    wedge = SoilWedge(
        run=run,
        compacted=0.0,
        loose=0.0,
        height=float(fill.depth[:, 0].max()),
        out=float(fill.toe.max()),
        short_by=short_by,
        refused=refused,
        sentence="",
    )
    if not refused and not short_by:
        compacted = _volume(run, fill)
        cells, raised = _raise_until_it_passes(site, terrain, members, stations, fill)
        wedge = replace(
            wedge,
            compacted=compacted,
            loose=compacted * site.rules["soil_bulking"],
            cells=cells,
            raised=raised,
        )
    return replace(wedge, sentence=wedge_sentence(site, wedge))


def _stations_of(members: Sequence[Station]) -> Stations:
    return Stations(
        walls=(),
        wall=np.zeros(len(members), dtype=np.int64),
        along=np.array([s.along for s in members]),
        feet=np.array([s.foot for s in members]),
        outward=np.array([s.outward for s in members]),
        reach=np.array([s.reach for s in members]),
        cut_by=tuple(s.cut_by for s in members),
    )


def _ends(stations: Stations) -> Array:
    return stations.feet + stations.reach[:, None] * stations.outward


def _fill(site: Site, members: Sequence[Station], profiles: Profiles) -> Fill:
    """The soil over each profile: nothing where the station drains away as it is."""
    out, z = profiles.out, profiles.z
    grade = np.array([s.required / s.reach for s in members])
    wanting = np.array([s.verdict != "drains away" for s in members])
    over = np.where(np.isfinite(z), z + grade[:, None] * out, -np.inf)
    top = over.max(axis=1)
    # The last sample that the plane touches is where it meets the ground.
    touch = over.shape[1] - 1 - (over[:, ::-1] >= top[:, None] - ROUNDING).argmax(axis=1)
    inside = np.arange(over.shape[1])[None, :] <= touch[:, None]
    level = np.fmax.accumulate(np.where(np.isfinite(z), z, -np.inf)[:, ::-1], axis=1)[:, ::-1]
    low = np.nan_to_num(level - z)
    traps = np.where(inside, 0.0, low).max(axis=1) > site.rules["rise_against_wall"]
    beyond = np.where(traps[:, None], low, 0.0)
    depth = np.where(inside, top[:, None] - over, beyond)
    depth = np.where(wanting[:, None], np.maximum(depth, 0.0), 0.0)
    depth[depth < ROUNDING] = 0.0
    filled = depth > 0
    last = depth.shape[1] - 1 - filled[:, ::-1].argmax(axis=1)
    line = np.arange(len(out))
    toe = np.where(filled.any(axis=1), out[line, np.minimum(last + 1, depth.shape[1] - 1)], 0.0)
    return Fill(out=out, depth=depth, toe=toe, top=np.where(wanting, top, z[:, 0]))


def _left_standing(terrain: Terrain, stations: Stations, fill: Fill, standing_depth: Array):
    """How far the storm's water stands above the corrected ground at the wall, metres."""
    deep = water_beside(terrain, stations, standing_depth)
    level = fill.top - fill.depth[:, 0] + deep
    return float(np.where(deep > WET, level - fill.top, -np.inf).max())


def _volume(run: WallRun, fill: Fill) -> float:
    width = (run.end - run.start) / len(run.stations)
    return float(np.trapezoid(fill.depth, fill.out, axis=1).sum() * width)


def _raise_until_it_passes(
    site: Site, terrain: Terrain, members: Sequence[Station], stations: Stations, fill: Fill
) -> tuple[NDArray[np.int64], Array]:
    """The cells that the soil covers and how much it raises each.

    A grid rounds the toe off, so the top is lifted by the little that is then wanting.
    """
    required = np.array([s.required for s in members])
    rise_limit = limits_of(site, terrain).rise
    covered = _covered(site, terrain, stations, float(fill.toe.max()))
    lift = np.zeros(len(members))
    rows, cols = covered.cells.T
    before = terrain.ground[rows, cols]
    after = replace(terrain, ground=terrain.ground.copy())
    for _ in range(_MOST_LIFTS):
        raised = _raised(stations, _lifted(fill, lift), covered)
        after.ground[rows, cols] = before + raised
        made = measure(after, stations, _ends(stations))
        wanting = np.maximum(required - made.fall, made.rise - rise_limit)
        wanting = np.where(wanting > ROUNDING / 2, wanting + _LIFT_MARGIN, 0.0)
        if not wanting.any():
            break
        # A station's cells are its neighbors' too.
        lift += maximum_filter1d(wanting, 3, mode="nearest")
    keep = raised > 0
    return covered.cells[keep], raised[keep]


@dataclass(frozen=True)
class _Covered:
    """Open cells before a run: (k, 2) rows and columns, metres along the wall and out from it."""

    cells: NDArray[np.int64]
    along: Array
    out: Array


def _lifted(fill: Fill, lift: Array) -> Fill:
    """The fill with its top raised at the wall, running out to nothing at its toe."""
    toe = np.maximum(fill.toe, ROUNDING)[:, None]
    share = np.clip(1.0 - fill.out / toe, 0.0, None)
    return replace(fill, depth=fill.depth + lift[:, None] * share)


def _covered(site: Site, terrain: Terrain, stations: Stations, toe: float) -> _Covered:
    grid = terrain.grid
    beside = _BESIDE_CELLS * grid.cell_size
    rows, cols = _window(grid, stations, toe + 2 * beside)
    centers_x, centers_y = grid.centers()
    row, col = (v.ravel() for v in np.meshgrid(rows, cols, indexing="ij"))
    x, y = centers_x[col], centers_y[row]
    away = stations.outward[0]
    along_wall = np.array([-away[1], away[0]])
    if len(stations.feet) > 1 and (stations.feet[-1] - stations.feet[0]) @ along_wall < 0:
        along_wall = -along_wall
    from_first = np.stack([x, y], axis=1) - stations.feet[0]
    along = stations.along[0] + from_first @ along_wall
    out = from_first @ away
    near = (along >= stations.along[0] - beside) & (along <= stations.along[-1] + beside)
    near &= (out >= -grid.cell_size) & (out <= toe + grid.cell_size)
    near &= np.isfinite(terrain.ground[row, col])
    if site.lot is not None:
        at = np.flatnonzero(near)
        near[at] = shapely.contains_xy(site.lot.boundary, x[at], y[at])
    at = np.flatnonzero(near)
    return _Covered(np.stack([row[at], col[at]], axis=1), along[at], out[at])


def _window(grid: Grid, stations: Stations, margin: float):
    """Rows and columns of the cells within a margin of the stations' feet."""
    left, bottom = stations.feet.min(axis=0) - margin
    right, top = stations.feet.max(axis=0) + margin
    last_row, first_col = grid.cell(left, bottom)
    first_row, last_col = grid.cell(right, top)
    rows = np.arange(max(first_row, 0), min(last_row + 1, grid.rows))
    return rows, np.arange(max(first_col, 0), min(last_col + 1, grid.cols))


def _raised(stations: Stations, fill: Fill, covered: _Covered) -> Array:
    """The fill's depth at each cell, linear between stations and between samples."""
    count = len(stations.along)
    place = np.interp(covered.along, stations.along, np.arange(count))
    first = np.minimum(place.astype(np.int64), max(count - 2, 0))
    share = place - first
    second = np.minimum(first + 1, count - 1)
    one, other = (_depth_at(stations, fill, covered, k) for k in (first, second))
    return np.maximum((1 - share) * one + share * other, 0.0)


def _depth_at(stations: Stations, fill: Fill, covered: _Covered, which: NDArray[np.int64]) -> Array:
    # A window well's profile starts at its rim, out from the line of the wall.
    rim = ((stations.feet - stations.feet[0]) * stations.outward).sum(axis=1)
    out = covered.out - rim[which]
    samples = fill.out.shape[1]
    step = fill.out[which, -1] / (samples - 1)
    place = out / step
    low = np.clip(np.floor(place).astype(np.int64), 0, samples - 2)
    share = place - low
    depth = fill.depth[which, low] * (1 - share) + fill.depth[which, low + 1] * share
    return np.where(place > samples - 1, 0.0, depth)
