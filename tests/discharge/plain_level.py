"""Where a path comes to level ground, by plain means: from there nobody can tell where it goes.

In: paths on a `PlainGround`, walked. Out: which of them meet level ground, and which meet it where
the water may drift onto a neighbor or to a foundation.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, union_all
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

if TYPE_CHECKING:
    from tests.discharge.plain_ground import PlainGround


def told_apart(ground: PlainGround) -> float:
    """The least difference of two heights that can be told, metres."""
    return 1.96 * float(np.sqrt(2.0)) * ground.site.height_accuracy.sigma


def falls_onward(ground: PlainGround, path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fall (m) over the next 10 ft at each step of paths (steps, n, 2); NaN where less is left.

    NaN too where either end lies in a pond.
    """
    steps, n, _ = path.shape
    run = np.cumsum(np.hypot(*np.moveaxis(np.diff(path, axis=0), -1, 0)), axis=0)
    run = np.vstack([np.zeros(n), run])
    flat = path.reshape(-1, 2)
    z = ground.sample(ground.filled, flat).reshape(steps, n)
    z = np.where(ground.lake[ground.cells(flat)[0]].reshape(steps, n), np.nan, z)
    stretch = ground.site.rules["discharge_grade_length"]
    fall = np.full((steps, n), np.nan)
    for k in range(n):
        on = np.searchsorted(run[:, k], run[:, k] + stretch)
        fall[on < steps, k] = z[on < steps, k] - z[on[on < steps], k]
    return fall


def drifts(
    ground: PlainGround, path: NDArray[np.float64], first: NDArray[np.int64], to: str
) -> NDArray[np.bool_]:
    """Whether water may come straight to a neighbor or a foundation from where it is level first.

    `first` are steps of the paths, -1 where none is level. From two cells less than 10 ft, over
    ground that rises by no more than half of what can be told.
    """
    site, found = ground.site, np.zeros(path.shape[1], bool)
    assert site.lot is not None
    if to == "neighbor":
        shape: BaseGeometry = union_all(
            [LineString(s.line) for s in site.lot.sides if s.neighbor == "neighbor"]
        )
        reach, stop = site.rules["discharge_grade_length"], 0.0
    else:
        shape = union_all([each.outline for each in site.buildings])
        reach, stop = site.rules["pond_foundation_distance"], site.rules["near_foundation"]
    for k in np.flatnonzero(first >= 0):
        at = Point(path[first[k], k])
        if shape.is_empty or shape.distance(at) >= reach - 2 * ground.grid.cell_size:
            continue
        line = LineString([at, nearest_points(at, shape)[1]])
        share = np.arange(0.0, max(line.length - stop, 0.1), 0.15)
        z = ground.heights(np.array([line.interpolate(s).coords[0] for s in share]))
        found[k] = np.nanmax(z) - z[0] < told_apart(ground) / 2
    return found
