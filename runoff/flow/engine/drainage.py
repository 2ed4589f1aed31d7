"""The engine of the flow room: from heights to basins, fill levels, drainage and counts.

scan -> link -> merge -> flood -> accumulate, each stage a kernel in a file of its own. Large arrays
are worked in blocks of rows, several threads at once.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.flow.engine.basins import (
    Hierarchy,
    Links,
    joined,
    keep_forest,
    link_rows,
    merge_basins,
    name_pits,
)
from runoff.flow.engine.counts import accumulate_band, carry_on, count_waiting
from runoff.flow.engine.directions import (
    FIRST,
    GROUP,
    GROUPS,
    SINK,
    checked_closed,
    checked_elevation,
    prepare,
    scan_rows,
    steps,
)
from runoff.flow.engine.lakes import drain_flats, first_leaves, flat_cells, flood_lakes

# A block of rows of about this many cells stays in the processor's cache while it is worked.
_BLOCK_CELLS = 2**18


@dataclass(frozen=True)
class Basins:
    """The first half of the engine: where every cell drains before anything is filled.

    Parameters
    ----------
    shape : (rows, cols)
    z : (rows * cols,) float, prepared heights
    code : (rows * cols,) uint8, D8 codes with flags
    node : (rows * cols,) int, the pit that a visited cell drains to
    hierarchy : Hierarchy
    """

    shape: tuple[int, int]
    z: NDArray[np.floating]
    code: NDArray[np.uint8]
    node: NDArray[np.integer]
    hierarchy: Hierarchy

    @property
    def step(self) -> NDArray[np.int64]:
        """Offsets in the flat arrays to the eight neighbors."""
        return steps(self.shape[1])


def _blocks(rows: int, cols: int, n: int) -> list[tuple[int, int]]:
    """Rows (first, last) of `n` blocks of about equal height, or of fewer where rows are few."""
    n = max(1, min(n, rows))
    return list(pairwise(rows * i // n for i in range(n + 1)))


def _side_by_side(work: Callable[..., Any], arguments: list[tuple]) -> list[Any]:
    """The results of `work` for each of the arguments, several at once."""
    threads = min(len(arguments), os.cpu_count() or 1)
    if threads == 1:
        return [work(*each) for each in arguments]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(lambda each: work(*each), arguments))


def find_basins(ready: NDArray[np.floating]) -> Basins:
    """Directions, pits, saddles and the depression hierarchy of prepared heights (rows, cols)."""
    rows, cols = ready.shape
    z = ready.reshape(-1)
    step = steps(cols)
    blocks = _blocks(rows, cols, z.size // _BLOCK_CELLS)
    code = np.empty(z.size, np.uint8)
    found = _side_by_side(scan_rows, [(z, rows, cols, first, last, code) for first, last in blocks])
    node: Any = np.empty(z.size, np.int32 if z.size < 2**31 - 1 else np.int64)
    starts = [int(start) for start in 1 + np.cumsum([0] + [pits for pits, _ in found])]
    pit_cell = np.zeros(starts[-1], np.int64)
    _side_by_side(
        name_pits,
        [
            (code, first * cols, last * cols, number, node, pit_cell)
            for (first, last), number in zip(blocks, starts[:-1], strict=True)
        ],
    )

    def links_of(place: int) -> Links:
        """The links of a block that a spanning forest of it keeps."""
        side_a, side_b, cell = (np.empty(found[place][1], node.dtype) for _ in range(3))
        n = link_rows(
            *(z, code, rows, cols, *blocks[place], step, GROUPS, FIRST),
            *(node, side_a, side_b, cell),
        )
        cell = cell[:n]
        links = Links(z[cell], side_a[:n], side_b[:n], cell)
        return keep_forest(links, starts[place], starts[place + 1])

    links = joined(_side_by_side(links_of, [(place,) for place in range(len(blocks))]))
    return Basins((rows, cols), z, code, node, merge_basins(links, pit_cell))


def fill(basins: Basins) -> tuple[NDArray[np.floating], NDArray[np.uint8]]:
    """The filled heights and the drainage of the filled surface, both flat.

    The basins stay as they are: they say where water runs before a lake is full.
    """
    filled, code = basins.z.copy(), basins.code.copy()
    _fill_in_place(basins, filled, code)
    return filled, code


def _fill_in_place(basins: Basins, filled: NDArray, code: NDArray) -> None:
    """Flood the lakes and drain the flats; only the cells of lakes are written in `filled`."""
    z, step, tree = basins.z, basins.step, basins.hierarchy
    rows, cols = basins.shape
    blocks = _blocks(rows, cols, z.size // _BLOCK_CELLS)
    first_leaf = first_leaves(tree.top, tree.parent)
    edges = 1 + tree.leaves * np.arange(len(blocks) + 1) // len(blocks)
    _side_by_side(
        flood_lakes,
        [
            (
                *(z, filled, code, step, GROUP, FIRST, basins.node),
                *(tree.top, tree.spill_cell, first_leaf, int(start), int(stop)),
            )
            for start, stop in pairwise(edges)
        ],
    )
    flat = _side_by_side(flat_cells, [(code, first * cols, last * cols) for first, last in blocks])
    drain_flats(z, filled, code, step, np.concatenate(flat))


def accumulate(
    code: NDArray[np.uint8], shape: tuple[int, int], total: NDArray | None = None
) -> NDArray:
    """Cells that drain through each cell, itself included; flat, walls 0."""
    rows, cols = shape
    step = np.zeros(16, np.int64)
    step[:8] = steps(cols)
    if total is None:
        total = np.empty(code.size, np.int32 if code.size < 2**31 - 1 else np.int64)
    state = np.empty(code.size, np.uint8)
    threads = min(os.cpu_count() or 1, code.size // _BLOCK_CELLS)
    bands = _blocks(rows, cols, threads)
    _side_by_side(
        count_waiting,
        [(code, rows, cols, first, last, state, total) for first, last in bands],
    )

    def work_band(first: int, last: int) -> tuple[NDArray, NDArray, int]:
        """Accumulate within a band; returns what crosses to others."""
        away = np.empty(2 * cols, np.int64), np.empty(2 * cols, total.dtype)
        n = accumulate_band(state, step, first * cols, last * cols, total, *away)
        return *away, n

    for away_to, away_total, n in _side_by_side(work_band, bands):
        carry_on(state, step, total, away_to, away_total, n)
    return total


def basins_of(
    elevation: ArrayLike,
    closed: ArrayLike | None = None,
    inlets: NDArray[np.int64] | None = None,
) -> Basins:
    """The basins of an elevation (rows, cols) with walls and drain inlets (flat indices).

    Raises
    ------
    ValueError
        As `fill_depressions`.

    Examples
    --------
    >>> bowl = np.full((3, 3), 2.0)
    >>> bowl[1, 1] = 0.0
    >>> basins_of(bowl).hierarchy.leaves
    1
    """
    z = checked_elevation(elevation)
    basins = find_basins(prepare(z, checked_closed(closed, z.shape), inlets))
    if inlets is not None:
        basins.code[inlets] = SINK
    return basins


def fill_depressions(elevation: ArrayLike, closed: ArrayLike | None = None) -> NDArray:
    """Raise every depression to the height at which it overflows.

    Water stands level in a depression until it finds the lowest way out; the filled surface is that
    level. Border cells and NaN cells are open; closed cells are walls, their heights unchanged, as
    are those of ground enclosed by walls alone.

    Parameters
    ----------
    elevation : (rows, cols) float32 or float64, metres, row 0 at the top, NaN where missing
    closed : (rows, cols) bool, optional

    Returns
    -------
    (rows, cols), of the elevation's type, metres

    Raises
    ------
    ValueError
        For an array that is not 2-D, has infinite heights, or a `closed` of another shape.

    References
    ----------
    Barnes, Lehman & Mulla 2014, Computers & Geosciences 62, doi:10.1016/j.cageo.2013.04.024, for
    what is computed; the way is this room's own, see docs/flow.md.

    Examples
    --------
    >>> bowl = np.full((3, 3), 2.0)
    >>> bowl[1, 1], bowl[0, 1] = 0.0, 1.5
    >>> float(fill_depressions(bowl)[1, 1])
    1.5
    """
    z = checked_elevation(elevation)
    basins = basins_of(z, closed)
    filled, _ = fill(basins)
    # Only lakes were changed: their cells are finite and above the ground.
    with np.errstate(invalid="ignore"):
        return np.where(np.isfinite(filled) & (filled > basins.z), filled, z.ravel()).reshape(
            z.shape
        )


def flow_accumulation(elevation: ArrayLike, closed: ArrayLike | None = None) -> NDArray:
    """Count the cells that drain through each cell, itself included (D8).

    Lakes are crossed, flats are drained: every open cell's water leaves over the border or into a
    missing cell, or ends at the lowest cell of a terminal basin.

    Parameters
    ----------
    elevation : (rows, cols) float32 or float64, metres, row 0 at the top, NaN where missing
    closed : (rows, cols) bool, optional

    Returns
    -------
    (rows, cols) int32, or int64 from 2 ** 31 cells on; 0 in closed cells

    Raises
    ------
    ValueError
        As `fill_depressions`.

    Examples
    --------
    >>> slope = np.tile([3.0, 2.0, 1.0, 0.0], (3, 1))
    >>> flow_accumulation(slope)[1].tolist()
    [1, 1, 2, 3]
    """
    basins = basins_of(elevation, closed)
    shape, code, z_ready = basins.shape, basins.code, basins.z
    filled = np.empty_like(z_ready)
    _fill_in_place(basins, filled, code)
    node = basins.node
    del basins, filled, z_ready
    return accumulate(code, shape, node).reshape(shape)
