"""Run-on that cannot be counted: sides of the lot where the survey stops and ground falls inward.

Rain on surveyed ground beyond the lot runs onto it in the storm like any other; of ground that was
not surveyed nothing is known.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from runoff.site.model import LotSide, Site
from runoff.terrain.model import Terrain

# The survey stops at the lot line where it ends this near to it, metres.
_NEAR = 1.0
# Ground that falls less than this over the last of the survey is not said to fall inward.
_LEAST_FALL = 0.01
# Places along a side, and the least length of side that is worth a notice, metres.
_SPACING = 0.5
_LEAST_LENGTH = 1.0


def run_on_notices(site: Site, terrain: Terrain) -> list[str]:
    """A notice for each side of the lot over which run-on may come that is not counted."""
    if site.lot is None:
        return []
    turn = 1.0 if site.lot.boundary.exterior.is_ccw else -1.0
    return [
        f"run-on over {side.words} not counted: the survey stops at the lot line"
        for side in site.lot.sides
        if _length_falling_inward(side, turn, terrain) >= _LEAST_LENGTH
    ]


def _length_falling_inward(side: LotSide, turn: float, terrain: Terrain) -> float:
    """Length of a side (m) at which the survey stops and the ground falls onto the lot."""
    start, end = side.line
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    outward = turn * np.array([along[1], -along[0]])
    count = max(1, int(length / _SPACING))
    stations = start + np.outer((np.arange(count) + 0.5) * length / count, along)
    step = terrain.grid.cell_size / 2.0
    offsets = np.linspace(-_NEAR, _NEAR, 2 * int(np.ceil(_NEAR / step)) + 1)
    height, wall = _look(terrain, stations[:, None, :] + offsets[None, :, None] * outward)
    known = ~np.isnan(height)
    last = offsets.size - 1 - np.argmax(known[:, ::-1], axis=1)
    stops = known.any(axis=1) & (last < offsets.size - 1) & ~wall.any(axis=1)
    span = max(_NEAR, 2.0 * terrain.grid.cell_size)
    inner, _ = _look(terrain, stations + (offsets[last] - span)[:, None] * outward)
    fall = height[np.arange(count), last] - inner
    return float((stops & (fall > _LEAST_FALL * span)).sum()) * length / count


def _look(
    terrain: Terrain, places: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Ground height (NaN where none is known) and whether a building stands, at (..., 2) places."""
    row, col, held = terrain.grid.cells_of(places)
    return np.where(held, terrain.ground[row, col], np.nan), held & terrain.closed[row, col]
