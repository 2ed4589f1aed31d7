"""Standing water near a foundation: which low spots, how much wall they wet, what feeds them.

In: the storm and the low spots it fills. Out: one record for each low spot within reach of a wall.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.directions import CODE, OUTSIDE
from runoff.flow.engine.pouring import over_the_saddle
from runoff.flow.let_go import Source, sources_of
from runoff.flow.model import LowSpot
from runoff.flow.paths import ENDS_AT_INLET, Surface, first_ending, follow_storm, storm_surface
from runoff.flow.storm import LotFlow, StormRun
from runoff.foundation.model import Spill, StandingWater, WettedWall
from runoff.foundation.openings import Feeds
from runoff.foundation.walls import WELLS, Wall, walls_of, well_footprint
from runoff.site.model import Site

Array = NDArray[np.float64]

_BESIDE_IT = Spill("dip", joins=True)
# How far out of a wall its first open cell is looked for, in cells.
_OUT = (0.1, 0.5, 0.9, 1.3)


def standing_near_walls(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    low_spots: tuple[LowSpot, ...],
    spots_by_depression: Mapping[int, LowSpot],
    standing_depth: NDArray[np.float64],
    sources: Sequence[Source] | None = None,
) -> tuple[StandingWater, ...]:
    """Tell of every low spot within the foundation's reach what feeds it and where it spills.

    A window well or stairwell that the survey shows as a hole is an opening, no low spot.

    Parameters
    ----------
    site : Site
    flow : LotFlow
    run : StormRun
    low_spots : tuple of LowSpot
    spots_by_depression : mapping of the same by depression number
    standing_depth : (rows, cols) float64, metres
    sources : sequence of Source, optional
        What brings water to points, as the storm was run with; by default all that the site has.

    Examples
    --------
    >>> from runoff.flow.let_go import prepare_flow
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> terrain = build_terrain(site)
    >>> flow = prepare_flow(site, terrain)
    >>> run = flow.run(site.storm.depth, [])
    >>> standing_near_walls(site, flow, run, (), {}, run.ponding.depth())
    ()
    """
    wells = _well_cells(site, flow)
    near = [
        spot
        for spot in low_spots
        if spot.wall_distance_m is not None
        and spot.wall_distance_m <= site.rules["foundation_reach"]
        and not set(_flat(flow, spot)) <= wells
    ]
    if not near:
        return ()
    sources = sources_of(site, flow.terrain) if sources is None else sources
    feeds = Feeds(site, flow, run, sources, site.storm.depth)
    number = {spot.name: d for d, spot in spots_by_depression.items()}
    surface = storm_surface(run.ponding, flow.terrain.surface, flow.terrain.closed)
    steps = _wall_steps(site, flow)
    found = []
    for spot in near:
        d = number[spot.name]
        wetted = _wetted(flow, spot, standing_depth, steps)
        water = StandingWater(
            low_spot=spot.name,
            building=spot.building,
            distance_m=spot.wall_distance_m or 0.0,
            depth_m=spot.depth_m,
            volume_m3=spot.volume_m3,
            area_m2=spot.area_m2,
            storm_depth_m=spot.storm_depth_m,
            storm_volume_m3=spot.storm_volume_m3,
            wetted_m=float(sum(wall.length_m for wall in wetted)),
            rain_to_fill_m=spot.rain_to_fill_m,
            feeds_m3=feeds.into(d),
            spills_to=_spills_to(site, flow, run, surface, spots_by_depression, d),
            walls=wetted,
            overflows=spot.overflows,
            undecided=spot.undecided,
            rain_otherwise_m=spot.rain_otherwise_m,
        )
        found.append(water)
    return tuple(found)


def _flat(flow: LotFlow, spot: LowSpot) -> list[int]:
    return [int(cell) for cell in spot.cells @ np.array([flow.grid.cols, 1])]


def _well_cells(site: Site, flow: LotFlow) -> set[int]:
    """Cells that the window wells and stairwells take, their edge included."""
    from shapely import contains_xy

    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    wells = [opening for opening in site.openings if opening.kind in WELLS]
    if not wells:
        return set()
    x, y = np.meshgrid(*flow.grid.centers())
    taken: set[int] = set()
    for well in wells:
        wall = walls[well.building, well.wall]
        footprint = well_footprint(wall, well, flow.grid.cell_size / 2)
        taken |= {int(cell) for cell in np.flatnonzero(contains_xy(footprint, x, y))}
    return taken


@dataclass(frozen=True)
class _WallSteps:
    """Steps of at most a cell along one wall: (n,) the first open cell out, -1 if none; metres."""

    wall: Wall
    beside: NDArray[np.int64]
    length: float


def _wall_steps(site: Site, flow: LotFlow) -> list[_WallSteps]:
    """Every outside wall in steps of at most a cell."""
    steps = []
    for wall in walls_of(site.own_buildings):
        count = int(np.ceil(wall.length / flow.grid.cell_size))
        along = (np.arange(count) + 0.5) / count * wall.length
        steps.append(_WallSteps(wall, _first_open(flow, wall, along), wall.length / count))
    return steps


def _first_open(flow: LotFlow, wall: Wall, along: NDArray[np.float64]) -> NDArray[np.int64]:
    """The first open cell out from each place along a wall; -1 where there is no ground."""
    terrain, grid = flow.terrain, flow.grid
    out = grid.cell_size * np.array(_OUT)
    places = wall.point(np.repeat(along, out.size), np.tile(out, along.size))
    rows, cols, held = grid.cells_of(places)
    flat = rows * grid.cols + cols
    is_open = (held & ~terrain.closed.ravel()[flat]).reshape(along.size, out.size)
    first = flat[np.arange(along.size) * out.size + is_open.argmax(axis=1)]
    known = is_open.any(axis=1) & ~np.isnan(terrain.surface.ravel()[first])
    return np.where(known, first, -1)


def _wetted(
    flow: LotFlow, spot: LowSpot, standing_depth: Array, steps: Sequence[_WallSteps]
) -> tuple[WettedWall, ...]:
    """The walls that the storm's water in a low spot touches, the most wetted first."""
    wet = [cell for cell in _flat(flow, spot) if standing_depth.flat[cell] > 0]
    if not wet:
        return ()
    touched = []
    for step in steps:
        length = float(np.isin(step.beside, wet).sum() * step.length)
        if length > 0:
            wall = step.wall
            touched.append(WettedWall(wall.building, wall.number, wall.name, length))
    return tuple(sorted(touched, key=lambda wall: -wall.length_m))


