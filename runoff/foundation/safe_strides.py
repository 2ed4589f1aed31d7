"""Follow water from every cell for 10 ft and join these strides into whole paths; the lot laid
out for it.

Masks of areas, distances from foundations, where full ponds run on, and where a path ends. In:
arrays of one grid; x is 0 at the first column of centers, y at the first row and grows downward
where they are in cells.

On ground that falls by less than heights can tell, the way that water takes cannot be told: it
spreads. In: the lot laid out for the safe discharge area, and how steep the first stretch of each
cell's path is. Out: the answer of those cells.

A stride runs along the D-infinity directions as a line, not from center to center, so that it keeps
the aspect of the ground; the cell it ends in has a stride of its own. Every stride leads to lower
ground, so following them with what is known kept answers each cell once.

In: the lot laid out, in cells; x is 0 at the first column of centers, y at the first row and grows
downward. Out: for each cell the index into `runoff.foundation.model.REASONS`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import COL_STEP, OUTSIDE, PIT, ROW_STEP, SINK, WALL

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


class Steps(NamedTuple):
    """How a path runs through each cell: flat, row by row, filled by `aim`.

    Parameters
    ----------
    across, down : float64, cells; the unit step along the direction, 0 where there is none
    eventful : uint8, 0 in cells that a path simply runs through, `STANDING` where water stands
    calm : float64, metres; the water's height in uneventful cells with a direction, else NaN
    """

    across: NDArray[np.float64]
    down: NDArray[np.float64]
    eventful: NDArray[np.uint8]
    calm: NDArray[np.float64]


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


@kernel
def _drifts(water, code, shape, field, start, within, told):
    """Whether water at `start` may come to where `field` is less than `within`.

    It goes down the field, a distance, over ground that rises by no more than `told` (m) on the
    way; where no ground was surveyed it may.
    """
    rows, cols = shape
    cell, most = start, water[start] + told
    while field[cell] >= within:
        best = cell
        for k in range(8):
            row, col = cell // cols + ROW_STEP[k], cell % cols + COL_STEP[k]
            if 0 <= row < rows and 0 <= col < cols and field[row * cols + col] < field[best]:
                best = row * cols + col
        if best == cell or code[best] == WALL or water[best] > most:
            return False
        if np.isnan(water[best]):
            return True
        cell = best
    return True


@kernel
def mark_level(lay, limits, told, aside, steep, answer, level):
    """The answer of water that comes to a cell of level ground; `GOES_ON` for all others.

    `told` is the least fall (m) over the first stretch that heights can tell, `aside` the metres to
    the nearest neighbor's side, `steep` the fall of each cell's first stretch, m/m. Such water
    stands near a foundation where it may drift within `limits.near` of one from less than
    `limits.pond`, and is on a neighbor where it may drift over the side from less than a stretch.

    Returns whether there is any such cell.
    """
    stretch, found = limits.length * limits.cell_size, False
    water, code, shape, away = lay.water, lay.code, lay.ground.shape, lay.away
    for i in range(answer.size):
        level[i] = GOES_ON
        if answer[i] != GOES_ON or steep[i] * stretch >= told:
            continue
        if away[i] < limits.pond and _drifts(water, code, shape, away, i, limits.near, told):
            level[i] = STANDS
        elif aside[i] < stretch and _drifts(water, code, shape, aside, i, limits.cell_size, told):
            level[i] = NEIGHBOR
        found = found or level[i] != GOES_ON
    return found


@kernel
def spread(lay, limits, steps, level, answer):
    """Give each cell the answer of the level ground that its first stretch comes to, if any."""
    shape = lay.ground.shape
    for i in range(answer.size):
        if answer[i] != GOES_ON and answer[i] != SAFE:
            continue
        cell, x, y, walked = i, float(i % shape[1]), float(i // shape[1]), 0.0
        while level[cell] == GOES_ON and not steps.eventful[cell] and walked < limits.length:
            cell, x, y, moved = step_on(lay, steps, cell, x, y, 1.0)
            walked += moved
        if level[cell] != GOES_ON:
            answer[i] = level[cell]


VISITING = 101
STANDING = 2

# Heights are written to parts of a millimetre; a fall short by less is not short, metres.
_ROUNDING = 1e-6
_ON_A_NEIGHBOR = 1e-9
# A stride ends where it passes a center this near, in cells, and with each step past the first
# stretch that much farther off. What strides are off adds up along a path.
_ALIGNED = 0.1


@kernel
def aim(lay, near, ends, steps):
    """Fill `steps` for paths that end as `ends` says; `near` a foundation (metres) is an event."""
    across, down, eventful, calm = steps
    angle, water, code, away = lay.angle, lay.water, lay.code, lay.away
    ground = lay.ground.ravel()
    for i in range(angle.size):
        across[i], down[i] = 0.0, 0.0
        eventful[i] = ends[i] != GOES_ON or away[i] < near or code[i] == SINK
        if ends[i] == GOES_ON and (code[i] == PIT or water[i] > ground[i]):
            eventful[i] = STANDING
        if ends[i] == GOES_ON and not np.isnan(angle[i]):
            across[i], down[i] = np.cos(angle[i]), -np.sin(angle[i])
        calm[i] = np.nan if eventful[i] or np.isnan(angle[i]) else water[i]


@kernel
def _height(w, shape, cell, x, y):
    """Height of the water's surface between the four centers around a point."""
    rows, cols = shape
    r, c = min(max(int(y), 0), rows - 2), min(max(int(x), 0), cols - 2)
    v, u = y - r, x - c
    i = r * cols + c
    h = (1 - v) * ((1 - u) * w[i] + u * w[i + 1])
    h += v * ((1 - u) * w[i + cols] + u * w[i + cols + 1])
    return w[cell] if np.isnan(h) else h


