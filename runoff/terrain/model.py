"""The ground as a grid of heights: the records that the flow room and the rooms after it use.

Row 0 is the top of the plan; positions are plan metres, x right and y up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from runoff.site.model import HeightAccuracy
from runoff.site.notices import Notice
from runoff.terrain.heights import Relief, heights_at

_OFF_THE_BORDER = 1e-3
"""Share of a cell."""


_Z_95 = 1.96


def call_margin(sigma: float) -> float:
    """The difference of two independent shots within which a call is too close, metres.

    1.96 sqrt(2) sigma: 95 of 100 differences of two shots with standard deviation `sigma` err by
    less (normal distribution).

    Examples
    --------
    >>> round(call_margin(0.0127) / 0.0254, 2)  # a string level's, in inches
    1.39
    """
    return _Z_95 * math.sqrt(2.0) * sigma


@dataclass(frozen=True)
class Grid:
    """Where the cells lie: shape, cell size (m) and the lower-left corner (x0, y0), plan metres.

    Examples
    --------
    >>> grid = Grid(rows=3, cols=4, cell_size=0.5, x0=10.0, y0=20.0)
    >>> grid.center(0, 0)
    (10.25, 21.25)
    >>> grid.cell(10.25, 21.25)
    (0, 0)
    >>> grid.extent
    (10.0, 12.0, 20.0, 21.5)
    """

    rows: int
    cols: int
    cell_size: float
    x0: float
    y0: float

    @property
    def cell_area(self) -> float:
        """Plan area of one cell, m2."""
        return self.cell_size**2

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """(left, right, bottom, top) in plan metres."""
        return (
            self.x0,
            self.x0 + self.cols * self.cell_size,
            self.y0,
            self.y0 + self.rows * self.cell_size,
        )

    def center(self, row: int, col: int) -> tuple[float, float]:
        """Plan position of a cell's center."""
        return (
            self.x0 + (col + 0.5) * self.cell_size,
            self.y0 + (self.rows - row - 0.5) * self.cell_size,
        )

    def cell(self, x: float, y: float) -> tuple[int, int]:
        """The (row, col) that holds a plan position; it may lie outside the grid."""
        col = int(np.floor((x - self.x0) / self.cell_size))
        row = self.rows - 1 - int(np.floor((y - self.y0) / self.cell_size))
        return row, col

    def held_in(self, cell: tuple[int, int], x: float, y: float) -> tuple[float, float]:
        """The place of a cell nearest to (x, y), off its border, where rounding would pick one.

        Examples
        --------
        >>> Grid(2, 2, 1.0, 0.0, 0.0).held_in((0, 0), 1.0, 1.5)
        (0.999, 1.5)
        """
        within = (0.5 - _OFF_THE_BORDER) * self.cell_size
        center_x, center_y = self.center(*cell)
        return (
            min(max(x, center_x - within), center_x + within),
            min(max(y, center_y - within), center_y + within),
        )

    def holds(self, row: int, col: int) -> bool:
        """Whether (row, col) is a cell of the grid."""
        return 0 <= row < self.rows and 0 <= col < self.cols

    def cells_of(
        self, places: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
        """Row and column of the cells that hold (..., 2) plan positions, and which are on the grid.

        Off the grid they are those of the nearest cell in it.

        Examples
        --------
        >>> places = np.array([[0.5, 1.5], [9.0, 0.2]])
        >>> rows, cols, held = Grid(2, 3, 1.0, 0.0, 0.0).cells_of(places)
        >>> rows.tolist(), cols.tolist(), held.tolist()
        ([0, 1], [0, 2], [True, False])
        """
        col = np.floor((places[..., 0] - self.x0) / self.cell_size).astype(np.int64)
        row = self.rows - 1 - np.floor((places[..., 1] - self.y0) / self.cell_size).astype(np.int64)
        held = (row >= 0) & (row < self.rows) & (col >= 0) & (col < self.cols)
        return np.clip(row, 0, self.rows - 1), np.clip(col, 0, self.cols - 1), held

    def in_cells(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 2) plan positions as the engine counts: cells right of and below the first center.

        Examples
        --------
        >>> Grid(2, 3, 0.5, 10.0, 0.0).in_cells(np.array([10.25, 0.25])).tolist()
        [0.0, 1.0]
        """
        across = (places[..., 0] - self.x0) / self.cell_size - 0.5
        down = self.rows - 0.5 - (places[..., 1] - self.y0) / self.cell_size
        return np.stack([across, down], axis=-1)

    def on_plan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """The way back from `in_cells`: (..., 2) plan positions.

        Examples
        --------
        >>> Grid(2, 3, 0.5, 10.0, 0.0).on_plan(np.array([0.0, 1.0])).tolist()
        [10.25, 0.25]
        """
        x = self.x0 + (points[..., 0] + 0.5) * self.cell_size
        y = self.y0 + (self.rows - 0.5 - points[..., 1]) * self.cell_size
        return np.stack([x, y], axis=-1)

    def centers(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """x of each column (cols,) and y of each row (rows,), plan metres."""
        x = self.x0 + (np.arange(self.cols, dtype=np.float64) + 0.5) * self.cell_size
        y = self.y0 + (self.rows - np.arange(self.rows, dtype=np.float64) - 0.5) * self.cell_size
        return x, y


@dataclass(frozen=True)
class TerrainDrain:
    """A drain on the grid: inlet and outlet cells; outlet None where it leaves the lot.

    `capacity` is in m3/s, None where not known.
    """

    name: str
    inlet: tuple[int, int]
    outlet: tuple[int, int] | None
    capacity: float | None


Looks = Literal["entered twice", "foot misread", "digit misread", "curb", "bend", "unknown"]


@dataclass(frozen=True)
class Suspect:
    """A spot height that its neighbors do not bear out.

    `misfit` is measured less predicted, metres, and `looks_like` what that may come from: the shot
    `beside` it entered twice, a curb at the street or alley `beside`, ground that bends. `with_it`
    names the shots that are off alike.
    """

    name: str
    x: float
    y: float
    z: float
    predicted: float
    misfit: float
    looks_like: Looks
    beside: str = ""
    with_it: tuple[str, ...] = ()


@dataclass(frozen=True)
class Hole:
    """Ground inside the lot that no height tells, by its `outline` in plan metres.

    Examples
    --------
    >>> from shapely.geometry import Polygon
    >>> hole = Hole(Polygon([(0, 0), (4, 0), (4, 3), (0, 3)]))
    >>> hole.area, hole.at
    (12.0, (2.0, 1.5))
    """

    outline: Polygon

    @property
    def area(self) -> float:
        """Plan area, m2."""
        return float(self.outline.area)

    @property
    def at(self) -> tuple[float, float]:
        """A plan position in its midst."""
        middle = self.outline.centroid
        if not self.outline.contains(middle):
            middle = self.outline.representative_point()
        return float(middle.x), float(middle.y)


@dataclass(frozen=True)
class TriangulatedGround:
    """The surveyed surface itself: triangles between heights, before it was read off at cells.

    Parameters
    ----------
    xyz : (n, 3) float64, metres
    triangles : (t, 3) int64, the corners of each, by row of `xyz`
    open_edge : (n,) bool; corners where the surveyed ground ends without a wall
    heights : (rows, cols) float64, metres; what was read off it at the centers of a grid's cells
    """

    xyz: NDArray[np.float64]
    triangles: NDArray[np.int64]
    open_edge: NDArray[np.bool_]
    heights: NDArray[np.float64]


@dataclass(frozen=True)
class Terrain:
    """The ground of one lot.

    Parameters
    ----------
    grid : Grid
    ground : (rows, cols) float64, metres; NaN where no ground is known
    surface : (rows, cols) float64, metres; `ground` with barriers raised: what water meets
    closed : (rows, cols) bool; cells that buildings cover (their heights are NaN)
    building : (rows, cols) int16; index into ``site.buildings``, -1 where there is none
    drains : the drains whose inlet lies on the grid
    accuracy : how good one height is
    suspects : spot heights to look at again
    notices : what the user should know about how the ground was made
    data_cell : cells (m) of the elevation data that the ground at the walls rests on, however
        finely it was divided; None where a survey tells it
    holes : ground inside the lot that no height tells, the largest first; slivers are left out
    relief : the ground as it was surveyed, at any place; None where the cells are all that is known
    surveyed : (rows, cols) float64, metres, the cells as the relief gives them; where `ground`
        differs, works have changed it
    triangulated : the surveyed surface that `ground` was read from; None for elevation data
    """

    grid: Grid
    ground: NDArray[np.float64]
    surface: NDArray[np.float64]
    closed: NDArray[np.bool_]
    building: NDArray[np.int16]
    drains: tuple[TerrainDrain, ...]
    accuracy: HeightAccuracy
    suspects: tuple[Suspect, ...]
    notices: tuple[Notice, ...]
    data_cell: float | None = None
    holes: tuple[Hole, ...] = ()
    relief: Relief | None = None
    surveyed: NDArray[np.float64] | None = None
    triangulated: TriangulatedGround | None = None

    def heights(
        self,
        points: NDArray[np.float64],
        feet: NDArray[np.float64] | None = None,
        outward: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """Heights of the ground at places of the plan: as surveyed, with what was laid on it.

        At a wall, and a hair inside its outline, it is the height outside. A step in the ground, a
        curb's or a wall's, is where it was drawn; barriers are not counted.

        Parameters
        ----------
        points : (n, 2) plan metres
        feet, outward : (n, 2), optional
            Of places before a wall, a point of it and the unit vector away from it.

        Returns
        -------
        (n,) float64, metres, NaN where no ground is known

        Examples
        --------
        >>> from runoff.sample import sample_folder
        >>> from runoff.site import read_site
        >>> from runoff.terrain import build_terrain
        >>> terrain = build_terrain(read_site(sample_folder() / "site.toml"))
        >>> far_off = np.array([[1000.0, 0.0]])
        >>> terrain.heights(far_off).tolist()
        [nan]
        """
        if self.relief is None or self.surveyed is None:
            return heights_at(self.ground, self.grid, points, feet, outward)
        found = self.relief.heights(points, feet, outward)
        if self.ground is not self.surveyed:
            change = self.ground - self.surveyed
            found += np.nan_to_num(heights_at(change, self.grid, points, feet, outward))
        return found

    @property
    def blur(self) -> float:
        """How far (m) to each side a step in the ground is smeared in its heights."""
        return self.grid.cell_size if self.relief is None else self.relief.blur


@dataclass(frozen=True)
class BareGround:
    """Heights on a grid, and what was noticed while making them.

    Parameters
    ----------
    grid : Grid
    heights : (rows, cols) float array, metres
        NaN where no ground is known.
    suspects : tuple of Suspect
    notices : tuple of Notice
    data_cell : float or None, metres
        Cells of the elevation data that the ground was made from; None for a survey.
    relief : Relief or None
        The same ground between the cells' centers; None where the cells are all there is.
    triangulated : TriangulatedGround or None
        The surface that the heights were read from; None for elevation data.
    """

    grid: Grid
    heights: NDArray[np.float64]
    suspects: tuple[Suspect, ...]
    notices: tuple[Notice, ...]
    data_cell: float | None = None
    relief: Relief | None = None
    triangulated: TriangulatedGround | None = None
