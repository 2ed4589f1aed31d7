"""Flow accumulation: how many cells drain through each cell, itself included.

Each cell waits for the cells that drain to it; one that waits for none is walked downstream until a
cell that still waits. Bands of rows are walked independently, what crosses from one band to another
is set aside and carried on at the end.
"""

from __future__ import annotations

import numpy as np

from runoff.flow.compiled import kernel
from runoff.flow.directions import CODE, PIT, WALL


@kernel
def count_waiting(code, step, first, last, waiting):
    """Add to `waiting` the receivers of the cells from `first` to `last` - 1."""
    for i in range(first, last):
        k = code[i] & CODE
        if k < PIT:
            waiting[i + step[k]] += 1


@kernel
def accumulate_band(code, step, first, last, waiting, total, ready, away_to, away_total):
    """Accumulate within cells `first` to `last` - 1.

    `total` holds each cell's own water on entry. `ready` marks by 1 the cells that wait for none on
    entry. What leaves the band is written to `away_to` and `away_total`; returns how many entries.
    """
    n = 0
    for start in range(first, last):
        if not ready[start]:
            continue
        i = start
        while True:
            k = code[i] & CODE
            if k >= PIT:
                break
            j = i + step[k]
            if j < first or j >= last:
                away_to[n] = j
                away_total[n] = total[i]
                n += 1
                break
            total[j] += total[i]
            waiting[j] -= 1
            if waiting[j] > 0:
                break
            i = j
    return n


@kernel
def carry_on(code, step, waiting, total, away_to, away_total, n):
    """Hand on what crossed between bands, until every cell has all of its water."""
    for place in range(n):
        i = np.int64(away_to[place])
        carried = away_total[place]
        while True:
            total[i] += carried
            waiting[i] -= 1
            if waiting[i] > 0:
                break
            k = code[i] & CODE
            if k >= PIT:
                break
            carried = total[i]
            i += step[k]


@kernel
def own_cells(code, total, ready, waiting, first, last):
    """Start each open cell with itself and each wall with nothing; mark the cells that are ready."""
    for i in range(first, last):
        total[i] = 0 if code[i] & CODE == WALL else 1
        ready[i] = waiting[i] == 0
