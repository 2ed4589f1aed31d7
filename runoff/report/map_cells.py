"""Cells of the terrain as areas with edges, so that a picture of them is as sharp at any size.

In: a grid and which of its cells. Out: patches on the map.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from numpy.typing import NDArray

from runoff.report.map_plan import patch_of
from runoff.terrain.model import Grid


def area_of_cells(grid: Grid, chosen: NDArray[np.bool_]) -> shapely.Geometry:
    """The area that cells cover together, plan metres.

    Examples
    --------
    Three cells of 1 m2, two of them side by side:

    >>> grid = Grid(rows=2, cols=3, cell_size=1.0, x0=0.0, y0=0.0)
    >>> area_of_cells(grid, np.array([[True, True, False], [False, False, True]])).area
    3.0
    """
    edges = np.diff(np.pad(chosen, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    (row, start), (_, end) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    size = grid.cell_size
    low = grid.y0 + (grid.rows - 1 - row) * size
    left, right = grid.x0 + start * size, grid.x0 + end * size
    return shapely.union_all(shapely.box(left, low, right, low + size))


def draw_cells(axes: Axes, grid: Grid, chosen: NDArray[np.bool_], **style: Any) -> None:
    """Draw the area that cells cover together."""
    area = area_of_cells(grid, chosen)
    for part in getattr(area, "geoms", [area]):
        axes.add_patch(patch_of(part, **style))
