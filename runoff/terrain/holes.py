"""Ground of the lot on which nobody measured: where it lies, how large it is.

In: a lot and its cells. Out: records in plan metres; words are made of them elsewhere.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from runoff.site.model import Site
from runoff.terrain.buildings import union_of
from runoff.terrain.model import Grid, Hole

LEAST_AREA = 50 * 0.3048**2
LEAST_WIDTH = 6 * 0.3048
"""Holes of less than 50 sq ft or narrower than 6 ft are slivers: a shot would not help there."""


def holes_of(
    site: Site, grid: Grid, ground: NDArray[np.float64], closed: NDArray[np.bool_]
) -> tuple[Hole, ...]:
    """The parts of the lot without ground, the largest first.

    Where no lot is drawn it is what the known ground surrounds.

    Parameters
    ----------
    site : Site
    grid : Grid
    ground : (rows, cols) float array, metres
        NaN where no ground is known.
    closed : (rows, cols) bool array
        Cells that buildings cover.

    Returns
    -------
    tuple of Hole

    Examples
    --------
    >>> from pathlib import Path
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> from runoff.terrain import build_terrain
    >>> build_terrain(read_site(sample_folder() / "site.toml")).holes
    ()
    """
    known = _cells(grid, np.isfinite(ground) | closed)
    if site.lot is None:
        inside = shapely.union_all([Polygon(p.exterior) for p in shapely.get_parts(known)])
    else:
        inside = site.lot.boundary
    unknown = inside.difference(known).difference(union_of(site.buildings))
    half = LEAST_WIDTH / 2
    wide = unknown.buffer(-half).buffer(half).intersection(unknown)
    parts = shapely.get_parts(wide.simplify(grid.cell_size))
    holes = [Hole(part) for part in parts if part.area >= LEAST_AREA]
    return tuple(sorted(holes, key=lambda hole: -hole.area))


def _cells(grid: Grid, chosen: NDArray[np.bool_]) -> BaseGeometry:
    """The plan area of the chosen cells."""
    step = np.diff(np.pad(chosen, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, first = np.nonzero(step == 1)
    _, last = np.nonzero(step == -1)
    # Whole numbers first: rows of cells then meet exactly.
    area = shapely.union_all(shapely.box(first, -row - 1, last, -row))
    corner = np.array([grid.x0, grid.y0 + grid.rows * grid.cell_size])
    return shapely.transform(area, lambda at: corner + at * grid.cell_size)
