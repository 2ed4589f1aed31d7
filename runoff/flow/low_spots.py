"""Low spots: the depressions of a lot that matter to its owner, with what the storm leaves in them.

A depression whose parts the storm did not join is told as its parts, where both are of any size;
else it is one low spot. What is too small to see is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.pouring import Ponding
from runoff.flow.let_go import all_let_go
from runoff.flow.model import LowSpot, Question
from runoff.flow.storm import LotFlow, StormRun, least_rain, water_of
from runoff.site.model import Site
from runoff.terrain.model import Grid, call_margin

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Smaller than this nobody would call it a low spot: metres at its deepest, and m3 (about 5 gal).
_LEAST_DEPTH = 0.01
_LEAST_VOLUME = 0.02
# A dip shallower than this share of a height's standard deviation is not told from noise. It is
# not the whole of it: neighboring heights share part of their error.
_SHARE_OF_SIGMA = 0.5
# The pit of a building in elevation data: as full as a box, this deep (m) and this large (m2).
_BOX, _SHEER, _ROOM = 0.7, 0.3, 15.0
# Rains that differ by no more than this share are told as one.
_SAME_RAIN = 0.02
# Where no lot is drawn, what lies this near a building counts as on it, metres (30 ft).
_ABOUT_A_BUILDING = 9.144

PondingOf = Callable[[float], Ponding]


def _depth(ponding: Ponding, d: int) -> float:
    """Greatest brim-full depth of a depression; unlimited for a terminal basin."""
    found = ponding.depressions
    return float(found.spill_height[d]) - found.lowest_height(d)


def _matters(ponding: Ponding, d: int, cell_area: float, sigma: float) -> bool:
    volume = ponding.depressions.capacity[d] * cell_area
    least_depth = max(_LEAST_DEPTH, _SHARE_OF_SIGMA * sigma)
    return volume >= _LEAST_VOLUME and _depth(ponding, d) >= least_depth


def depressions_that_matter(ponding: Ponding, cell_area: float, sigma: float) -> list[int]:
    """The depressions to be told as low spots, by number; `sigma` is a height's, metres."""
    tree, full = ponding.depressions.hierarchy, ponding.full
    told, pending = [], [d for d in range(1, tree.parent.size) if tree.parent[d] <= 0]
    while pending:
        d = pending.pop()
        if not _matters(ponding, d, cell_area, sigma):
            continue
        if d > tree.leaves:
            parts = int(tree.left[d]), int(tree.right[d])
            joined = all(full[part] for part in parts)
            if not joined and all(_matters(ponding, part, cell_area, sigma) for part in parts):
                pending += parts
                continue
        told.append(d)
    return told


def rain_to_fill(ponding_of: PondingOf, d: int, tried: float, then: Ponding) -> float:
    """Least rain (m) at which a depression overflows; infinite where 1 m of rain does not do it.

    Parameters
    ----------
    ponding_of : callable
        The ponding that a given rain (m) leaves on the same ground.
    d : int
    tried, then : float, metres, and Ponding
        A rain that has been run, and what it left.
    """
    found = then.depressions

    def beyond(rain: float) -> float:
        ponding = then if rain == tried else ponding_of(rain)
        if ponding.full[d]:
            return np.inf
        return min(ponding.held_in(d) - float(found.capacity[d]), 0.0)

    return least_rain(beyond, -float(found.capacity[d]), tried)


def low_spots_of(
    site: Site, grid: Grid, ponding: Ponding, depth: NDArray[np.float64], ponding_of: PondingOf
) -> tuple[dict[int, LowSpot], tuple[LowSpot, ...]]:
    """The low spots by depression number, and in order of the water that they hold on the lot.

    Parameters
    ----------
    depth : (rows, cols) float64, metres, the storm's standing depth
    ponding_of : the ponding that a given rain (m) leaves on the same ground
    """
    drafts = {
        d: _low_spot(site, grid, ponding, depth, d)
        for d in depressions_that_matter(ponding, grid.cell_area, site.height_accuracy.sigma)
    }
    order = sorted(drafts, key=lambda d: (not drafts[d].on_lot, -drafts[d].volume_m3))
    named = {
        d: replace(
            drafts[d],
            name=f"low spot {n}",
            rain_to_fill_m=rain_to_fill(ponding_of, d, site.storm.depth, ponding),
        )
        for n, d in enumerate(order, 1)
    }
    return named, tuple(named.values())