def _spills_to(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    surface: Surface,
    spots: Mapping[int, LowSpot],
    depression: int,
) -> Spill:
    """Where a low spot's overflow comes to: a low spot on the lot, a side, an outlet, a drain.

    Dips too small to be told, and low spots off the lot, are passed as if brim-full.
    """
    tree = run.ponding.depressions.hierarchy
    if tree.spill_cell[depression] < 0:
        return Spill("nowhere")
    leaf = int(tree.over[depression])
    if leaf > 0:
        told = leaf
        while told > 0 and told not in spots:
            told = int(tree.parent[told])
        if told > 0 and spots[told].on_lot:
            # Over one saddle: where the other is full already, this one rises until they are one.
            joins = run.ponding.full[told] and tree.parent[told] == tree.parent[depression] > 0
            return Spill("low spot", spots[told].name, bool(joins))
    return _leaves_by(site, flow, run, surface, spots, depression)


def _leaves_by(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    surface: Surface,
    spots: Mapping[int, LowSpot],
    depression: int,
) -> Spill:
    """The side, outlet, drain or edge that the overflow's path meets."""
    found, grid = run.ponding.depressions, flow.grid
    tree, basins = found.hierarchy, found.basins
    cell = int(tree.spill_cell[depression])
    if basins.code[cell] & CODE < OUTSIDE:
        cell = over_the_saddle(basins, cell, int(tree.over[depression]))
    way = follow_storm(surface, run.ponding, float(cell % grid.cols), float(cell // grid.cols))
    passed = [spots[d].name for d in way.crossed if d in spots and spots[d].on_lot]
    if passed:
        back = passed[0] == spots[depression].name
        return _BESIDE_IT if back else Spill("low spot", passed[0])
    # From its deepest place on, so that a pond that itself lies across a side leaves over it.
    path = np.vstack([spots[depression].lowest, grid.on_plan(way.points)])
    ending = first_ending(site, path)
    if ending is not None:
        end = ending[0]
        return Spill("lot side" if end.kind == "lot side" else "outlet", end.name)
    if way.end == ENDS_AT_INLET:
        inlets = {flow.flat(drain.inlet): drain.name for drain in flow.terrain.drains}
        return Spill("drain", inlets.get(way.cell, ""))
    leaf = int(found.node[way.cell])
    return _dip(run, spots, leaf, depression) if leaf > 0 else Spill("survey edge")


def _dip(run: StormRun, spots: Mapping[int, LowSpot], leaf: int, depression: int) -> Spill:
    parent, told = run.ponding.depressions.hierarchy.parent, leaf
    while told > 0 and told not in spots:
        told = int(parent[told])
    if told == depression:
        return _BESIDE_IT
    return Spill("low spot", spots[told].name) if told > 0 else Spill("dip")
