"""The safe discharge area: whether water can be let go in each cell of the lot, and why not.

In: the site, its ground made ready for storms, and a storm that has run. Out: a reason a cell. The
method is in docs/safe_discharge.md; the tests confirm it path by path.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from shapely import convex_hull, get_coordinates, get_parts, multipoints, union_all
from shapely.geometry.base import BaseGeometry

from runoff.flow.downspouts import SPREADS, TO_THE_STREET, public_sidewalks, straight_out
from runoff.flow.engine.compiled import in_blocks
from runoff.flow.engine.d_infinity import d_infinity_directions
from runoff.flow.engine.directions import CODE
from runoff.flow.model import LowSpot
from runoff.flow.paths import OUTLET_REACH
from runoff.flow.storm import LotFlow, StormRun
from runoff.foundation.model import SafeArea
from runoff.foundation.safe_strides import (
    LEAVES,
    STAYS,
    Lay,
    Limits,
    Steps,
    aim,
    beyond_sides,
    distances,
    fill_rings,
    join,
    judge,
    mark_ends,
    mark_level,
    outermost,
    overflows,
    pond_distances,
    spread,
    strides,
)
from runoff.site.model import OTHERS_GROUND, Site
from runoff.site.notices import Notice
from runoff.terrain.model import Grid, call_margin

Array = NDArray[np.float64]

# Fewer cells are not worth a second thread.
_SMALL = 20_000
# How far aside heights good to a third of an inch put a rim on ground of 3 %, metres: about a foot.
_RIM = 0.3048


def safe_discharge_area(
    site: Site, flow: LotFlow, run: StormRun, standing_depth: NDArray[np.float64]
) -> SafeArea:
    """Say of every cell of the lot whether water can be let go there.

    Parameters
    ----------
    standing_depth : (rows, cols) float64, metres, what the storm leaves standing

    Returns
    -------
    SafeArea
        The first reason of `REASONS` that holds. Where no lot is given every cell is answered, and
        water that reaches the survey's edge leaves the survey.

    References
    ----------
    Tarboton, D. G. (1997). A new method for the determination of flow directions and upslope areas
    in grid digital elevation models. Water Resources Research 33(2), 309-319.
    https://doi.org/10.1029/96WR03137

    Examples
    --------
    >>> from runoff.flow.let_go import prepare_flow, run_storm
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain.build import build_terrain
    >>> site = read_site(sample_folder() / "site.toml")
    >>> flow = prepare_flow(site, build_terrain(site))
    >>> run = run_storm(site, flow)
    >>> area = safe_discharge_area(site, flow, run, run.ponding.depth())
    >>> bool((area.code == 0).any())
    True
    """
    limits = limits_of(site, flow.grid)
    lay = _lay(site, flow, run, standing_depth, limits)
    size = flow.grid.rows * flow.grid.cols
    answer, goes_to = np.empty(size, np.uint8), np.zeros(size, np.int64)
    steep, out = np.empty(size), np.zeros(size, np.uint8)
    ends = np.empty(size, np.uint8)
    steps = Steps(np.empty(size), np.empty(size), np.empty(size, np.uint8), np.empty(size))
    step = run.ponding.depressions.basins.step
    sidewalk, outward = _sidewalks(site, flow.grid)
    if sidewalk.any() or outward.any():
        beyond_sides(lay, step, sidewalk, outward)
    mark_ends(lay, sidewalk, outward, ends)
    aim(lay, limits.near, ends, steps)
    in_blocks(
        lambda first, last: strides(lay, limits, ends, steps, first, last, answer, goes_to, steep),
        size,
        _SMALL,
    )
    level, aside = np.empty(size, np.uint8), _aside(site, flow.grid)
    told = call_margin(site.height_accuracy.sigma)
    if mark_level(lay, limits, told, aside, steep, answer, level):
        spread(lay, limits, steps, level, answer)
    join(answer, goes_to)
    judge(lay, limits, answer, steep, step, out)
    return SafeArea(out.reshape(flow.grid.rows, flow.grid.cols))


def limits_of(site: Site, grid: Grid) -> Limits:
    """What the rules and the survey's accuracy ask for; the first stretch in cells.

    The grade is the rule's, or the least that two heights can tell from level over the stretch
    where that is more.
    """
    rules = site.rules
    length = rules["discharge_grade_length"]
    told = call_margin(site.height_accuracy.sigma) / length if length > 0 else 0.0
    return Limits(
        near=rules["near_foundation"],
        pond=rules["pond_foundation_distance"],
        grade=max(rules["discharge_grade"], told),
        length=length / grid.cell_size,
        cell_size=grid.cell_size,
    )


def _lay(
    site: Site,
    flow: LotFlow,
    run: StormRun,
    depth: NDArray[np.float64],
    limits: Limits,
) -> Lay:
    terrain, grid = flow.terrain, flow.grid
    basins = run.ponding.depressions.basins
    away = _away(site, grid, max(limits.near, limits.pond))
    drain_to = _drains(flow, run)
    heights = terrain.surface
    if len(terrain.drains):
        # An inlet draws the water beside it as missing ground does.
        heights = np.where(drain_to.reshape(heights.shape) == STAYS, heights, np.nan)
    code = (basins.code & CODE).astype(np.uint8, copy=False)
    water = (terrain.surface + depth).ravel()
    onward, pond_away = _overflows(run, water, code, away, grid.cell_size)
    return Lay(
        ground=terrain.surface,
        water=water,
        angle=d_infinity_directions(heights, terrain.closed).ravel(),
        code=code,
        node=run.ponding.depressions.node,
        away=away.ravel(),
        on_lot=_on_lot(site, grid).ravel(),
        takes=_takes(site, grid).ravel(),
        drain_to=drain_to,
        sides=_sides(site, grid),
        onward=onward,
        pond_away=pond_away,
    )


def hanging_on_the_limit(site: Site, low_spots: Iterable[LowSpot]) -> list[Notice]:
    """A notice for each low spot that is just as far from a foundation as one must be, or not.

    Where its rim lies within a foot of `pond_foundation_distance`, heights and cells cannot tell
    on which side: all ground that drains to it is safe, or none of it.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.rules import Rules
    >>> rim = {"name": "low spot 1", "building": "house", "on_lot": True, "in_doubt": False}
    >>> near, far = (SimpleNamespace(wall_distance_m=d, **rim) for d in (2.9, 4.0))
    >>> site = SimpleNamespace(rules=Rules())
    >>> [each["distance_m"] for each in hanging_on_the_limit(site, [near, far])]
    [2.9]
    """
    asked = site.rules["pond_foundation_distance"]
    return [
        Notice(
            "pond at the limit",
            (spot.name, str(spot.building)),
            {"distance_m": spot.wall_distance_m, "asked_m": asked},
        )
        for spot in low_spots
        if spot.wall_distance_m is not None
        and spot.on_lot
        and not spot.in_doubt
        and abs(spot.wall_distance_m - asked) <= _RIM
    ]


def _edges(shape: BaseGeometry) -> NDArray[np.float64]:
    """The edges of a shape's rings, (m, 4) plan metres."""
    rings = [
        get_coordinates(ring)
        for part in get_parts(shape)
        for ring in (part.exterior, *part.interiors)
    ]
    return np.concatenate([np.hstack([ring[:-1], ring[1:]]) for ring in rings])


