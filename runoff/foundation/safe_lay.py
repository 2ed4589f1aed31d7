"""The lot as the kernels of the safe discharge area see it, and what is laid out on it beforehand.

Masks of areas, distances from foundations, where full ponds run on, and where a path ends. In:
arrays of one grid; x is 0 at the first column of centers, y at the first row and grows downward
where they are in cells.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from runoff.flow.compiled import kernel
from runoff.flow.directions import OUTSIDE, PIT, SINK, WALL

SAFE, NO_GROUND, NEAR, FLAT, BACK, STANDS, NEIGHBOR, SIDEWALK, SURVEY, OFF = range(10)
GOES_ON = 100
STAYS, LEAVES = -1, -2


class Lay(NamedTuple):
    """The lot as the kernels see it; all but `ground` and `sides` are flat, row by row.

    Parameters
    ----------
    ground, water : float64, metres; water's surface where it stands, the ground where it does not
    angle : float64, radians, D-infinity
    code : uint8, D8
    node : int, the depression that a cell's water runs to
    away : float64, metres to the nearest foundation
    on_lot, takes : bool; `takes` where an outlet or an easement may take the water
    drain_to : int64, at an inlet the outlet's cell, `LEAVES` where it leaves the lot
    sides : (k, 5) float64, cells: ends x, y, x, y, and 1 where a neighbor lies beyond
    onward : int64, by leaf: where the water over it runs on, `STAYS` where it does not
    pond_away : float64, by leaf: metres from the brim-full pond to a foundation
    """

    ground: NDArray[np.float64]
    water: NDArray[np.float64]
    angle: NDArray[np.float64]
    code: NDArray[np.uint8]
    node: NDArray[np.integer]
    away: NDArray[np.float64]
    on_lot: NDArray[np.bool_]
    takes: NDArray[np.bool_]
    drain_to: NDArray[np.int64]
    sides: NDArray[np.float64]
    onward: NDArray[np.int64]
    pond_away: NDArray[np.float64]


class Limits(NamedTuple):
    """What is asked for: metres, and the first stretch's `length` in cells."""

    near: float
    pond: float
    grade: float
    length: float
    cell_size: float


@kernel
def fill_rings(edges, x, y, mask):
    """Mark the cell centers inside rings, given as (m, 4) edges; holes by even and odd."""
    crossings = np.empty(len(edges))
    for row in range(len(y)):
        n = 0
        for e in range(len(edges)):
            xa, ya, xb, yb = edges[e]
            if (ya > y[row]) != (yb > y[row]):
                crossings[n] = xa + (y[row] - ya) / (yb - ya) * (xb - xa)
                n += 1
        inside = np.sort(crossings[:n])
        for pair in range(0, n - 1, 2):
            first = np.searchsorted(x, inside[pair])
            last = np.searchsorted(x, inside[pair + 1])
            mask[row, first:last] = True


@kernel
def _to_segment(px, py, xa, ya, xb, yb):
    """Squared distance from a point to a segment."""
    dx, dy = xb - xa, yb - ya
    square = dx * dx + dy * dy
    t = ((px - xa) * dx + (py - ya) * dy) / square if square > 0.0 else 0.0
    t = min(max(t, 0.0), 1.0)
    return (px - xa - t * dx) ** 2 + (py - ya - t * dy) ** 2


@kernel
def distances(edges, x, y, reach, away):
    """Lower `away` to the distance to the nearest edge, where it is within `reach` metres."""
    for e in range(len(edges)):
        xa, ya, xb, yb = edges[e]
        left, right = min(xa, xb) - reach, max(xa, xb) + reach
        low, high = min(ya, yb) - reach, max(ya, yb) + reach
        first, last = np.searchsorted(x, left), np.searchsorted(x, right)
        for row in range(len(y)):
            if low <= y[row] <= high:
                for col in range(first, last):
                    d = np.sqrt(_to_segment(x[col], y[row], xa, ya, xb, yb))
                    if d <= reach and d < away[row, col]:
                        away[row, col] = d


