"""The engine of the flow room: from heights to basins, fill levels, drainage and counts.

scan -> link -> merge -> flood -> accumulate, each stage a kernel in a file of its own. Large arrays
are worked in bands of rows, one thread a band.
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

from runoff.flow import counts, directions, lakes, saddles, spanning
from runoff.flow.ground import checked_closed, checked_elevation, prepare
from runoff.flow.spanning import Hierarchy

# Below this many cells a second thread costs more than it saves.
_CELLS_FOR_THREADS = 500_000


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
        return directions.steps(self.shape[1])


def _bands(rows: int, cols: int) -> list[tuple[int, int]]:
    """Rows (first, last) of the bands that are worked side by side."""
    n = min(os.cpu_count() or 1, 8, max(1, rows * cols // _CELLS_FOR_THREADS), rows)
    edges = [rows * i // n for i in range(n + 1)]
    return list(pairwise(edges))


def _side_by_side(work: Callable[..., Any], arguments: list[tuple]) -> list[Any]:

    if len(arguments) == 1:
        return [work(*arguments[0])]
    with ThreadPoolExecutor(len(arguments)) as pool:
        return list(pool.map(lambda each: work(*each), arguments))


def find_basins(ready: NDArray[np.floating]) -> Basins:
    """Directions, pits, saddles and the depression hierarchy of prepared heights (rows, cols)."""
    rows, cols = ready.shape
    z = ready.reshape(-1)
    index = np.int32 if z.size < 2**31 - 1 else np.int64
    step = directions.steps(cols)
    bands = _bands(rows, cols)
    code = np.empty(z.size, np.uint8)
    found = _side_by_side(
        directions.scan_rows,
        [(z, rows, cols, first, last, directions.GROUPS, code) for first, last in bands],
    )
    pits = sum(p for p, _ in found)
    node = np.full(z.size, saddles.UNKNOWN, index)
    pit_cell = np.zeros(pits + 1, np.int64)
    starts = 1 + np.cumsum([0] + [p for p, _ in found])
    _side_by_side(
        saddles.name_pits,
        [
            (code, first * cols, last * cols, int(number), node, pit_cell)
            for (first, last), number in zip(bands, starts[:-1], strict=True)
        ],
    )
    links = np.cumsum([0] + [n for _, n in found])
    side_a, side_b, cell = (np.empty(links[-1], index) for _ in range(3))
    ends = _side_by_side(
        saddles.link_rows,
        [
            (
                *(z, code, rows, cols, first, last, step),
                *(directions.GROUP, directions.GROUPS, node, side_a, side_b, cell, int(place)),
            )
            for (first, last), place in zip(bands, links[:-1], strict=True)
        ],
    )
    kept = np.concatenate([np.arange(a, b) for a, b in zip(links[:-1], ends, strict=True)])
    side_a, side_b, cell = side_a[kept], side_b[kept], cell[kept]
    order = spanning.ascending(z[cell])
    return Basins(
        (rows, cols), z, code, node, spanning.merge_basins(order, side_a, side_b, cell, pit_cell)
    )


def fill(basins: Basins) -> tuple[NDArray[np.floating], NDArray[np.uint8]]:
    """Filled heights and, on them, the drainage of every cell; both flat.

    The basins' own codes stay as they are: they say where water runs before a lake is full.
    """
    filled, code = basins.z.copy(), basins.code.copy()
    _fill_in_place(basins, filled, code)
    return filled, code


def _fill_in_place(basins: Basins, filled: NDArray, code: NDArray) -> None:
    tree = basins.hierarchy
    lakes.flood_lakes(
        *(basins.z, filled, code, basins.step, directions.GROUP, basins.node),
        *(tree.top, tree.parent, tree.spill_cell),
    )
    lakes.drain_flats(filled, code, basins.step)


def accumulate(
    code: NDArray[np.uint8], shape: tuple[int, int], total: NDArray | None = None
) -> NDArray:
    """Cells that drain through each cell, itself included; flat, walls 0."""
    rows, cols = shape
    step = directions.steps(cols)
    bands = [(first * cols, last * cols) for first, last in _bands(rows, cols)]
    if total is None:
        total = np.empty(code.size, np.int32 if code.size < 2**31 - 1 else np.int64)
    waiting = np.zeros(code.size, np.uint8)
    ready = np.empty(code.size, np.uint8)
    counts.count_waiting(code, step, 0, code.size, waiting)
    _side_by_side(
        counts.own_cells, [(code, total, ready, waiting, first, last) for first, last in bands]
    )
    room = 6 * cols
    away = [(np.empty(room, np.int64), np.empty(room, total.dtype)) for _ in bands]
    crossed = _side_by_side(
        counts.accumulate_band,
        [
            (code, step, first, last, waiting, total, ready, *outgoing)
            for (first, last), outgoing in zip(bands, away, strict=True)
        ],
    )
    for n, outgoing in zip(crossed, away, strict=True):
        counts.carry_on(code, step, waiting, total, *outgoing, n)
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
        basins.code[inlets] = directions.SINK
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
    filled = z_ready.copy()
    _fill_in_place(basins, filled, code)
    node = basins.node
    del basins, filled, z_ready
    return accumulate(code, shape, node).reshape(shape)
