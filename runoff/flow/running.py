"""Where the rain that falls on a lot runs to, and the water that is let go on it.

On a survey it runs by steepest descent over the triangles between the heights, so that no catchment
hangs on the cells: rain is counted by pieces of triangles, small ones along divides. Where the
ground was changed since (a barrier, soil, a swale), at an open inlet, and on elevation data, it
runs from cell to cell. Out: for all water the cell that it comes to, to go on from there with the
depressions that the cells tell.

Rain on surveyed ground beyond the lot runs onto it in the storm like any other; of ground that was
not surveyed nothing is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from runoff.flow.engine.depressions import Depressions, steps_out
from runoff.flow.engine.triangles import AT_CORNER, OFF_THE_GROUND, STOPPED, Ends, Slopes, Stops
from runoff.site.model import LotSide, Site
from runoff.site.notices import Notice
from runoff.terrain.model import Terrain, TriangulatedGround

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NumberAt = Callable[[Floats], Floats]

# Pieces of triangles, m2: none is larger, and those on a divide are halved in width down to this.
_PIECE, _SMALLEST = 0.5, 0.01
# Water let go farther than this from the triangles, metres, runs by the cells.
_BESIDE = 0.6
# A downspout's water spreads about so far before it runs, metres (a foot).
_SPLASH = 0.3048
# Of the way from a corner to the middle of a triangle: on it, and as good as at the corner.
_A_HAIR = 1e-3
_EVERY_NEIGHBOR = np.ones((3, 3), bool)


@dataclass(frozen=True)
class Falls:
    """Rain by where it falls: pieces of ground, each with the cell that its water comes to.

    Parameters
    ----------
    from_cell, to_cell : (n,) int64, flat
    area : (n,) float64, m2
    number : (n,) float64, the curve number; 0 where no rain runs off
    """

    from_cell: Ints
    to_cell: Ints
    area: Floats
    number: Floats


class Running:
    """Where water runs on a terrain with some of its drains open.

    Parameters
    ----------
    found : Depressions, as the grid has them
    terrain : Terrain
    drains : names of the drains that are open
    """

    def __init__(self, found: Depressions, terrain: Terrain, drains: Iterable[str]) -> None:
        self._found, self._grid, self._ground = found, terrain.grid, terrain.triangulated
        self._known: dict[tuple[tuple[float, float], int], int] = {}
        if self._ground is None:
            return
        self._slopes = Slopes(self._ground.xyz, self._ground.triangles, self._ground.open_edge)
        stop = np.isfinite(terrain.surface) & (terrain.surface != self._ground.heights)
        if stop.any():
            stop = binary_dilation(stop, _EVERY_NEIGHBOR)
        for drain in terrain.drains:
            if drain.name in drains:
                stop[drain.inlet] = True
        self._stops = Stops(stop, self._grid)

    def from_place(self, place: tuple[float, float], cell: int) -> int:
        """The flat cell that water let go at a place, in this cell, comes to."""
        if self._ground is None or self._stops.mask.flat[cell]:
            return cell
        if (place, cell) not in self._known:
            triangle, point, away = self._slopes.nearest(*place)
            self._known[place, cell] = cell
            if away <= _BESIDE:
                self._known[place, cell] = int(
                    self._cells(
                        self._slopes.follow(np.array([point]), np.array([triangle]), self._stops)
                    )[0]
                )
        return self._known[place, cell]

    def also_from(self, place: tuple[float, float], cell: int, tilt: float) -> list[int]:
        """The flat cells that water let go at a place might as well come to.

        On ground tilted toward eight sides by `tilt`, by which heights may be wrong over a
        distance; and from eight places as far away as it splashes. Empty where it runs by cells.
        """
        if self._ground is None or self._stops.mask.flat[cell]:
            return []
        t, point, away = self._slopes.nearest(*place)
        if away > _BESIDE:
            return []
        turns = np.arctan2(*self._slopes.down[t][::-1]) + np.arange(8) * np.pi / 4
        around = np.array(place) + _SPLASH * np.column_stack([np.cos(turns), np.sin(turns)])
        ends = self._slopes.follow(around, None, self._stops)
        cells = self._cells(ends).tolist()
        for turn in turns:
            xyz = self._ground.xyz.copy()
            xyz[:, 2] += tilt * xyz[:, :2] @ [np.cos(turn), np.sin(turn)]
            tilted = Slopes(xyz, self._ground.triangles, self._ground.open_edge)
            ends = tilted.follow(np.array([point]), np.array([t]), self._stops)
            if ends.how[0] == AT_CORNER:
                ends = self._slopes.follow(ends.xy, None, self._stops)
            cells.append(int(self._cells(ends)[0]))
        return cells

    def falls(self, number: Floats, number_at: NumberAt | None = None) -> Falls:
        """All rain on the lot.

        Parameters
        ----------
        number : (rows, cols) float64, curve numbers of the cells; 0 where no rain runs off
        number_at : callable, optional
            Curve numbers at (n, 2) places of the survey, which are not those of cells.
        """
        if self._ground is None:
            cell = np.arange(number.size)
            return Falls(
                cell, cell, np.full(number.size, self._grid.cell_area), number.ravel().copy()
            )
        triangle, corners = _pieces(self._ground)
        done = []
        while len(triangle):
            parts = _quarters(corners)
            places = parts.mean(axis=2).reshape(-1, 2)
            own = self._cell_of(places)
            numbers = number.ravel()[own] if number_at is None else number_at(places)
            to = self._cells(self._slopes.follow(places, np.repeat(triangle, 4), self._stops))
            area = np.repeat(_area(corners) / 4, 4)
            leaf = self._found.node[to].reshape(-1, 4)
            alike = (leaf == leaf[:, :1]).all(axis=1)
            alike &= (numbers.reshape(-1, 4) == numbers.reshape(-1, 4)[:, :1]).all(axis=1)
            accept = np.repeat(alike | (_area(corners) <= _SMALLEST), 4)
            done.append((own[accept], to[accept], area[accept], numbers[accept]))
            triangle = np.repeat(triangle, 4)[~accept]
            corners = parts.reshape(-1, 3, 2)[~accept]
        return Falls(*(np.concatenate(column) for column in zip(*done, strict=True)))

    def onto(self) -> NDArray[np.int64] | None:
        """The leaf that each depression's overflow runs to from where the survey has it spill.

        The cells' own where the survey does not tell; None where it tells none.
        """
        found, tree = self._found, self._found.hierarchy
        if self._ground is None or not found.surveyed:
            return None
        onto = tree.over.copy()
        for d, pond in found.surveyed.items():
            leaf = self._beyond(d, pond.pour_point)
            if leaf is not None:
                onto[d] = leaf
        in_a_circle = (steps_out(onto, tree)[tree.drained] < 0).any()
        return None if in_a_circle or np.array_equal(onto, tree.over) else onto

    def _beyond(self, d: int, pour_point: tuple[float, float]) -> int | None:
        """The leaf that water runs to from a pour point, by the steepest way out of depression d.

        For a part of a larger one that is a leaf of its other part. None where the cells tell it.
        """
        found, tree = self._found, self._found.hierarchy
        corner = int(np.argmin(np.hypot(*(self._slopes.xy - pour_point).T)))
        beside = np.flatnonzero((self._slopes.triangles == corner).any(axis=1))
        middles = self._slopes.xy[self._slopes.triangles[beside]].mean(axis=1)
        places = np.array(pour_point) + _A_HAIR * (middles - pour_point)
        ends = self._slopes.follow(places, beside, self._stops)
        cells = self._cells(ends)
        leaf = np.maximum(found.node[cells], 0)
        parent = int(tree.parent[d])
        if parent > 0:
            other = int(tree.left[parent] + tree.right[parent] - d)
            beyond = np.isin(leaf, found.leaves_of(other))
        else:
            beyond = ~np.isin(leaf, found.leaves_of(d))
            beyond[(leaf == 0) & (ends.how == STOPPED)] = False
        if not beyond.any():
            return None
        steep = np.where(beyond, np.hypot(*self._slopes.down[beside].T), -1.0)
        return int(leaf[np.argmax(steep)])

    def _cell_of(self, places: Floats) -> Ints:
        row, col, _ = self._grid.cells_of(places)
        return row * self._grid.cols + col

    def _cells(self, ends: Ends) -> Ints:
        """The cells at which water that ended on the triangles goes on, or stays."""
        cell = ends.at.copy()
        for corner in np.unique(ends.at[ends.how == AT_CORNER]).tolist():
            around = self._around(self._slopes.xy[corner])
            heights = self._found.basins.z[around]
            here = np.isfinite(heights) & (self._found.node[around] >= 0)
            pit = around[np.argmin(np.where(here, heights, np.inf))]
            cell[(ends.how == AT_CORNER) & (ends.at == corner)] = pit
        off = np.flatnonzero(ends.how == OFF_THE_GROUND)
        at = self._cell_of(ends.xy[off])
        # Beside the edge a cell may tell of a pool where the survey has it run off.
        for i in np.flatnonzero(self._found.node[at] != 0).tolist():
            around = self._around(ends.xy[off[i]])
            outside = around[self._found.node[around] == 0]
            at[i] = outside[0] if len(outside) else at[i]
        cell[off] = at
        return cell

    def _around(self, place: Floats) -> Ints:
        """The cell of a place first, then its eight neighbors."""
        size = self._grid.cell_size
        steps = [(0, 0), *((i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j)]
        return self._cell_of(place + size * np.array(steps))


def _area(corners: Floats) -> Floats:
    """Areas of (..., 3, 2) triangles."""
    u, v = corners[..., 1, :] - corners[..., 0, :], corners[..., 2, :] - corners[..., 0, :]
    return np.abs(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]) / 2


def _pieces(ground: TriangulatedGround) -> tuple[Ints, Floats]:
    """Triangles in equal pieces of at most `_PIECE`: the triangle of each, corners (n, 3, 2)."""
    triangle = np.arange(len(ground.triangles))
    corners = ground.xyz[ground.triangles, :2]
    done = []
    while len(triangle):
        small = _area(corners) <= _PIECE
        done.append((triangle[small], corners[small]))
        triangle = np.repeat(triangle[~small], 4)
        corners = _quarters(corners[~small]).reshape(-1, 3, 2)
    return np.concatenate([t for t, _ in done]), np.concatenate([c for _, c in done])


def _quarters(corners: Floats) -> Floats:
    """Each of (n, 3, 2) triangles cut at the middles of its sides, (n, 4, 3, 2)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    parts = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (bc, ca, ab))
    return np.stack([np.stack(part, axis=1) for part in parts], axis=1)


