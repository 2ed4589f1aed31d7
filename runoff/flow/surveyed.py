"""Depressions found on cells, measured on the surveyed surface that the cells were read from.

A grid tells which depressions there are and where the water of each place runs; how high one spills
and what it holds hang on where the cells happen to lie. Both are taken from the triangulated
ground. Where the ground was changed since (a barrier, soil, a swale), its cells tell the volume,
and the surveyed corner the spill height where it is still as it was.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from runoff.flow.engine.basins import Hierarchy
from runoff.flow.engine.depressions import Depressions, Pond, with_spill_heights
from runoff.flow.engine.triangles import Hollows, find_hollows
from runoff.terrain.model import Grid, Terrain, TriangulatedGround
from runoff.terrain.sampling import sample_triangles

# Depressions on the grid that hold less, m3, are left as their cells tell.
_LEAST_VOLUME = 0.005
# Two ponds are one where they share this much of what either holds ...
_SHARED = 0.2
# ... and a pond on the grid is none on the ground where this little of it is any.
_NOT_SHARED = 0.05
# A corner this many cells from where a depression spills on the grid is the place where it does.
_BESIDE = 2.5
_EVERY_NEIGHBOR = np.ones((3, 3), bool)


@dataclass(frozen=True)
class _Hollow:
    """One depression of the surveyed surface; areas and volumes in cells, as the grid's are."""

    hollows: Hollows
    number: int
    cell_area: float

    @property
    def lowest(self) -> tuple[float, float, float]:
        x, y, z = self.hollows.xyz[self.hollows.bottom(self.number)].tolist()
        return x, y, z

    @property
    def pour_point(self) -> tuple[float, float]:
        x, y, _ = self.hollows.xyz[self.hollows.hierarchy.spill_cell[self.number]].tolist()
        return x, y

    @property
    def spill_height(self) -> float:
        return float(self.hollows.spill_height[self.number])

    @property
    def area(self) -> float:
        return self.hollows.wet_area(self.number, self.spill_height) / self.cell_area

    @property
    def capacity(self) -> float:
        return self.hollows.volume(self.number, self.spill_height) / self.cell_area

    def level(self, volume: float) -> float:
        return self.hollows.level(self.number, volume * self.cell_area)


@dataclass(frozen=True)
class _SideBySide:
    """Ponds that the grid joins and the ground does not: each spills for itself, about as high."""

    parts: Sequence[Pond]
    spill_height: float

    @property
    def lowest(self) -> tuple[float, float, float]:
        return min((part.lowest for part in self.parts), key=lambda place: place[2])

    @property
    def pour_point(self) -> tuple[float, float]:
        return max(self.parts, key=lambda part: part.spill_height).pour_point

    @property
    def area(self) -> float:
        return sum(part.area for part in self.parts)

    def level(self, volume: float) -> float:
        return self.spill_height  # all full: else its parts are asked


@dataclass(frozen=True)
class _Pair:
    """A depression on the grid and the one on the surveyed ground that it shares most with.

    `leaf` is the innermost hollow under most of its pond, `hollow` the one that it is; 0 where
    there is none. `shared` is the part of both ponds together that is in both, `of_its_own` the
    part of the grid's pond that is a pond on the ground at all. `changed` says whether the ground
    in it or beside it is no longer as it was surveyed.
    """

    depression: int
    leaf: int
    hollow: int
    shared: float
    of_its_own: float
    changed: bool