def with_divides(
    site: Site, flow: LotFlow, run: StormRun, spots: Mapping[int, LowSpot]
) -> dict[int, LowSpot]:
    """Low spots with the downspouts of which the heights do not tell whether they feed them.

    A downspout stands beside a divide where ground that is tilted as much as two heights' error
    over `foundation_reach` sends its water elsewhere, or a place a foot from it does.
    """
    tilt = call_margin(site.height_accuracy.sigma) / site.rules["foundation_reach"]
    ready, found = flow.ground_of(run), run.ponding.depressions
    waters = [(d.name, water_of(site, d, flow.terrain)) for d in site.downspouts]
    told = dict(spots)
    for number, spot in spots.items():
        leaves, otherwise, undecided = found.leaves_of(number), [], []
        for name, water in waters:
            (now,) = flow.comes_to(ready, [water])
            place = water.place or flow.grid.center(*water.cell)
            also = ready.running.also_from(place, flow.flat(water.cell), tilt)
            feeds = found.node[now] in leaves
            others = [cell for cell in also if (found.node[cell] in leaves) != feeds]
            if others and water.per_rain > 0:
                undecided.append(name)
                water = replace(water, cell=divmod(others[0], flow.grid.cols), place=None)
            otherwise.append(water)
        if undecided:
            feet = {water for _, water in waters}
            let_go = [w for w in all_let_go(site, flow.terrain) if w not in feet] + otherwise
            rain = rain_to_fill(
                partial(flow.run_as, run, let_go=let_go),
                *(number, site.storm.depth),
                flow.run_as(run, site.storm.depth, let_go),
            )
            if abs(rain - spot.rain_to_fill_m) > _SAME_RAIN * spot.rain_to_fill_m:
                told[number] = replace(spot, undecided=tuple(undecided), rain_otherwise_m=rain)
    return told


def _low_spot(
    site: Site, grid: Grid, ponding: Ponding, depth: NDArray[np.float64], d: int
) -> LowSpot:
    found, tree = ponding.depressions, ponding.depressions.hierarchy
    pond = found.pond_cells(d)
    rows, cols = pond // grid.cols, pond % grid.cols
    x, y = _positions(grid, rows, cols)
    terminal = bool(tree.spill_cell[d] < 0)
    spill = float("nan") if terminal else float(found.spill_height[d])
    wet = depth[rows, cols]
    storm_volume = ponding.held_in(d) * grid.cell_area
    storm_depth = ponding.greatest_depth(d)
    deepest = _depth(ponding, d)
    wall_distance, building = _nearest_wall(site, grid, x, y)
    pour_point: tuple[float, float] | None
    if d in found.surveyed:
        known = found.surveyed[d]
        x_lowest, y_lowest, _ = known.lowest
        lowest, pour_point, area = (x_lowest, y_lowest), known.pour_point, known.area
    else:
        lowest = _center(grid, int(pond[np.argmin(found.basins.z[pond])]))
        pour_point = None if terminal else _center(grid, int(tree.spill_cell[d]))
        area = float((wet > 0).sum() if terminal else len(pond))
    return LowSpot(
        name="",
        lowest=lowest,
        pour_point=pour_point,
        spill_height_m=spill,
        depth_m=storm_depth if terminal else deepest,
        volume_m3=storm_volume if terminal else float(found.capacity[d]) * grid.cell_area,
        area_m2=area * grid.cell_area,
        rain_to_fill_m=float("inf"),
        storm_depth_m=storm_depth,
        storm_volume_m3=storm_volume,
        overflows=bool(ponding.full[d]),
        terminal=terminal,
        wall_distance_m=wall_distance,
        building=building,
        on_lot=_on_lot(site, x, y, wall_distance),
        cells=np.column_stack([rows, cols]),
        question=""
        if terminal
        else _question(site, deepest, found.capacity[d] / area, area * grid.cell_area),
        in_doubt=not terminal and deepest <= call_margin(site.height_accuracy.sigma),
    )


def _question(site: Site, deepest: float, mean_depth: float, area: float) -> Question:
    """Whether a low spot looks like no ground: deep as no yard's is, or a box in elevation data.

    A cone's mean depth is a third of its greatest, a bowl's a half, a box's all of it.
    """
    if deepest >= site.rules["low_spot_questioned"]:
        return "deep"
    boxy = mean_depth >= _BOX * deepest and deepest >= _SHEER
    return "sheer" if site.elevation is not None and boxy and area >= _ROOM else ""


def _on_lot(site: Site, x: Floats, y: Floats, wall_distance: float | None) -> bool:
    from shapely import contains_xy

    if site.lot is not None:
        return bool(contains_xy(site.lot.boundary, x, y).any())
    return wall_distance is None or wall_distance <= _ABOUT_A_BUILDING


def _center(grid: Grid, cell: int) -> tuple[float, float]:
    return grid.center(cell // grid.cols, cell % grid.cols)


def _positions(
    grid: Grid, rows: Ints, cols: Ints
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x, y = grid.centers()
    return x[cols], y[rows]


def _nearest_wall(site: Site, grid: Grid, x: Floats, y: Floats) -> tuple[float | None, str]:
    """Distance (m) from these cells' edges to the nearest own wall, and the building's name."""
    if not site.own_buildings:
        return None, ""
    away = [_least_distance(b.outline, x, y) for b in site.own_buildings]
    nearest = int(np.argmin(away))
    return max(away[nearest] - grid.cell_size / 2, 0.0), site.own_buildings[nearest].name


def _least_distance(shape: BaseGeometry, x: Floats, y: Floats) -> float:
    """Least distance of some points to a shape; its bounds tell which points can be nearest."""
    from shapely import distance, points

    left, bottom, right, top = shape.bounds
    aside = np.maximum(np.maximum(left - x, x - right), 0.0)
    at_least = np.hypot(aside, np.maximum(np.maximum(bottom - y, y - top), 0.0))
    first = np.argmin(at_least)
    near = at_least <= distance(shape, points(x[first], y[first]))
    near[first] = True
    return float(distance(shape, points(x[near], y[near])).min())