def _inside(shapes: list[BaseGeometry], grid: Grid) -> NDArray[np.bool_]:
    mask = np.zeros((grid.rows, grid.cols), bool)
    for shape in shapes:
        if not shape.is_empty:
            fill_rings(_edges(shape), *grid.centers(), mask)
    return mask


def _on_lot(site: Site, grid: Grid) -> NDArray[np.bool_]:
    if site.lot is None:
        return np.ones((grid.rows, grid.cols), bool)
    return _inside([site.lot.boundary], grid)


def _away(site: Site, grid: Grid, reach: float) -> NDArray[np.float64]:
    """Metres from each cell's center to the nearest foundation, as far as the limits reach."""
    away = np.full((grid.rows, grid.cols), np.inf)
    for building in site.buildings:
        x, y = grid.centers()
        distances(_edges(building.outline), x, y, reach + grid.cell_size, away)
    return away


def _aside(site: Site, grid: Grid) -> NDArray[np.float64]:
    """Metres from each cell's center to the nearest neighbor's side, as far as a first stretch."""
    aside = np.full((grid.rows, grid.cols), np.inf)
    sides = (
        [side.line for side in site.lot.sides if side.neighbor in OTHERS_GROUND] if site.lot else []
    )
    if sides:
        edges = np.array(sides, dtype=np.float64).reshape(-1, 4)
        reach = site.rules["discharge_grade_length"] + grid.cell_size
        distances(edges, *grid.centers(), reach, aside)
    return aside.ravel()


