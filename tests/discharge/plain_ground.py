"""A lot's ground and where water runs on it, by plain means: none of the tool's own kernels.

The ground is filled from its edge inward with a heap, a wall being no edge; water then runs down
the filled ground, half a cell at a time against the slope of the cell's neighbors, and over a pond
to where it spills. Many starts are walked at once. Plan metres.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, label
from shapely import LineString, Polygon, union_all

from runoff.site import Site
from runoff.terrain import Terrain
from tests.discharge.plain_level import drifts, falls_onward, told_apart

FOOT = 0.3048
STEP, MOST = 0.6, 700
# What becomes of water let go at a place. Of what may be, the storm or a cell's width decides.
SAFE, MAYBE, NEAR, FLAT, RETURNS, PONDS, NEIGHBOR, OFF, NO_GROUND = range(9)
# How much better than the rule a place must be to be called safe, and how much worse to be refused,
# whatever lies between may be either.
GRADE_MARGIN, SHALLOW = 0.004, 0.02
# How far a path is walked beyond the lot, to see whether it comes back.
BEYOND = 3.0


@dataclass(frozen=True)
class Pond:
    """A low spot brim-full: depth and how near it comes to a foundation (m), volume (m3).

    `may_come` is all the rain and roof water (m3) of the ground above it, nothing soaking away.
    """

    depth: float
    away: float
    volume: float
    may_come: float


class PlainGround:
    """The ground of a lot, filled, with distances from its foundations."""

    def __init__(self, site: Site, terrain: Terrain, z: NDArray[np.float64] | None = None) -> None:
        self.site, self.grid = site, terrain.grid
        self.z = np.array(terrain.ground if z is None else z)
        self.closed = np.array(terrain.closed)
        self.filled, self.parent, self.exit, self.order = _flooded(self.z, self.closed)
        with np.errstate(invalid="ignore"):
            self.lake = (self.filled > self.z + 1e-6).ravel()
        x, y = np.meshgrid(*terrain.grid.centers())
        walls = union_all([each.outline for each in site.buildings])
        shapely.prepare(walls)
        self.away = shapely.distance(shapely.points(x, y), walls)
        self.pond_of, self.ponds = self._ponds()
        # So far off the lot a path has been judged.
        assert site.lot is not None
        lot = site.lot.boundary.buffer(BEYOND)
        self.over = ~shapely.contains_xy(lot, x.ravel(), y.ravel())
        self.slope_right, self.slope_down = _slopes(self.filled)

    def _ponds(self) -> tuple[NDArray[np.int64], list[Pond]]:
        names, count = label(self.lake.reshape(self.z.shape), np.ones((3, 3)))
        site, area = self.site, self.grid.cell_size**2
        roofs = site.storm.depth * sum(each.plan_area for each in site.roofs)
        above = _counted(self.parent, self.order)
        ponds = []
        for n in range(1, count + 1):
            here = names == n
            deep = (self.filled - self.z)[here]
            come = float(above[here.ravel()].max()) * area * site.storm.depth + roofs
            away = float(self.away[here].min()) - self.grid.cell_size / 2
            ponds.append(Pond(float(deep.max()), away, float(deep.sum()) * area, come))
        return names.ravel() - 1, ponds

    def cells(self, xy: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """Flat numbers of the cells that hold positions (n, 2), and whether there is ground."""
        g = self.grid
        col = np.floor((xy[:, 0] - g.x0) / g.cell_size).astype(int)
        row = g.rows - 1 - np.floor((xy[:, 1] - g.y0) / g.cell_size).astype(int)
        held = (row >= 0) & (row < g.rows) & (col >= 0) & (col < g.cols)
        flat = np.where(held, row * g.cols + col, 0)
        return flat, held & np.isfinite(self.z.ravel()[flat])

    def sample(self, values: NDArray[np.float64], xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values between cell centers; the mean of those known where some are not."""
        g = self.grid
        col = (xy[:, 0] - g.x0) / g.cell_size - 0.5
        row = g.rows - 0.5 - (xy[:, 1] - g.y0) / g.cell_size
        c0 = np.clip(np.floor(col).astype(int), 0, g.cols - 2)
        r0 = np.clip(np.floor(row).astype(int), 0, g.rows - 2)
        total, weight = np.zeros(len(xy)), np.zeros(len(xy))
        for r, c in ((0, 0), (0, 1), (1, 0), (1, 1)):
            value = values[r0 + r, c0 + c]
            near = np.clip(1 - abs(row - r0 - r), 0, 1) * np.clip(1 - abs(col - c0 - c), 0, 1)
            near = np.where(np.isfinite(value), near, 0.0)
            total += near * np.nan_to_num(value)
            weight += near
        return np.where(weight > 1e-9, total / np.maximum(weight, 1e-9), np.nan)

    def heights(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Heights of the ground (m) at positions (n, 2)."""
        return self.sample(self.z, np.atleast_2d(xy))

    def walk(self, starts: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where water runs from starts (n, 2): (steps, n, 2), each path's last place repeated."""
        g = self.grid
        p = np.array(starts, float)
        flat, known = self.cells(p)
        done, stuck = ~known, np.zeros(len(p), int)
        filled = np.where(np.isfinite(self.filled), self.filled, np.inf).ravel()
        found = [p.copy()]
        for _ in range(MOST):
            if done.all():
                break
            slope = np.column_stack([self.slope_right[flat], -self.slope_down[flat]])
            steep = np.hypot(*slope.T)
            q = p - STEP * g.cell_size * slope / np.maximum(steep, 1e-12)[:, None]
            there, ground = self.cells(q)
            same = there == flat
            downhill = ground & ((filled[there] < filled[flat]) | (same & (stuck < 4)))
            free = downhill & (steep > 1e-7) & ~self.lake[flat]
            onward = np.where(self.lake[flat], self.exit[flat], self.parent[flat])
            leaves = ~free & (onward < 0)
            target = np.where(free, there, np.maximum(onward, 0))
            row, col = np.divmod(target, g.cols)
            center = np.column_stack(
                [g.x0 + (col + 0.5) * g.cell_size, g.y0 + (g.rows - row - 0.5) * g.cell_size]
            )
            moved = np.where(free[:, None], q, center)
            stuck = np.where(free & same, stuck + 1, 0)
            done |= leaves | self.over[flat]
            p = np.where(done[:, None], p, moved)
            flat = np.where(done, flat, target)
            found.append(p.copy())
        return np.stack(found)

    def outcomes(
        self, starts: NDArray[np.float64], water: float, at_wall: bool = False
    ) -> NDArray[np.int64]:
        """What becomes of `water` (m3) let go at starts (n, 2); `at_wall`: beside a wall."""
        return self.judged(self.walk(starts), water, at_wall)

    def judged(
        self, path: NDArray[np.float64], water: float, at_wall: bool = False
    ) -> NDArray[np.int64]:
        """The outcomes of paths (steps, n, 2)."""
        steps, n, _ = path.shape
        near = self.site.rules["near_foundation"]
        flat_xy = path.reshape(-1, 2)
        away = self.sample(self.away, flat_xy).reshape(steps, n)
        cell, known = (each.reshape(steps, n) for each in self.cells(flat_xy))
        end = self._ends(path)
        pond = np.where(self.lake[cell], self.pond_of[cell], -1)
        ponds = [self._of_ponds(pond[:, k], int(end[k]), water) for k in range(n)]
        out, end, unsure = (np.array(each) for each in zip(*ponds, strict=True))
        upto = np.arange(steps)[:, None] <= end[None, :]
        left = np.maximum.accumulate(away >= near + 0.02, axis=0) & upto
        onward = _worst(np.full(n, SAFE), ((away < near) & left).any(axis=0), MAYBE)
        back = ((away < near - self.grid.cell_size) & left).any(axis=0)
        onward = self._of_side(_worst(onward, back, RETURNS), path, end)
        onward = np.where(unsure & (onward != SAFE), MAYBE, onward)
        if not at_wall:
            out = self._of_grade(out, path, end)
            out = _worst(out, away[0] < near - 1e-6, NEAR)
        bad = (out != SAFE) & (out != MAYBE)
        out = np.where(bad | (onward == SAFE), out, onward)
        out = self._of_return(self._of_level(out, path, end), path, end)
        assert self.site.lot is not None
        on = shapely.covers(self.site.lot.boundary, shapely.points(path[0]))
        return np.where(known[0], np.where(on, out, OFF), NO_GROUND)

    def _of_ponds(self, met: NDArray[np.int64], end: int, water: float) -> tuple[int, int, bool]:
        """What the ponds on a path come to, where it then ends, and whether it may end before.

        A pond that holds all that can come ends it; one that the roof's own water fills does not.
        """
        rules, cell = self.site.rules, self.grid.cell_size
        near, pond_near = rules["near_foundation"], rules["pond_foundation_distance"]
        out, unsure = SAFE, False
        ahead = met[: end + 1]
        for n in dict.fromkeys(ahead[ahead >= 0].tolist()):
            pond = self.ponds[n]
            if pond.depth <= SHALLOW:
                out, unsure = MAYBE, True
            elif pond.away < near - cell:
                return (MAYBE if unsure else PONDS), end, unsure
            elif pond.away < near + cell:
                out = MAYBE
            if water >= pond.volume or pond.depth <= SHALLOW:
                continue
            if pond.away < pond_near + cell:
                out = MAYBE
            if pond.volume > pond.may_come + water:
                if pond.away < pond_near - cell and not unsure:
                    out = PONDS
                return out, int(np.flatnonzero(met == n)[0]), unsure
            unsure = True
        return out, end, unsure

    def _of_level(self, out: NDArray, path: NDArray[np.float64], end: NDArray) -> NDArray:
        """Past level ground nothing is sure, but that water near a neighbor or a wall may drift."""
        fall = falls_onward(self, path)
        upto = np.arange(len(path))[:, None] <= end[None, :]
        told = told_apart(self)
        met = ((fall < told) & upto).any(axis=0)
        onward = np.isin(out, (SAFE, RETURNS, PONDS, NEIGHBOR))
        out = np.where(met & onward, MAYBE, out)
        level = (fall < told / 2) & upto
        first = np.where(level.any(axis=0), level.argmax(axis=0), -1)
        out = _worst(out, drifts(self, path, first, "neighbor"), NEIGHBOR)
        return _worst(out, drifts(self, path, first, "foundation"), PONDS)

    def _of_return(self, out: NDArray, path: NDArray[np.float64], end: NDArray) -> NDArray:
        """Water that comes back to the lot has not left it; over a neighbor by a cell neither."""
        assert self.site.lot is not None
        x, y = path.reshape(-1, 2).T
        lot, shape = self.site.lot.boundary, path.shape[:2]
        after = np.arange(len(path))[:, None] > end[None, :]
        on = _inside(lot, x, y).reshape(shape)
        back = (on & after).any(axis=0)
        far = ~_inside(lot.buffer(self.grid.cell_size), x, y).reshape(shape)
        # Only up to its last step on the lot: there it leaves for good.
        far = (far & np.logical_or.accumulate(on[::-1], axis=0)[::-1]).any(axis=0)
        return np.where(back & ((out == SAFE) | ((out == NEIGHBOR) & ~far)), MAYBE, out)

    def _ends(self, path: NDArray[np.float64]) -> NDArray[np.int64]:
        """The step at which each path leaves the lot or is taken; the last where it does not."""
        steps, n, _ = path.shape
        x, y = path.reshape(-1, 2).T
        lot = self.site.lot
        assert lot is not None
        stop = ~_inside(lot.boundary.buffer(1e-6), x, y)
        for outlet in self.site.outlets:
            left, bottom, right, top = outlet.place.buffer(0.6).bounds
            by = np.flatnonzero((x > left) & (x < right) & (y > bottom) & (y < top))
            stop[by] |= shapely.distance(shapely.points(x[by], y[by]), outlet.place) <= 0.5
        for each in self.site.easements:
            if each.may_take_water:
                stop |= shapely.contains_xy(each.area, x, y)
        stop = stop.reshape(steps, n)
        return np.where(stop.any(axis=0), stop.argmax(axis=0), steps - 1)

    def _of_grade(self, out: NDArray, path: NDArray[np.float64], end: NDArray) -> NDArray:
        rules = self.site.rules
        told = 1.96 * np.sqrt(2) * self.site.height_accuracy.sigma / rules["discharge_grade_length"]
        least, grade = max(rules["discharge_grade"], told), self._grades(path, end)
        out = _worst(out, grade < least - GRADE_MARGIN, FLAT)
        return _worst(out, grade < least + GRADE_MARGIN, MAYBE)

    def _grades(self, path: NDArray[np.float64], end: NDArray) -> NDArray[np.float64]:
        """Fall of the ground over the first 10 ft of each path, or what there is of it, m/m."""
        run = np.cumsum(np.hypot(*np.moveaxis(np.diff(path, axis=0), -1, 0)), axis=0)
        run = np.vstack([np.zeros(path.shape[1]), run])
        short = run < self.site.rules["discharge_grade_length"]
        short &= np.arange(len(path))[:, None] < end[None, :]
        last, numbers = np.minimum(short.sum(axis=0), end), np.arange(path.shape[1])
        fall = self.heights(path[0]) - self.heights(path[last, numbers])
        return fall / np.maximum(run[last, numbers], self.grid.cell_size)

    def grade_from(self, at: tuple[float, float]) -> float:
        """The same from one place."""
        path = self.walk(np.array([at]))
        return float(self._grades(path, self._ends(path))[0])

    def _of_side(self, out: NDArray, path: NDArray[np.float64], end: NDArray) -> NDArray:
        lot = self.site.lot
        assert lot is not None
        numbers = np.arange(path.shape[1])
        last = shapely.points(path[end, numbers])
        off = ~shapely.covers(lot.boundary.buffer(1e-6), last)
        sides = np.array([shapely.distance(LineString(s.line), last) for s in lot.sides])
        closest = sides.argmin(axis=0)
        neighbor = np.array([s.neighbor == "neighbor" for s in lot.sides])
        second = np.sort(sides, axis=0)[1]
        at_corner = second < 1.0
        taken = np.zeros(len(numbers), bool)
        for outlet in self.site.outlets:
            taken |= shapely.distance(last, outlet.place) <= 0.5
        out = _worst(out, off & ~taken & neighbor[closest], NEIGHBOR)
        out = np.where(off & ~taken & at_corner & (out == NEIGHBOR), MAYBE, out)
        return _worst(out, off & ~taken & at_corner, MAYBE)

    def around(
        self, xy: tuple[float, float], water: float, at_wall: bool = False
    ) -> NDArray[np.int64]:
        """Outcomes of nine starts no more than a cell apart, the middle one first."""
        step = self.grid.cell_size
        starts = [(0, 0)] + [(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b]
        places = np.array(xy) + step * np.array(starts, float)
        known = self.cells(places)[1]
        return self.outcomes(places[known | (np.arange(9) == 0)], water, at_wall)


def _inside(shape: Polygon, x: NDArray, y: NDArray) -> NDArray[np.bool_]:
    shapely.prepare(shape)
    return shapely.contains_xy(shape, x, y)


def _worst(out: NDArray, holds: NDArray[np.bool_], what: int) -> NDArray:
    """What holds, where nothing as bad was said before."""
    return np.where(holds & ((out == SAFE) | ((out == MAYBE) & (what != MAYBE))), what, out)


def _flooded(z: NDArray, closed: NDArray) -> tuple[NDArray, NDArray, NDArray, list[int]]:
    """The filled ground, each cell's next one on its way out (-1: out), where its lake ends.

    Last the cells in the order that they were flooded.
    """
    rows, cols = z.shape
    known = np.isfinite(z) & ~closed
    filled = np.full(z.size, np.nan)
    parent, leaves = np.full(z.size, -1), np.full(z.size, -1)
    heights, is_known = z.ravel(), known.ravel()
    heap: list[tuple[float, int, int]] = []
    around = [(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b]
    beyond = np.pad(~known & ~closed, 1, constant_values=True)
    ways_out = binary_dilation(beyond, np.ones((3, 3)))[1:-1, 1:-1] & known
    for cell in np.flatnonzero(ways_out):
        filled[cell] = heights[cell]
        heapq.heappush(heap, (float(heights[cell]), len(heap), int(cell)))
    count, order = len(heap), []
    while heap:
        height, _, cell = heapq.heappop(heap)
        order.append(cell)
        row, col = divmod(cell, cols)
        for a, b in around:
            r, c = row + a, col + b
            if not (0 <= r < rows and 0 <= c < cols):
                continue
            there = r * cols + c
            if not is_known[there] or filled[there] == filled[there]:
                continue
            filled[there] = max(height, heights[there])
            parent[there] = cell
            leaves[there] = leaves[cell] if filled[cell] > heights[cell] + 1e-6 else cell
            count += 1
            heapq.heappush(heap, (float(filled[there]), count, there))
    return filled.reshape(z.shape), parent, leaves, order


def _counted(parent: NDArray, order: list[int]) -> NDArray:
    """How many cells drain through each, itself included."""
    count = np.ones(len(parent))
    for cell in reversed(order):
        if parent[cell] >= 0:
            count[parent[cell]] += count[cell]
    return count


def _slopes(z: NDArray) -> tuple[NDArray, NDArray]:
    """Rise per cell to the right and down, of the two sides or of the one that is known."""
    found = []
    for axis in (1, 0):
        pad = [(0, 0), (0, 0)]
        pad[axis] = (1, 1)
        wide = np.pad(z, pad, constant_values=np.nan)
        rise = np.diff(wide, axis=axis)
        before, after = (np.take(rise, range(k, k + z.shape[axis]), axis) for k in (0, 1))
        both = np.stack([before, after])
        known = np.isfinite(both)
        mean = np.where(known, both, 0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
        found.append(mean.ravel())
    return found[0], found[1]