@kernel
def step_on(lay, steps, cell, x, y, most):
    """One cell on, or less: along the cell's direction, or by D8 where that does not go down."""
    water, code, cols = lay.water, lay.code, lay.ground.shape[1]
    across, down = steps.across, steps.down
    if across[cell] != 0.0 or down[cell] != 0.0:
        length = min(1.0, most)
        to_x, to_y = x + length * across[cell], y + length * down[cell]
        there = int(to_y + 0.5) * cols + int(to_x + 0.5)
        if water[there] < water[cell] or there == cell or code[there] == SINK:
            return there, to_x, to_y, length
        if code[there] == OUTSIDE and np.isnan(water[there]):
            return there, to_x, to_y, length
    k = code[cell]
    row, col = cell // cols + ROW_STEP[k], cell % cols + COL_STEP[k]
    return row * cols + col, float(col), float(row), np.hypot(col - x, row - y)


@kernel
def _run(steps, cols, cell, x, y, most):
    """Up to `most` whole steps down over uneventful ground; the rest is left to `step_on`."""
    across, down, calm = steps.across, steps.down, steps.calm
    here = calm[cell]
    for walked in range(most):
        to_x, to_y = x + across[cell], y + down[cell]
        there = int(to_y + 0.5) * cols + int(to_x + 0.5)
        if there != cell:
            if not calm[there] < here:
                return cell, x, y, walked
            here = calm[there]
        cell, x, y = there, to_x, to_y
    return cell, x, y, max(most, 0)


@kernel
def _clear_stride(steps, cols, cell, x, y, length):
    """A stride that meets nothing: the cell it leads to, and where its first stretch ends, as
    cell, x, y, and the whole steps to there.

    Where it is not clear the cell it leads to is -1, and the rest say how far it is.
    """
    across, down, calm = steps.across, steps.down, steps.calm
    whole = int(length)
    at, x, y, walked = _run(steps, cols, cell, x, y, whole)
    part = length - whole
    end_x, end_y = x + part * across[at], y + part * down[at]
    end = int(end_y + 0.5) * cols + int(end_x + 0.5)
    if walked < whole or not (end == at or calm[end] < calm[at]):
        return -1, at, x, y, walked
    to, to_x, to_y, aligned = end, end_x, end_y, _ALIGNED
    while True:
        off_x, off_y = to_x - int(to_x + 0.5), to_y - int(to_y + 0.5)
        if abs(off_x * down[to] - off_y * across[to]) <= aligned:
            return to, end, end_x, end_y, whole
        aligned += _ALIGNED / 2
        to, to_x, to_y, on = _run(steps, cols, to, to_x, to_y, 1)
        if on == 0:
            return -1, at, x, y, whole