def on_surveyed_ground(found: Depressions, terrain: Terrain, drains: Iterable[str]) -> Depressions:
    """The depressions of a terrain's grid with the spill heights and volumes of its survey.

    Parameters
    ----------
    found : Depressions
        As the cells tell.
    terrain : Terrain
    drains : names of the drains that are open

    Returns
    -------
    Depressions
        The same ones, in the same order. Those of elevation data are left as they are.
    """
    ground = terrain.triangulated
    if ground is None or not found.hierarchy.leaves:
        return found
    grid = terrain.grid
    triangle = _triangle_of_cells(ground, grid)
    hollows = _hollows(ground, terrain, triangle, frozenset(drains))
    leaf = np.where(triangle >= 0, hollows.leaf[np.maximum(triangle, 0)], 0)
    other = np.isfinite(terrain.surface) & (terrain.surface != ground.heights)
    changed = (binary_dilation(other, _EVERY_NEIGHBOR) if other.any() else other).ravel()
    pairs = _pairs(found, hollows, leaf, changed, grid.cell_area)
    same = {pair.depression: pair.hollow for pair in pairs if pair.hollow and not pair.changed}
    spill = found.spill_height.copy()
    for d, hollow in same.items():
        spill[d] = hollows.spill_height[hollow]
    for pair in pairs:
        if pair.changed:
            spill[pair.depression] = _spill_beside(found, hollows, pair, grid, changed)
        elif not pair.hollow and pair.of_its_own < _NOT_SHARED:
            spill[pair.depression] = found.lowest_height(pair.depression)
    joined = _put_in_order(
        found.hierarchy, spill, set(same), {pair.depression for pair in pairs if pair.changed}
    )
    ponds = {d: _Hollow(hollows, hollow, grid.cell_area) for d, hollow in same.items()}
    ponds = {d: pond for d, pond in ponds.items() if pond.spill_height == spill[d]}
    by_cells = with_spill_heights(found, spill)
    surveyed: dict[int, Pond] = dict(ponds)
    for d, parts in joined.items():
        if side_by_side := [surveyed[part] for part in parts if part in surveyed]:
            surveyed[d] = _SideBySide(side_by_side, float(spill[d]))
    return replace(by_cells, capacity=_capacities(by_cells, ponds, joined), surveyed=surveyed)


def _triangle_of_cells(ground: TriangulatedGround, grid: Grid) -> NDArray[np.int64]:
    """The triangle under each cell's center, flat; -1 where there is none."""
    corners = ground.xyz[ground.triangles].reshape(-1, 3).copy()
    corners[:, 2] = np.repeat(np.arange(len(ground.triangles)), 3)
    alone = np.arange(len(corners)).reshape(-1, 3)
    number = sample_triangles(corners, alone, grid).ravel()
    return np.where(np.isnan(number), -1, np.nan_to_num(number).round()).astype(np.int64)


def _hollows(
    ground: TriangulatedGround,
    terrain: Terrain,
    triangle: NDArray[np.int64],
    drains: frozenset[str],
) -> Hollows:
    """The depressions of the surveyed surface, with the inlets of these drains open."""
    grid = terrain.grid
    inlets = [d.inlet for d in terrain.drains if d.name in drains]
    places = [(*grid.center(*inlet), float(ground.heights[inlet])) for inlet in inlets]
    under = np.array([triangle[row * grid.cols + col] for row, col in inlets], dtype=np.int64)
    sinks = np.array(places, dtype=np.float64).reshape(-1, 3)
    return find_hollows(
        ground.xyz, ground.triangles, ground.open_edge, sinks[under >= 0], under[under >= 0]
    )


def _pairs(
    found: Depressions,
    hollows: Hollows,
    leaf: NDArray[np.int64],
    changed: NDArray[np.bool_],
    cell_area: float,
) -> list[_Pair]:
    """Each depression of any size with the hollow that shares most of it, each hollow once."""
    volume = found.capacity * cell_area
    pairs = []
    for d in np.flatnonzero((volume >= _LEAST_VOLUME) & np.isfinite(volume)).tolist():
        cells = found.pond_cells(d)
        heights = found.basins.z[cells].astype(np.float64)
        spill = float(found.spill_height[d])
        pair = _pair(d, hollows, leaf[cells], heights, spill, cell_area)
        pairs.append(replace(pair, changed=bool(changed[cells].any())))
    best: dict[int, _Pair] = {}
    for pair in pairs:
        if pair.hollow and (pair.hollow not in best or best[pair.hollow].shared < pair.shared):
            best[pair.hollow] = pair
    return [pair if best.get(pair.hollow) is pair else replace(pair, hollow=0) for pair in pairs]


