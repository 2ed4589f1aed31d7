"""Follow water from every cell for 10 ft, and join these strides into whole paths.

A stride runs along the D-infinity directions as a line, not from center to center, so that it keeps
the aspect of the ground; the cell it ends in has a stride of its own. Every stride leads to lower
ground, so following them with what is known kept answers each cell once.

In: the lot laid out, in cells; x is 0 at the first column of centers, y at the first row and grows
downward. Out: for each cell the index into `runoff.foundation.model.REASONS`.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel
from runoff.flow.directions import COL_STEP, OUTSIDE, PIT, ROW_STEP, SINK, WALL
from runoff.foundation.safe_lay import (
    BACK,
    FLAT,
    GOES_ON,
    NEAR,
    NO_GROUND,
    OFF,
    SAFE,
    STANDS,
    STAYS,
)

VISITING = 101
STANDING = 2

# Heights are written to parts of a millimetre; a fall short by less is not short, metres.
_ROUNDING = 1e-6
_ON_A_NEIGHBOR = 1e-9
# A stride ends where it passes a center this near, in cells, and with each step past the first
# stretch that much farther off. What strides are off adds up along a path.
_ALIGNED = 0.1


@kernel
def aim(lay, near, ends, across, down, eventful, calm):
    """Unit steps, in cells, along the directions; of length 0 where there is none.

    `eventful` is 0 in cells that a path simply runs through; `calm` is the water's height in those
    that have a direction, else NaN.
    """
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
def step_on(water, code, across, down, shape, cell, x, y, most):
    """One cell on, or less: along the cell's direction, or by D8 where that does not go down."""
    cols = shape[1]
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
def _run(calm, across, down, cols, cell, x, y, most):
    """Up to `most` whole steps down over uneventful ground; the rest is left to `step_on`."""
    here = calm[cell]
    for steps in range(most):
        to_x, to_y = x + across[cell], y + down[cell]
        there = int(to_y + 0.5) * cols + int(to_x + 0.5)
        if there != cell:
            if not calm[there] < here:
                return cell, x, y, steps
            here = calm[there]
        cell, x, y = there, to_x, to_y
    return cell, x, y, max(most, 0)


@kernel
def _clear_stride(calm, across, down, cols, cell, x, y, length):
    """A stride that meets nothing: the cell it leads to, and where its first stretch ends, as
    cell, x, y, and the whole steps to there.

    Where it is not clear the cell it leads to is -1, and the rest say how far it is.
    """
    whole = int(length)
    at, x, y, steps = _run(calm, across, down, cols, cell, x, y, whole)
    part = length - whole
    end_x, end_y = x + part * across[at], y + part * down[at]
    end = int(end_y + 0.5) * cols + int(end_x + 0.5)
    if steps < whole or not (end == at or calm[end] < calm[at]):
        return -1, at, x, y, steps
    to, to_x, to_y, aligned = end, end_x, end_y, _ALIGNED
    while True:
        off_x, off_y = to_x - int(to_x + 0.5), to_y - int(to_y + 0.5)
        if abs(off_x * down[to] - off_y * across[to]) <= aligned:
            return to, end, end_x, end_y, whole
        aligned += _ALIGNED / 2
        to, to_x, to_y, on = _run(calm, across, down, cols, to, to_x, to_y, 1)
        if on == 0:
            return -1, at, x, y, whole


@kernel
def _stride(
    shape,
    water,
    code,
    node,
    away,
    ends,
    eventful,
    across,
    down,
    calm,
    drain_to,
    onward,
    pond_away,
    limits,
    start,
    cell,
    x,
    y,
    walked,
):
    """Follow water from `start` for the first stretch; it has come to `cell` over clear ground.

    Returns the answer if the path ends on it (else `GOES_ON`), the cell it goes on from, whether it
    came near a foundation, and how steeply it fell.
    """
    near, pond, _, length, cell_size = limits
    cols = shape[1]
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
        cell, x, y, steps = _run(calm, across, down, cols, cell, x, y, int(length - walked))
        walked += steps
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
            there, x_there, y_there, moved = step_on(
                water, code, across, down, shape, cell, x, y, most
            )
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
    water, code, node, away = lay.water, lay.code, lay.node, lay.away
    drain_to, onward, pond_away = lay.drain_to, lay.onward, lay.pond_away
    across, down, eventful, calm = steps
    cols = lay.ground.shape[1]
    for i in range(first, last):
        answer[i] = ends[i]
        steep[i] = np.inf
        if ends[i] != GOES_ON:
            continue
        if away[i] < limits.near:
            answer[i] = BACK
            continue
        cell, x, y, walked = i, float(i % cols), float(i // cols), 0
        if not np.isnan(calm[i]):
            to, cell, x, y, walked = _clear_stride(calm, across, down, cols, i, x, y, limits.length)
            if to >= 0:
                goes_to[i] = to
                level = _height(water, lay.ground.shape, cell, x, y)
                steep[i] = _steep(water, i, level, limits.length, limits.cell_size)
                continue
        end, to, came, steep[i] = _stride(
            *(lay.ground.shape, water, code, node, away, ends, eventful, across, down),
            *(calm, drain_to, onward, pond_away, limits, i, cell, x, y, float(walked)),
        )
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