@kernel
def _stride(lay, limits, steps, ends, start, at):
    """Follow water from `start` for the first stretch; it has come over clear ground to `at`.

    `at` is (cell, x, y, cells walked), as `_clear_stride` leaves it.

    Returns the answer if the path ends on it (else `GOES_ON`), the cell it goes on from, whether it
    came near a foundation, and how steeply it fell.
    """
    near, pond, _, length, cell_size = limits
    water, code, node, away = lay.water, lay.code, lay.node, lay.away
    drain_to, onward, pond_away = lay.drain_to, lay.onward, lay.pond_away
    across, down, eventful, _ = steps
    shape, cols = lay.ground.shape, lay.ground.shape[1]
    cell, x, y, walked = at
    came, level, aligned = False, np.nan, _ALIGNED
    answer = ends[start]
    while answer == GOES_ON:
        came = came or (cell != start and away[cell] < near)
        if code[cell] == SINK:
            level = water[cell] if np.isnan(level) else level
            cell = drain_to[cell]
            came = came or away[cell] < near
            break
        if eventful[cell] == STANDING:
            leaf = node[cell]
            to = onward[leaf]
            if to == STAYS:
                level = water[cell] if np.isnan(level) else level
                answer = STANDS if pond_away[leaf] < pond else SAFE
                walked = length
                break
            came = came or pond_away[leaf] < near
            walked += np.hypot(to % cols - x, to // cols - y)
            if walked >= length and np.isnan(level):
                level = water[cell]
            cell, x, y = to, float(to % cols), float(to // cols)
            answer = ends[cell]
            if walked >= length:
                came = came or away[cell] < near
                break
            continue
        cell, x, y, ran = _run(steps, cols, cell, x, y, int(length - walked))
        walked += ran
        while True:
            if walked >= length - 1e-9:
                if np.isnan(level):
                    level = _height(water, shape, cell, x, y)
                off_x, off_y = x - int(x + 0.5), y - int(y + 0.5)
                off = off_x * down[cell] - off_y * across[cell]
                if abs(off) <= aligned:
                    return GOES_ON, cell, came, _steep(water, start, level, length, cell_size)
                aligned += _ALIGNED / 2
                most = 1.0
            else:
                most = length - walked
            there, x_there, y_there, moved = step_on(lay, steps, cell, x, y, most)
            if np.isnan(water[there]) and np.isnan(level):
                level = _height(water, shape, cell, x, y)
            cell, x, y = there, x_there, y_there
            walked += moved
            if eventful[cell]:
                answer = ends[cell]
                break
    if np.isnan(level):
        level = _height(water, shape, cell, x, y)
    return answer, cell, came, _steep(water, start, level, min(walked, length), cell_size)


@kernel
def _steep(water, start, level, walked, cell_size):
    """How steeply the water fell from its start over the cells walked, m/m; up to rounding."""
    fall = water[start] - level + _ROUNDING
    return fall / (walked * cell_size) if walked > 0.0 else np.inf


@kernel
def strides(lay, limits, ends, steps, first, last, answer, goes_to, steep):
    """The strides from the open ones of cells `first` to `last` - 1; `steps` are those of `aim`.

    `steep` is how much each falls over its first stretch, m/m.
    """
    cols = lay.ground.shape[1]
    for i in range(first, last):
        answer[i] = ends[i]
        steep[i] = np.inf
        if ends[i] != GOES_ON:
            continue
        if lay.away[i] < limits.near:
            answer[i] = BACK
            continue
        cell, x, y, walked = i, float(i % cols), float(i // cols), 0
        if not np.isnan(steps.calm[i]):
            to, cell, x, y, walked = _clear_stride(steps, cols, i, x, y, limits.length)
            if to >= 0:
                goes_to[i] = to
                level = _height(lay.water, lay.ground.shape, cell, x, y)
                steep[i] = _steep(lay.water, i, level, limits.length, limits.cell_size)
                continue
        at = (cell, x, y, float(walked))
        end, to, came, steep[i] = _stride(lay, limits, steps, ends, i, at)
        answer[i] = BACK if came else end
        goes_to[i] = to


@kernel
def join(answer, goes_to):
    """Give each stride that goes on the answer of the one it leads to; no cell is passed twice."""
    for start in range(answer.size):
        i = start
        while answer[i] == GOES_ON:
            answer[i] = VISITING
            i = goes_to[i]
        # Only drains that feed each other lead round: that water never leaves.
        found = FLAT if answer[i] == VISITING else answer[i]
        i = start
        while answer[i] == VISITING:
            answer[i] = found
            i = goes_to[i]


@kernel
def _worse(a, b):
    """The first reason of two; `SAFE` only where both are."""
    if a == SAFE or b == SAFE:
        return max(a, b)
    return min(a, b)


@kernel
def judge(lay, limits, answer, steep, step, out):
    """The first reason against each cell: the worse of its own path and of its receivers'."""
    on_lot, code, water, away = lay.on_lot, lay.code, lay.water, lay.away
    takes, angle = lay.takes, lay.angle
    for i in range(out.size):
        if not on_lot[i]:
            out[i] = OFF
        elif code[i] == WALL or np.isnan(water[i]):
            out[i] = NO_GROUND
        elif away[i] < limits.near:
            out[i] = NEAR
        elif steep[i] < limits.grade:
            out[i] = FLAT
        else:
            found = answer[i]
            if not takes[i] and not np.isnan(angle[i]):
                eighths = angle[i] / (np.pi / 4)
                first = int(np.floor(eighths + _ON_A_NEIGHBOR))
                shared = eighths - first > _ON_A_NEIGHBOR
                for k in range(2 if shared else 1):
                    j = i + step[(first + k) % 8]
                    if code[j] != WALL:
                        found = _worse(found, BACK if away[j] < limits.near else answer[j])
            out[i] = found