def _pair(
    d: int,
    hollows: Hollows,
    leaf: NDArray[np.int64],
    heights: NDArray[np.float64],
    spill_height: float,
    cell_area: float,
) -> _Pair:
    """The hollow that shares most with the pond of a depression, by the cells of that pond."""
    depth = spill_height - heights
    most = np.bincount(leaf, weights=depth)
    most[0] = 0.0
    best = _Pair(d, int(np.argmax(most)), 0, 0.0, 0.0, False)
    if not most.any():
        return best
    held = float(depth.sum())
    of_its_own = 0.0
    for hollow in hollows.chain(best.leaf):
        spill = float(hollows.spill_height[hollow])
        if not np.isfinite(spill):
            break
        in_both = np.minimum(depth, np.maximum(spill - heights, 0.0))
        both = float(in_both[hollows.holds(hollow, leaf)].sum())
        shared = both / (held + hollows.volume(hollow, spill) / cell_area - both)
        of_its_own = max(of_its_own, both / held)
        if shared > max(best.shared, _SHARED):
            best = replace(best, hollow=hollow, shared=shared)
    return replace(best, of_its_own=of_its_own)


def _spill_beside(
    found: Depressions, hollows: Hollows, pair: _Pair, grid: Grid, changed: NDArray[np.bool_]
) -> float:
    """Where ground was changed: the height of the surveyed corner that it still spills at.

    Its cell's where the ground was changed there too, or no such corner lies beside it.
    """
    cell = int(found.hierarchy.spill_cell[pair.depression])
    own = float(found.spill_height[pair.depression])
    if changed[cell] or not pair.leaf:
        return own
    corners = [int(hollows.hierarchy.spill_cell[hollow]) for hollow in hollows.chain(pair.leaf)]
    at = np.array(grid.center(cell // grid.cols, cell % grid.cols))
    away = [float(np.hypot(*(hollows.xyz[corner, :2] - at))) for corner in corners if corner >= 0]
    if not away or min(away) > _BESIDE * grid.cell_size:
        return own
    return float(hollows.xyz[corners[int(np.argmin(away))], 2])


def _put_in_order(
    tree: Hierarchy, spill: NDArray[np.float64], firm: set[int], changed: set[int]
) -> dict[int, tuple[int, ...]]:
    """Let no depression spill higher than the one that it merges into; those that are firm stay.

    Returns the merged ones that are none on the surveyed ground, with their parts that are: there
    these spill side by side, and together they hold no more than each for itself.
    """
    joined = {}
    known = set(firm)
    for d in range(tree.leaves + 1, tree.parent.size):
        parts = int(tree.left[d]), int(tree.right[d])
        surveyed = tuple(part for part in parts if part in known)
        if d in known or not surveyed or not np.isfinite(spill[d]):
            continue
        highest = float(spill[list(parts)].max())
        if d in changed:
            spill[d] = max(spill[d], highest)
        else:
            spill[d] = highest
            joined[d] = surveyed
            known.add(d)
    for d in range(tree.parent.size - 1, 0, -1):
        if tree.parent[d] > 0:
            spill[d] = min(spill[d], spill[tree.parent[d]])
    return joined


def _capacities(
    found: Depressions, ponds: Mapping[int, _Hollow], joined: Container[int]
) -> NDArray[np.float64]:
    """What each depression holds, its parts never more than the whole; height x cells."""
    tree, capacity = found.hierarchy, found.capacity.copy()
    for d, pond in ponds.items():
        capacity[d] = pond.capacity
    merged = range(tree.leaves + 1, tree.parent.size)
    for d in merged:
        parts_hold = capacity[tree.left[d]] + capacity[tree.right[d]]
        if d in joined:
            capacity[d] = parts_hold
        elif d not in ponds:
            capacity[d] = max(capacity[d], parts_hold)
    for d in reversed(merged):
        parts = [int(tree.left[d]), int(tree.right[d])]
        by_cells = [part for part in parts if part not in ponds]
        over = float(capacity[parts].sum() - capacity[d])
        if over > 0 and by_cells:
            held = capacity[by_cells].sum()
            capacity[by_cells] *= max(held - over, 0.0) / held if held else 0.0
    return capacity