# The survey stops at the lot line where it ends this near to it, metres.
_NEAR = 1.0
# Ground that falls less than this over the last of the survey is not said to fall inward.
_LEAST_FALL = 0.01
# Places along a side, and the least length of side that is worth a notice, metres.
_SPACING = 0.5
_LEAST_LENGTH = 1.0


def run_on_notices(site: Site, terrain: Terrain) -> list[Notice]:
    """A notice for each side of the lot over which run-on may come that is not counted."""
    if site.lot is None:
        return []
    turn = 1.0 if site.lot.boundary.exterior.is_ccw else -1.0
    return [
        Notice("run-on not counted", (side.name,))
        for side in site.lot.sides
        if _length_falling_inward(side, turn, terrain) >= _LEAST_LENGTH
    ]


def _length_falling_inward(side: LotSide, turn: float, terrain: Terrain) -> float:
    """Length of a side (m) at which the survey stops and the ground falls onto the lot."""
    start, end = side.line
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    outward = turn * np.array([along[1], -along[0]])
    count = max(1, int(length / _SPACING))
    stations = start + np.outer((np.arange(count) + 0.5) * length / count, along)
    step = terrain.grid.cell_size / 2.0
    offsets = np.linspace(-_NEAR, _NEAR, 2 * int(np.ceil(_NEAR / step)) + 1)
    height, wall = _look(terrain, stations[:, None, :] + offsets[None, :, None] * outward)
    known = ~np.isnan(height)
    last = offsets.size - 1 - np.argmax(known[:, ::-1], axis=1)
    stops = known.any(axis=1) & (last < offsets.size - 1) & ~wall.any(axis=1)
    span = max(_NEAR, 2.0 * terrain.grid.cell_size)
    inner, _ = _look(terrain, stations + (offsets[last] - span)[:, None] * outward)
    fall = height[np.arange(count), last] - inner
    return float((stops & (fall > _LEAST_FALL * span)).sum()) * length / count


def _look(
    terrain: Terrain, places: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Ground height (NaN where none is known) and whether a building stands, at (..., 2) places."""
    row, col, held = terrain.grid.cells_of(places)
    return np.where(held, terrain.ground[row, col], np.nan), held & terrain.closed[row, col]