@kernel
def outermost(parent, left, right, full, outer):
    """For each leaf the depression whose water covers it, once merged ponds count as one."""
    for leaf in range(1, len(outer)):
        d = leaf
        while parent[d] > 0 and full[left[parent[d]]] and full[right[parent[d]]]:
            d = parent[d]
        outer[leaf] = d


@kernel
def pond_distances(z, node, outer, spill_height, away, half_cell, distance):
    """Least distance of each outermost depression's brim-full pond from a foundation."""
    for i in range(node.size):
        if node[i] > 0:
            d = outer[node[i]]
            if z[i] < spill_height[d]:
                distance[d] = min(distance[d], max(away[i] - half_cell, 0.0))


@kernel
def _over(z, node, code, step, spill, leaf):
    """The neighbor of a spill cell by which its overflow runs on toward `leaf`."""
    best, found = -1.0, spill
    for k in range(8):
        j = spill + step[k]
        drop = np.float64(z[spill]) - np.float64(z[j])
        if node[j] != leaf or code[j] > SINK or drop < 0 or (drop == 0 and j > spill):
            continue
        if k % 2:
            drop *= np.sqrt(0.5)
        if drop > best:
            best, found = drop, j
    return found


@kernel
def overflows(z, water, node, code, step, outer, full, spill_cell, over, onward):
    """Where the water over each leaf runs on: the first cell truly below its pond's spill cell."""
    for leaf in range(1, len(outer)):
        d = outer[leaf]
        onward[leaf] = STAYS
        if not full[d] or spill_cell[d] < 0:
            continue
        spill = spill_cell[d]
        cell = spill
        if code[spill] < OUTSIDE:
            cell = _over(z, node, code, step, spill, over[d])
            while code[cell] < PIT and water[cell] >= water[spill]:
                cell += step[code[cell]]
        onward[leaf] = cell


@kernel
def _over_side(sides, x, y, within):
    """The answer where water leaves over the nearest side within this many cells."""
    best, neighbor = within * within, -1.0
    for k in range(len(sides)):
        d = _to_segment(x, y, sides[k, 0], sides[k, 1], sides[k, 2], sides[k, 3])
        if d < best:
            best, neighbor = d, sides[k, 4]
    if neighbor < 0.0:
        return SURVEY
    return NEIGHBOR if neighbor > 0.0 else SAFE


@kernel
def beyond_sides(lay, step, sidewalk, outward):
    """Mark in `outward` also the cells off the lot whose water runs on over a public sidewalk.

    `outward` comes with what lies straight before a sidewalk; what takes water keeps it from one.
    """
    code, on_lot, takes = lay.code, lay.on_lot, lay.takes
    known = on_lot | takes | sidewalk | outward
    outward |= sidewalk
    for start in range(outward.size):
        cell = start
        while not known[cell] and code[cell] < OUTSIDE:
            known[cell] = True
            cell += step[code[cell]]
        crosses = sidewalk[cell] or (outward[cell] and not on_lot[cell])
        crosses, end, cell = crosses and not takes[cell], cell, start
        while cell != end:
            outward[cell] = crosses
            cell += step[code[cell]]


@kernel
def mark_ends(lay, sidewalk, outward, ends):
    """The answer where a path ends in each cell; `GOES_ON` where none ends.

    Where the survey stops within two cells of a side, it stops at that side. `sidewalk` marks the
    public sidewalks, `outward` where water that leaves the lot runs on over one.
    """
    cols = lay.ground.shape[1]
    takes, on_lot, code, sides = lay.takes, lay.on_lot, lay.code, lay.sides
    for cell in range(ends.size):
        ends[cell] = GOES_ON
        if code[cell] == WALL:
            ends[cell] = NO_GROUND
        elif takes[cell] or (code[cell] == SINK and lay.drain_to[cell] == LEAVES):
            ends[cell] = SAFE
        elif on_lot[cell] and sidewalk[cell]:
            ends[cell] = SIDEWALK
        elif not on_lot[cell]:
            ends[cell] = _over_side(sides, cell % cols, cell // cols, np.inf)
        elif code[cell] == OUTSIDE:
            ends[cell] = _over_side(sides, cell % cols, cell // cols, 2.0)
        if ends[cell] == SAFE and outward[cell] and not takes[cell] and code[cell] != SINK:
            ends[cell] = SIDEWALK