def places_that_take(site: Site) -> list[BaseGeometry]:
    """Where the lot's water may go: outlets, as far as they reach, and permitted easements."""
    outlets = [outlet.place.buffer(OUTLET_REACH) for outlet in site.outlets]
    return [*outlets, *(each.area for each in site.easements if each.may_take_water)]


def _takes(site: Site, grid: Grid) -> NDArray[np.bool_]:
    return _inside(places_that_take(site), grid)


def _sidewalks(site: Site, grid: Grid) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """The public sidewalks, and what lies straight before one toward a side along a street."""
    walks = [each.outline.buffer(SPREADS) for each in public_sidewalks(site)]
    sides = site.lot.sides if site.lot is not None else ()
    before = [
        swept(walk, -TO_THE_STREET * straight_out(site, side))
        for walk in walks
        for side in sides
        if side.neighbor == "street"
    ]
    return _inside(walks, grid).ravel(), _inside(before, grid).ravel()


def swept(shape: BaseGeometry, by: NDArray[np.float64]) -> BaseGeometry:
    """All places that a shape passes over as it is moved straight by (x, y) metres.

    Examples
    --------
    >>> from shapely import box
    >>> swept(box(0, 0, 2, 1), np.array([0.0, 3.0])).bounds
    (0.0, 0.0, 2.0, 4.0)
    """
    edges = _edges(shape).reshape(-1, 2, 2)
    paths = convex_hull(multipoints(np.concatenate([edges, edges + by], axis=1)))
    return union_all([shape, *paths])


def _drains(flow: LotFlow, run: StormRun) -> NDArray[np.int64]:
    """At the inlet of a drain that takes all that comes, where it leads; `STAYS` elsewhere."""
    to = np.full(flow.grid.rows * flow.grid.cols, STAYS, np.int64)
    for drain in flow.terrain.drains:
        if drain.name not in run.overwhelmed:
            outlet = LEAVES if drain.outlet is None else flow.flat(drain.outlet)
            to[flow.flat(drain.inlet)] = outlet
    return to


def _sides(site: Site, grid: Grid) -> NDArray[np.float64]:
    """The lot's sides in cells, with 1 where a neighbor lies beyond."""
    if site.lot is None:
        return np.empty((0, 5))
    lines = np.array([side.line for side in site.lot.sides], dtype=np.float64)
    ends = grid.in_cells(lines).reshape(-1, 4)
    neighbor = np.array(
        [side.neighbor in OTHERS_GROUND for side in site.lot.sides], dtype=np.float64
    )
    return np.column_stack([ends, neighbor])


def _overflows(
    run: StormRun, water: Array, code: NDArray[np.uint8], away: Array, cell_size: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """By leaf, where the water over it runs on, and how near its pond comes to a foundation.

    Ground that walls enclose stands at its walls.
    """
    found = run.ponding.depressions
    basins, tree = found.basins, found.hierarchy
    outer = np.zeros(tree.leaves + 1, np.int64)
    outermost(tree.parent, tree.left, tree.right, run.ponding.full, outer)
    onward = np.full(outer.size, STAYS, np.int64)
    overflows(
        *(basins.z, water, found.node, code, basins.step, outer),
        *(run.ponding.full, tree.spill_cell, tree.over, onward),
    )
    distance = np.full(tree.parent.size, np.inf)
    pond_distances(
        *(basins.z, found.node, outer, found.spill_height, away.ravel()),
        *(cell_size / 2, distance),
    )
    distance[tree.spill_cell < 0] = 0.0
    return onward, distance[outer]
