"""Where water comes to level ground, and whether it may drift from there to where it must not.

On ground that falls by less than heights can tell, the way that water takes cannot be told: it
spreads. In: the lot laid out for the safe discharge area, and how steep the first stretch of each
cell's path is. Out: the answer of those cells.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel
from runoff.flow.directions import COL_STEP, ROW_STEP, WALL
from runoff.foundation.safe_lay import GOES_ON, NEIGHBOR, SAFE, STANDS
from runoff.foundation.safe_strides import step_on


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
    across, down, eventful, _ = steps
    shape = lay.ground.shape
    for i in range(answer.size):
        if answer[i] != GOES_ON and answer[i] != SAFE:
            continue
        cell, x, y, walked = i, float(i % shape[1]), float(i // shape[1]), 0.0
        while level[cell] == GOES_ON and not eventful[cell] and walked < limits.length:
            cell, x, y, moved = step_on(lay.water, lay.code, across, down, shape, cell, x, y, 1.0)
            walked += moved
        if level[cell] != GOES_ON:
            answer[i] = level[cell]
