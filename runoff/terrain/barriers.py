"""Barriers and drains on the grid."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import Barrier, Drain, Units
from runoff.site.problems import InputError, Problem
from runoff.terrain.model import Grid, TerrainDrain
from runoff.terrain.wording import place_text

SNAP = 1.0
"""How far a drain's end may lie from open ground, metres."""


def line_cells(line: NDArray[np.float64], grid: Grid) -> NDArray[np.int64]:
    """The cells that a line passes through, each sharing a side with the next.

    Parameters
    ----------
    line : (k, 2) float array, metres
    grid : Grid

    Returns
    -------
    (n, 2) int array
        Rows and columns, in order along the line; those off the grid are left out.

    Examples
    --------
    >>> grid = Grid(3, 3, 1.0, 0.0, 0.0)
    >>> line_cells(np.array([[0.5, 0.5], [2.5, 2.5]]), grid).tolist()
    [[2, 0], [2, 1], [1, 1], [1, 2], [0, 2]]
    """
    x = (np.asarray(line)[:, 0] - grid.x0) / grid.cell_size
    y = (np.asarray(line)[:, 1] - grid.y0) / grid.cell_size
    cells: list[tuple[int, int]] = []
    for start, end in zip(
        zip(x[:-1], y[:-1], strict=True), zip(x[1:], y[1:], strict=True), strict=True
    ):
        cells += _segment_cells(start, end)
    rows_cols = np.array([(grid.rows - 1 - j, i) for i, j in cells], dtype=np.int64).reshape(-1, 2)
    new = np.ones(len(rows_cols), dtype=bool)
    new[1:] = (rows_cols[1:] != rows_cols[:-1]).any(axis=1)
    held = (rows_cols >= 0).all(axis=1) & (rows_cols < [grid.rows, grid.cols]).all(axis=1)
    return rows_cols[new & held]


def _segment_cells(start: tuple[float, float], end: tuple[float, float]) -> list[tuple[int, int]]:
    """Cells (i, j) from `start` to `end` in cell units, one side crossed at a time."""
    i, j = int(np.floor(start[0])), int(np.floor(start[1]))
    last_i, last_j = int(np.floor(end[0])), int(np.floor(end[1]))
    step_i, step_j = (1 if last_i >= i else -1), (1 if last_j >= j else -1)
    span_i, span_j = end[0] - start[0], end[1] - start[1]
    cells = [(i, j)]
    while (i, j) != (last_i, last_j):
        side_i = i + (step_i > 0)
        side_j = j + (step_j > 0)
        at_i = (side_i - start[0]) / span_i if i != last_i else np.inf
        at_j = (side_j - start[1]) / span_j if j != last_j else np.inf
        if at_i <= at_j:
            i += step_i
        else:
            j += step_j
        cells.append((i, j))
    return cells


def raise_barriers(
    ground: NDArray[np.float64], barriers: Sequence[Barrier], grid: Grid
) -> NDArray[np.float64]:
    """The ground with every barrier's height added along its line; where two meet, the higher.

    Parameters
    ----------
    ground : (rows, cols) float array, metres
    barriers : sequence of Barrier
    grid : Grid

    Returns
    -------
    (rows, cols) float array, metres
    """
    height = np.zeros_like(ground)
    for barrier in barriers:
        row, col = line_cells(barrier.line, grid).T
        height[row, col] = np.maximum(height[row, col], barrier.height)
    return ground + height


def place_drains(
    drains: Sequence[Drain],
    ground: NDArray[np.float64],
    building: NDArray[np.int16],
    grid: Grid,
    units: Units,
) -> tuple[TerrainDrain, ...]:
    """Each drain's inlet and outlet as cells with open ground.

    An outlet beyond the survey lets the water leave, as one with no outlet does.

    Raises
    ------
    InputError
        Where an inlet has no open ground within a metre, or an end lies inside a building.
    """
    problems = []
    placed = []
    for drain in drains:
        inlet = _open_cell(drain.inlet, ground, building, grid)
        outlet = None if drain.outlet is None else _open_cell(drain.outlet, ground, building, grid)
        if inlet is None:
            problems.append(_problem(drain, "inlet", drain.inlet, building, grid, units))
            continue
        if drain.outlet is not None and outlet is None and _inside(drain.outlet, building, grid):
            problems.append(_problem(drain, "outlet", drain.outlet, building, grid, units))
            continue
        placed.append(TerrainDrain(drain.name, inlet, outlet, drain.capacity))
    if problems:
        raise InputError(problems)
    return tuple(placed)


def _inside(place: tuple[float, float], building: NDArray[np.int16], grid: Grid) -> bool:
    row, col = grid.cell(*place)
    return grid.holds(row, col) and bool(building[row, col] >= 0)


def _open_cell(
    place: tuple[float, float],
    ground: NDArray[np.float64],
    building: NDArray[np.int16],
    grid: Grid,
) -> tuple[int, int] | None:
    row, col = grid.cell(*place)
    reach = int(np.ceil(SNAP / grid.cell_size))
    rows = np.arange(max(row - reach, 0), min(row + reach + 1, grid.rows))
    cols = np.arange(max(col - reach, 0), min(col + reach + 1, grid.cols))
    if not len(rows) or not len(cols):
        return None
    x, y = grid.centers()
    away = np.hypot(x[cols][None, :] - place[0], y[rows][:, None] - place[1])
    window = np.ix_(rows, cols)
    away[np.isnan(ground[window]) | (building[window] >= 0)] = np.inf
    best = np.unravel_index(np.argmin(away), away.shape)
    if away[best] > SNAP:
        return None
    return int(rows[best[0]]), int(cols[best[1]])


def _problem(
    drain: Drain,
    end: str,
    place: tuple[float, float],
    building: NDArray[np.int16],
    grid: Grid,
    units: Units,
) -> Problem:
    where = "inside a building" if _inside(place, building, grid) else "outside the survey"
    return Problem(
        drain.written.file,
        drain.written.line,
        f"drain '{drain.name}' {end}",
        place_text(*place, units),
        f"a place on surveyed ground; this one lies {where}",
    )
