"""The surveyed ground as a surface: its height at any place of the plan, and not at cells alone.

In: triangles between heights, or heights on a grid. Out: metres, NaN where no ground is known. What
is judged, cut or dug is read here; cells serve the water.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

from runoff.terrain.grid_heights import heights_at
from runoff.terrain.triangulation import STEP_WIDTH, TOLERANCE

if TYPE_CHECKING:
    from runoff.terrain.model import Grid

Floats = NDArray[np.float64]

HAIR = 2 * TOLERANCE
"""Places this little, metres, inside an outline or beyond the last triangle lie on its edge."""

_NO_AREA = 1e-12


class Relief(Protocol):
    """A ground that can be asked for its height.

    `blur` is how far, metres, a step in the ground is smeared to each side.
    """

    @property
    def blur(self) -> float: ...

    def heights(
        self, points: Floats, feet: Floats | None = None, outward: Floats | None = None
    ) -> Floats:
        """Heights (n,), metres, at (n, 2) plan positions; NaN where no ground is known.

        `feet` and `outward` are (n, 2): of a place before a wall, a point of that wall and the unit
        vector away from it. Where a height at a wall has to be carried on from the ground around,
        they say which side of the wall is meant.
        """


@dataclass(frozen=True)
class Triangles:
    """Ground that is linear over each of its triangles.

    Parameters
    ----------
    xyz : (n, 3) float64, metres
    triangles : (t, 3) int

    Examples
    --------
    >>> xyz = np.array([[0.0, 0.0, 0.0], [2.0, 0.0, 2.0], [0.0, 2.0, 4.0]])
    >>> ground = Triangles(xyz, np.array([[0, 1, 2]]))
    >>> ground.heights(np.array([[0.5, 0.5], [1.0, -0.001], [1.0, -0.1]])).round(2).tolist()
    [1.5, 1.0, nan]
    """

    xyz: Floats
    triangles: NDArray[np.int64]

    @property
    def blur(self) -> float:
        """A step's foot lies this far beside its top, in metres, with a hair to spare."""
        return STEP_WIDTH + HAIR

    @cached_property
    def _corners(self) -> Floats:
        """(k, 3, 3) corners of the triangles that have an area."""
        corner = self.xyz[self.triangles]
        across, on = corner[:, 1, :2] - corner[:, 0, :2], corner[:, 2, :2] - corner[:, 0, :2]
        return corner[np.abs(across[:, 0] * on[:, 1] - across[:, 1] * on[:, 0]) > _NO_AREA]

    @cached_property
    def _finder(self) -> Callable[[Floats, Floats], NDArray[np.int64]] | None:
        """What finds the triangle that a place lies in; None where triangles lie on each other."""
        from matplotlib.tri import Triangulation

        corners = self._corners
        numbers = np.arange(3 * len(corners)).reshape(-1, 3)
        flat, places = np.unique(corners[:, :, :2].reshape(-1, 2), axis=0, return_inverse=True)
        try:
            across, up = flat.T
            found: Any = Triangulation(across, up, places.ravel()[numbers]).get_trifinder()
        except (RuntimeError, ValueError):
            return None
        return found

    @cached_property
    def _tree(self) -> shapely.STRtree:
        """The triangles by their bounds, a hair wider, so that points alone find them."""
        flat = self._corners[:, :, :2]
        bounds = flat.min(axis=1) - HAIR, flat.max(axis=1) + HAIR
        return shapely.STRtree(shapely.box(*bounds[0].T, *bounds[1].T))

    def heights(
        self, points: Floats, feet: Floats | None = None, outward: Floats | None = None
    ) -> Floats:
        """As `Relief.heights`; a hair beyond an edge the ground is as it is on the edge."""
        found = np.full(len(points), np.nan)
        if not len(points) or not len(self._corners):
            return found
        which = np.full(len(points), -1)
        if self._finder is not None:
            which = self._finder(*points.T)
        inside = np.flatnonzero(which >= 0)
        share, _ = _shares(self._corners[which[inside]], points[inside])
        found[inside] = _between(self._corners[which[inside]], share)
        beside = np.flatnonzero(which < 0)
        if len(beside):
            found[beside] = self._within_a_hair(points[beside])
        return found

    def _within_a_hair(self, points: Floats) -> Floats:
        """Heights at places that may lie a hair outside every triangle."""
        found = np.full(len(points), np.nan)
        place, which = self._tree.query(shapely.points(points))
        if not len(place):
            return found
        share, inside = _shares(self._corners[which], points[place])
        # The triangle that a place lies deepest in is the last of its entries.
        order = np.lexsort((inside, place))
        last = order[np.append(np.diff(place[order]) > 0, True)]
        last = last[inside[last] >= -HAIR]
        found[place[last]] = _between(self._corners[which[last]], share[last])
        return found


def _between(corner: Floats, share: Floats) -> Floats:
    """Heights (n,) between the corners of triangles by barycentric coordinates (n, 3)."""
    held = np.clip(share, 0.0, 1.0)
    return (held * corner[:, :, 2]).sum(axis=1) / held.sum(axis=1)


def _shares(corner: Floats, point: Floats) -> tuple[Floats, Floats]:
    """Barycentric coordinates (n, 3), and how far (m) each point lies inside its triangle."""
    flat = corner[:, :, :2]
    following = flat[:, [1, 2, 0]]
    facing = flat[:, [2, 0, 1]] - following
    to_point = point[:, None, :] - following
    twice = facing[..., 0] * to_point[..., 1] - facing[..., 1] * to_point[..., 0]
    share = twice / twice.sum(axis=1, keepdims=True)
    whole = np.abs(twice.sum(axis=1, keepdims=True))
    return share, (share * whole / np.hypot(facing[..., 0], facing[..., 1])).min(axis=1)


@dataclass(frozen=True)
class Cells:
    """Ground known at the cells of a grid, and between their centers as `heights_at` reads it."""

    ground: Floats
    grid: Grid

    @property
    def blur(self) -> float:
        """The cell, metres."""
        return self.grid.cell_size

    def heights(
        self, points: Floats, feet: Floats | None = None, outward: Floats | None = None
    ) -> Floats:
        """As `Relief.heights`."""
        return heights_at(self.ground, self.grid, points, feet, outward)
