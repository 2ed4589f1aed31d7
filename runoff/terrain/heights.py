"""The height of the ground at any place: on the surveyed surface, and between cell centers up to
the very wall.

In: triangles between heights, or heights on a grid. Out: metres, NaN where no ground is known. What
is judged, cut or dug is read here; cells serve the water.

In: a grid of heights with gaps, positions, and for those at a wall which side they look from. Out:
heights, NaN where there is no ground. A plane is met to rounding everywhere, at a wall too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

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


_AROUND = 2
"""Cells to each side of a position whose plane stands in for a missing neighbor."""
_LINE = 1e-9
"""Cells whose spread to one side is this share of that to the other lie on one line."""


def heights_at(
    ground: NDArray[np.float64],
    grid: Grid,
    points: NDArray[np.float64],
    feet: NDArray[np.float64] | None = None,
    outward: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Ground heights at positions of the plan.

    Bilinear between the four nearest cell centers where all have ground. Beside a wall or the
    survey's end it is the plane through the nearby cells that have ground, nearer ones weighing
    more; cells behind the wall do not count, where one is named.

    Parameters
    ----------
    ground : (rows, cols) float64, metres, NaN where there is none
    grid : Grid
    points : (n, 2) plan metres
    feet, outward : (n, 2), optional
        A point of the wall that each position belongs to, and the unit vector away from it.

    Returns
    -------
    (n,) float64, metres, NaN where no ground lies beside the position

    Examples
    --------
    >>> from runoff.terrain.model import Grid
    >>> grid = Grid(rows=2, cols=3, cell_size=1.0, x0=0.0, y0=0.0)
    >>> ground = np.array([[np.nan, 1.0, 2.0], [np.nan, 1.0, 2.0]])
    >>> at = np.array([[1.0, 1.0], [2.0, 1.0]])
    >>> foot, away = np.array([[1.0, 1.0]] * 2), np.array([[1.0, 0.0]] * 2)
    >>> heights_at(ground, grid, at, foot, away).round(6).tolist()
    [0.5, 1.5]
    """
    across, down = grid.in_cells(points).T
    heights = _bilinear(ground, across, down)
    on_grid = (np.abs(across - grid.cols / 2) < grid.cols / 2 + _AROUND) & (
        np.abs(down - grid.rows / 2) < grid.rows / 2 + _AROUND
    )
    lost = np.flatnonzero(np.isnan(heights) & on_grid)
    if lost.size:
        wall = None
        if feet is not None and outward is not None:
            wall = points[lost] - feet[lost], outward[lost]
        heights[lost] = _fitted(ground, grid, across[lost], down[lost], wall)
    return heights


def _bilinear(ground: Floats, across: Floats, down: Floats) -> NDArray[np.float64]:
    rows, cols = ground.shape
    row, col = np.floor(down).astype(np.int64), np.floor(across).astype(np.int64)
    inside = (row >= 0) & (col >= 0) & (row < rows - 1) & (col < cols - 1)
    row, col = np.clip(row, 0, max(rows - 2, 0)), np.clip(col, 0, max(cols - 2, 0))
    below, right = np.minimum(row + 1, rows - 1), np.minimum(col + 1, cols - 1)
    v, u = down - row, across - col
    upper = ground[row, col] * (1 - u) + ground[row, right] * u
    lower = ground[below, col] * (1 - u) + ground[below, right] * u
    return np.where(inside, upper * (1 - v) + lower * v, np.nan)


def _fitted(
    ground: Floats, grid: Grid, across: Floats, down: Floats, wall: tuple[Floats, Floats] | None
) -> NDArray[np.float64]:
    """The weighted plane through the cells around each position; least tilt where it is free."""
    step = np.arange(-_AROUND, _AROUND + 1)
    dr, dc = (part.ravel() for part in np.meshgrid(step, step, indexing="ij"))
    row = np.rint(down).astype(np.int64)[:, None] + dr
    col = np.rint(across).astype(np.int64)[:, None] + dc
    inside = (row >= 0) & (col >= 0) & (row < grid.rows) & (col < grid.cols)
    z = ground[np.clip(row, 0, grid.rows - 1), np.clip(col, 0, grid.cols - 1)]
    x = (col - across[:, None]) * grid.cell_size
    y = (down[:, None] - row) * grid.cell_size
    used = inside & np.isfinite(z)
    if wall is not None:
        away, outward = wall
        out = (x + away[:, :1]) * outward[:, :1] + (y + away[:, 1:]) * outward[:, 1:]
        used &= out > -0.5 * grid.cell_size
    near = 1.0 / (x**2 + y**2 + (0.5 * grid.cell_size) ** 2)
    weight = np.where(used, near, 0.0)
    total = weight.sum(axis=1, keepdims=True)
    # Ground that begins farther off than this is not ground at the position.
    beside = used & (x**2 + y**2 <= (1.1 * grid.cell_size) ** 2)
    with np.errstate(invalid="ignore"):
        weight = weight / total
    z = np.where(used, z, 0.0)
    mean_x, mean_y, mean_z = ((weight * v).sum(axis=1, keepdims=True) for v in (x, y, z))
    tilt = _tilt(weight, x - mean_x, y - mean_y, np.where(used, z - mean_z, 0.0))
    at = mean_z[:, 0] - tilt[:, 0] * mean_x[:, 0] - tilt[:, 1] * mean_y[:, 0]
    return np.where(beside.any(axis=1), at, np.nan)


def _tilt(weight: Floats, x: Floats, y: Floats, z: Floats) -> NDArray[np.float64]:
    """Slopes along x and y by weighted least squares, (n, 2).

    Where all cells lie on one line the slope across it is free, and taken as none.
    """
    xx, xy, yy, xz, yz = (
        (weight * one * other).sum(axis=1)
        for one, other in ((x, x), (x, y), (y, y), (x, z), (y, z))
    )
    spread = (xx + yy) / 2 + np.hypot((xx - yy) / 2, xy)
    least = xx * yy - xy * xy
    with np.errstate(invalid="ignore", divide="ignore"):
        across = least / spread
        free = ~(across > _LINE * spread)
        tilt = np.stack([yy * xz - xy * yz, xx * yz - xy * xz], axis=1) / least[:, None]
        along = np.stack([(xx - across) * xz + xy * yz, xy * xz + (yy - across) * yz], axis=1)
        along /= (spread * (spread - across))[:, None]
    return np.nan_to_num(np.where(free[:, None], along, tilt))
