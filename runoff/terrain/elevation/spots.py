"""The person's own points and elevation data together: the points rule near the house.

The elevation data is moved by the median of what the points say (its bias), takes the ground of
the points themselves near them, and what still differs at their edge is blended out with distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion
from scipy.spatial import cKDTree

from runoff.site.model import Building, HeightAccuracy, Site
from runoff.site.notices import Notice, TerrainCode
from runoff.site.problems import InputError, Problem
from runoff.site.wall_places import along_wall, wall_length
from runoff.terrain.cells import building_cells, union_of
from runoff.terrain.elevation.files import bilinear
from runoff.terrain.heights import Cells, Relief
from runoff.terrain.model import BareGround, Grid, Suspect
from runoff.terrain.spots import spot_ground

_NEAREST_SOURCES = 16
_FLATTEST = 1e-3


@dataclass(frozen=True)
class _Own:
    """Ground of the person's own points on the grid, NaN away from them."""

    heights: NDArray[np.float64]
    suspects: tuple[Suspect, ...]
    notices: tuple[Notice, ...]
    relief: Relief | None = None
    drawn: shapely.STRtree | None = None


@dataclass(frozen=True)
class Together:
    """The own points' ground where it reaches, `reach` metres about what is drawn; else the cells'.

    Parameters
    ----------
    own : Relief
    drawn : shapely.STRtree
        The points and lines that were surveyed.
    reach : float, metres
    cells : Cells
        Both grounds together on the plan's grid.
    """

    own: Relief
    drawn: shapely.STRtree
    reach: float
    cells: Cells

    @property
    def blur(self) -> float:
        """A cell, metres."""
        return self.cells.blur

    def heights(
        self,
        points: NDArray[np.float64],
        feet: NDArray[np.float64] | None = None,
        outward: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """As `Relief.heights`."""
        found = self.cells.heights(points, feet, outward)
        at, _ = self.drawn.query(shapely.points(points), predicate="dwithin", distance=self.reach)
        near = np.unique(at)
        own = self.own.heights(points[near])
        found[near] = np.where(np.isfinite(own), own, found[near])
        return found


def corrected_ground(site: Site, bare: BareGround) -> tuple[BareGround, HeightAccuracy]:
    """Correct elevation data by the site's own spot heights.

    Parameters
    ----------
    site : Site
    bare : BareGround
        The ground of the elevation data.

    Returns
    -------
    ground : BareGround
    accuracy : HeightAccuracy
        That of the spot heights where they cover all ground that the walls are judged by, else
        that of lidar, which only gives an indication.

    Raises
    ------
    InputError
        Where no spot height lies on the elevation data, so that the two cannot be compared, or
        the spot heights make no ground.
    """
    shots = _shots_outside(site)
    off = shots[:, 2] - _at(bare, shots)
    if not np.isfinite(off).any():
        raise InputError([_nowhere(site)])
    bias = float(np.median(off[np.isfinite(off)]))
    moved = bare.heights + bias
    own = _own_ground(site, bare.grid, shots)
    is_own = np.isfinite(own.heights)
    left_over = off - bias
    correction = _blended(site, bare.grid, own.heights - moved, shots, left_over)
    heights = np.where(is_own, own.heights, moved + correction)
    bare_walls = _walls_not_covered(site, bare.grid, is_own)
    notices = (
        *bare.notices,
        *own.notices,
        Notice(
            "data moved to spots", figures={"bias_m": bias, "spots": int(np.isfinite(off).sum())}
        ),
        _blend_notice(site, left_over),
        *_accuracy_notice(site, bare_walls),
    )
    cells = Cells(heights, bare.grid)
    relief: Relief = cells
    if own.relief is not None and own.drawn is not None:
        relief = Together(own.relief, own.drawn, site.rules["own_shot_reach"], cells)
    data_cell = bare.data_cell if bare_walls else None
    ground = BareGround(bare.grid, heights, own.suspects, notices, data_cell, relief)
    return ground, _accuracy(site, bare_walls)


def _shots_outside(site: Site) -> NDArray[np.float64]:
    """x, y, z of the spot heights on open ground."""
    xyz = site.spot_array
    outlines = union_of(site.buildings)
    if outlines.is_empty:
        return xyz
    inside = shapely.contains_xy(outlines, xyz[:, 0], xyz[:, 1])
    return xyz[~np.asarray(inside)]


def _at(bare: BareGround, xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights of the elevation data at plan positions."""
    col, row = bare.grid.in_cells(xyz[:, :2]).T
    return bilinear(bare.heights, row, col)


def _nowhere(site: Site) -> Problem:
    written = site.spot_heights[0].written
    return Problem(
        written.file,
        None,
        "[terrain] spot_heights",
        "",
        "spot heights on ground that the elevation data covers; none of "
        f"{len(site.spot_heights)} is, so the two cannot be put together",
    )


def _own_ground(site: Site, grid: Grid, shots: NDArray[np.float64]) -> _Own:
    """Ground between the own points, as far as these reach; none where they make no triangle."""
    lines = [line.line for line in site.break_lines]
    points = np.concatenate([shots[:, :2], *lines])
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    if len(points) < 3 or spread[1] <= _FLATTEST * spread[0]:
        return _Own(np.full((grid.rows, grid.cols), np.nan), (), ())
    survey = spot_ground(site, grid)
    heights = survey.heights.copy()
    x, y = np.meshgrid(*grid.centers())
    drawn = [*shapely.points(shots[:, :2]), *(shapely.linestrings(line) for line in lines)]
    known = np.isfinite(heights)
    away = np.full(heights.shape, np.inf)
    tree = shapely.STRtree(drawn)
    at = shapely.points(x[known], y[known])
    (_, _), distance = tree.query_nearest(at, all_matches=False, return_distance=True)
    away[known] = distance
    heights[away > site.rules["own_shot_reach"]] = np.nan
    return _Own(heights, survey.suspects, survey.notices, survey.relief, tree)


def _blended(
    site: Site,
    grid: Grid,
    residual: NDArray[np.float64],
    shots: NDArray[np.float64],
    left_over: NDArray[np.float64],
) -> NDArray[np.float64]:
    """What is added beside the own ground: its misfit there, less and less with distance.

    Inverse squares of the distances weigh the nearest of it, times 1 - 3 t² + 2 t³, t the distance
    to the nearest over the rule's.
    """
    x, y = np.meshgrid(*grid.centers())
    own = np.isfinite(residual)
    edge = own & ~binary_erosion(own)
    known = np.isfinite(left_over)
    places = np.concatenate([np.column_stack([x[edge], y[edge]]), shots[known][:, :2]])
    values = np.concatenate([residual[edge], left_over[known]])
    beside = ~own
    nearest = min(_NEAREST_SOURCES, len(places))
    away, index = cKDTree(places).query(
        np.column_stack([x[beside], y[beside]]), k=np.arange(1, nearest + 1)
    )
    weight = 1.0 / np.maximum(away, 1e-6) ** 2
    mean = (weight * values[index]).sum(axis=1) / weight.sum(axis=1)
    t = np.minimum(away[:, 0] / site.rules["own_shot_blend"], 1.0)
    correction = np.zeros(residual.shape)
    correction[beside] = mean * (1.0 - 3.0 * t**2 + 2.0 * t**3)
    return correction


def _walls_not_covered(site: Site, grid: Grid, own: NDArray[np.bool_]) -> list[str]:
    """Names of the walls in front of which some ground within reach is not the own points'."""
    closed = building_cells(site.buildings, grid) >= 0
    reach, spacing = site.rules["foundation_reach"], site.rules["station_spacing"]
    lot = None if site.lot is None else site.lot.boundary
    out = np.arange(grid.cell_size / 2, reach - grid.cell_size, grid.cell_size)
    covered = np.pad(own | closed, 1)
    found = []
    for building in site.own_buildings:
        for wall, name in enumerate(building.walls):
            length = wall_length(building, wall)
            along = np.linspace(0.0, length, max(2, int(np.ceil(length / spacing)) + 1))
            at = _before(building, wall, along, out)
            if lot is not None:
                at = at[np.asarray(shapely.intersects_xy(lot, at[:, 0], at[:, 1]))]
            col = np.floor((at[:, 0] - grid.x0) / grid.cell_size).astype(int) + 1
            row = grid.rows - np.floor((at[:, 1] - grid.y0) / grid.cell_size).astype(int)
            inside = covered[np.clip(row, 0, grid.rows + 1), np.clip(col, 0, grid.cols + 1)]
            if not inside.all():
                found.append(f"{building.name} {name}")
    return found


def _before(
    building: Building, wall: int, along: NDArray[np.float64], out: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Positions (n, 2) before a wall, at distances along it and out from it."""
    start = np.array(along_wall(building, wall, 0.0))
    forward = np.array(along_wall(building, wall, 1.0)) - start
    outward = np.array(along_wall(building, wall, 0.0, 1.0)) - start
    at = start + along[:, None, None] * forward + out[None, :, None] * outward
    positions: NDArray[np.float64] = at.reshape(-1, 2)
    return positions


def _accuracy(site: Site, bare_walls: list[str]) -> HeightAccuracy:
    if site.own_buildings and not bare_walls:
        return site.height_accuracy
    sigma = max(site.rules["height_sigma_lidar"], site.height_accuracy.sigma)
    return HeightAccuracy(sigma, "lidar corrected by spot heights", True)


def _blend_notice(site: Site, left_over: NDArray[np.float64]) -> Notice:
    known = np.where(np.isfinite(left_over), np.abs(left_over), -1.0)
    apart = {
        "middle_m": float(np.median(known[known >= 0])),
        "worst_m": float(known.max()),
        "reach_m": site.rules["own_shot_reach"],
        "blend_m": site.rules["own_shot_blend"],
    }
    return Notice("data blended", figures=apart)


def _accuracy_notice(site: Site, bare_walls: list[str]) -> list[Notice]:
    if not site.own_buildings:
        return []
    reach = {"reach_m": site.rules["foundation_reach"]}
    code: TerrainCode = "spots leave walls" if bare_walls else "spots cover walls"
    return [Notice(code, tuple(bare_walls), reach)]
