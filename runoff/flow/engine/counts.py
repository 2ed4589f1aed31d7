"""Flow accumulation: how many cells drain through each cell, itself included.

Each cell waits for the cells that drain to it; one that waits for none is walked downstream until a
cell that still waits. Bands of rows are walked independently, what crosses from one band to another
is set aside and carried on at the end.

A cell's state is its code in the low four bits and the number it waits for above them; 15
marks a cell that a walk has passed.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.engine.compiled import kernel
from runoff.flow.engine.directions import CODE, OUTSIDE, PIT, WALL

_ONE = 16  # one cell waited for
_SETTLED = 240
_CHUNK = 8192  # cells that are looked through for starts of walks at a time
_LANES = 4


@kernel
def count_waiting(code, rows, cols, first, last, state, total):
    """Write `state`, and in `total` each cell's own water, for rows `first` to `last` - 1.

    Flags above a code's low four bits are ignored.
    """
    outside = np.full(cols, OUTSIDE, np.uint8)
    for r in range(first, last):
        base = r * cols
        row = code[base : base + cols]
        above = code[base - cols : base] if r > 0 else outside
        below = code[base + cols : base + 2 * cols] if r < rows - 1 else outside
        _count_row(above, row, below, state[base : base + cols], total[base : base + cols])
        for c in range(0, cols, max(cols - 1, 1)):
            _count_end(above, row, below, c, state, total, base)


@kernel
def _count_row(above, row, below, state, total):
    """The inner cells of a row; like `directions.scan_rows` made for wide instructions."""
    for c in range(1, row.size - 1):
        waiting = (
            np.uint8((row[c + 1] & CODE) == 4)
            + np.uint8((above[c + 1] & CODE) == 5)
            + np.uint8((above[c] & CODE) == 6)
            + np.uint8((above[c - 1] & CODE) == 7)
            + np.uint8((row[c - 1] & CODE) == 0)
            + np.uint8((below[c - 1] & CODE) == 1)
            + np.uint8((below[c] & CODE) == 2)
            + np.uint8((below[c + 1] & CODE) == 3)
        )
        k = row[c] & CODE
        state[c] = k | (waiting << 4)
        total[c] = np.uint8(k != WALL)


@kernel
def _count_end(above, row, below, c, state, total, base):
    """The first or last cell of a row."""
    waiting = np.int64(0)
    if c > 0:
        waiting += np.int64((above[c - 1] & CODE) == 7) + np.int64((below[c - 1] & CODE) == 1)
        waiting += np.int64((row[c - 1] & CODE) == 0)
    if c < row.size - 1:
        waiting += np.int64((above[c + 1] & CODE) == 5) + np.int64((below[c + 1] & CODE) == 3)
        waiting += np.int64((row[c + 1] & CODE) == 4)
    waiting += np.int64((above[c] & CODE) == 6) + np.int64((below[c] & CODE) == 2)
    k = row[c] & CODE
    state[base + c] = k | (waiting << 4)
    total[base + c] = np.uint8(k != WALL)


@kernel
def accumulate_band(state, step, first, last, total, away_to, away_total):
    """Accumulate within cells `first` to `last` - 1, after `count_waiting`.

    What leaves the band is written to `away_to` and `away_total`; returns how many entries. `step`
    is (16,), 0 for codes that are no direction.

    Several walks go on at once, a step of each in turn: a walk waits for memory at every step, and
    where it ends cannot be predicted.
    """
    n = 0
    starts = np.zeros(_CHUNK + _LANES, np.int64)
    for chunk in range(first, last, _CHUNK):
        found = np.int64(0)
        for i in range(chunk, min(chunk + _CHUNK, last)):
            starts[found] = i
            found += np.int64(state[i] < _ONE)
        a, b, c, d = starts[0], starts[1], starts[2], starts[3]
        taken = _LANES if found >= _LANES else 0
        while taken + _LANES <= found:
            a, taken, n = _walk_on(
                state, step, first, last, total, away_to, away_total, n, a, starts, taken
            )
            b, taken, n = _walk_on(
                state, step, first, last, total, away_to, away_total, n, b, starts, taken
            )
            c, taken, n = _walk_on(
                state, step, first, last, total, away_to, away_total, n, c, starts, taken
            )
            d, taken, n = _walk_on(
                state, step, first, last, total, away_to, away_total, n, d, starts, taken
            )
        if found >= _LANES:
            # The walks that are under way are the last starts but those not taken yet.
            for lane in (a, b, c, d):
                starts[found] = lane
                found += 1
        for place in range(taken, found):
            i = starts[place]
            walking = 0
            while walking == 0:
                i, walking, n = _walk_on(
                    state, step, first, last, total, away_to, away_total, n, i, starts, 0
                )
    return n


@kernel
def _walk_on(state, step, first, last, total, away_to, away_total, n, i, starts, taken):
    """One step of a walk at cell `i`: hand its water on.

    Goes on to the receiver if that waits for no more, else to the next of the `starts`. Returns the
    cell, how many starts are taken, and `n`.
    """
    k = np.int64(state[i] & CODE)
    carried = total[i]
    goes = np.int64(k < PIT)
    j = i + step[k]
    following = starts[taken]
    if j < first or j >= last:
        away_to[n] = j
        away_total[n] = carried
        return following, taken + 1, n + 1
    total[j] += carried * goes
    left = state[j] - _ONE * goes
    on = np.int64(left < _ONE) & goes
    state[j] = left | (_SETTLED & -on)
    return following ^ ((j ^ following) & -on), taken + 1 - on, n


@kernel
def carry_on(state, step, total, away_to, away_total, n):
    """Hand on what crossed between bands, until every cell has all of its water."""
    for place in range(n):
        i = np.int64(away_to[place])
        carried = away_total[place]
        while True:
            total[i] += carried
            state[i] -= _ONE
            if state[i] >= _ONE:
                break
            k = np.int64(state[i] & CODE)
            if k >= PIT:
                break
            carried = total[i]
            i += step[k]
