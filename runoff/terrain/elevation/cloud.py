"""A point cloud from the air: its ground as a grid, and its buildings as outlines to correct.

Points carry a class: 2 is ground, 6 is building (LAS specification 1.4, American Society for
Photogrammetry and Remote Sensing, table of standard point classes).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from runoff.site.elevation.files import cloud_points, kind_of, look_at, unit_of_vertical
from runoff.site.elevation.georeference import (
    map_to_plan,
    metres_per_unit,
    plan_to_map,
    read_crs,
    transform,
)
from runoff.site.model import Site
from runoff.site.problems import MapError
from runoff.terrain.cells import Bounds, extent_of, union_of

if TYPE_CHECKING:
    from affine import Affine
    from shapely.geometry import Polygon

GROUND, BUILDING = 2, 6
CELL = 0.5
"""Side of the cells that ground points are gathered in, metres."""
REACH = 3.0
"""Cells farther than this from any ground point are empty, metres."""
_MOST_POINTS = 20_000_000
_ROOF_GAP = 1.0
_SMALLEST_ROOF = 10.0
_NEARLY_RECTANGULAR = 0.85

Around = Callable[[str | None], tuple[Any, NDArray[np.float64] | None]]


@dataclass(frozen=True)
class CloudGround:
    """Ground heights in the cloud's own unit on a grid in its map system."""

    heights: NDArray[np.float64]
    pixels: Affine
    crs: str | None
    unit: float | None


def read_cloud(location: Path | str, around: Around) -> CloudGround | None:
    """Grid the ground points of a cloud that lie in a wanted extent.

    Of the points in one cell the one of median height stands for all, so that a stray return under
    or over the ground does not count; between those the ground is the plane of each triangle.

    Parameters
    ----------
    location : Path or str
    around : function
        From the WKT of the cloud's map system to the system to use and to positions around the
        wanted extent in it (None for all).

    Returns
    -------
    CloudGround or None
        None where the cloud lies elsewhere.

    Raises
    ------
    MapError
        Where the cloud cannot be read, has no points of class 2, or lies in no projected system.
    """
    from rasterio.transform import Affine

    said, crs, bounds = _extent(location, around)
    cell = CELL / _metres_per_unit(crs)
    points, classified = _points(location, bounds, 2 * REACH / CELL * cell, GROUND)
    if not len(points):
        if classified:
            return None
        raise MapError("a point cloud with points of class 2, ground; this one has none")
    left, bottom, right, top = _within(points, bounds)
    if (right - left) / cell * (top - bottom) / cell > 16_000_000:
        raise MapError("a smaller area; give the [lot] boundary, so that only that is read")
    cols, rows = max(1, math.ceil((right - left) / cell)), max(1, math.ceil((top - bottom) / cell))
    x = left + (np.arange(cols) + 0.5) * cell
    y = top - (np.arange(rows) + 0.5) * cell
    heights = _triangulated(_medians(points, cell), x, y, REACH / CELL * cell)
    return CloudGround(
        heights, Affine(cell, 0.0, left, 0.0, -cell, top), said, unit_of_vertical(said)
    )


def buildings_of_cloud(
    location: Path | str, crs: str | None = None, within: Any = None
) -> tuple[Polygon, ...]:
    """Outlines of the buildings in a point cloud, in its own map system: to correct, not to trust.

    Roof points stand out over the walls by the eaves and are half a metre apart or more, so
    an outline is good to a foot or two. One that nearly fills its own rectangle is made square.

    Parameters
    ----------
    location : Path or str
    crs : str or None
        The map system of a cloud that names none.
    within : (left, bottom, right, top) or None
        The part to look at, in units of the cloud's map system.

    Returns
    -------
    tuple of Polygon
        The largest first; empty where the cloud has no points of class 6.

    Raises
    ------
    MapError
        Where the cloud cannot be read or lies in no projected system.
    """
    import shapely

    _, used, bounds = _extent(location, lambda said: (said or crs, _corners(within)))
    unit = _metres_per_unit(used)
    points, _ = _points(location, bounds, 0.0, BUILDING)
    if not len(points):
        return ()
    thinned = np.unique(np.round(points[:, :2] * unit / (CELL / 2)), axis=0) * (CELL / 2)
    grown = shapely.union_all(shapely.buffer(shapely.points(thinned), _ROOF_GAP, quad_segs=4))
    shrunk = shapely.buffer(grown, CELL / 4 - _ROOF_GAP, quad_segs=4)
    found = [_squared(part) for part in shapely.get_parts(shrunk) if part.area >= _SMALLEST_ROOF]
    found.sort(key=lambda part: -part.area)
    return tuple(shapely.transform(part, lambda xy: xy / unit) for part in found)


def _squared(outline: Any) -> Polygon:
    """An outline with few corners: its rectangle where it nearly fills that."""
    rectangle: Polygon = outline.minimum_rotated_rectangle
    if outline.area >= _NEARLY_RECTANGULAR * rectangle.area:
        return rectangle
    simple: Polygon = outline.simplify(CELL)
    return simple


def _corners(within: Any) -> NDArray[np.float64] | None:
    if within is None:
        return None
    left, bottom, right, top = within
    return np.array([[left, bottom], [right, top]], dtype=np.float64)


def _extent(
    location: Path | str, around: Around
) -> tuple[str | None, Any, tuple[float, float, float, float] | None]:
    """WKT that the cloud says, the map system to use, and the wanted bounds in it."""
    said = look_at(location, network=False).crs
    crs, corners = around(said)
    if corners is None:
        return said, crs, None
    left, bottom = corners.min(axis=0).tolist()
    right, top = corners.max(axis=0).tolist()
    return said, crs, (left, bottom, right, top)


def _metres_per_unit(crs: Any) -> float:
    if crs is None:
        raise MapError("a point cloud that names its map system, or crs in [site]")
    known = read_crs(crs)
    if not known.is_projected:
        raise MapError("a point cloud in a projected map system, not in longitude and latitude")
    return metres_per_unit(known)


def _points(
    location: Path | str,
    bounds: tuple[float, float, float, float] | None,
    margin: float,
    wanted: int,
) -> tuple[NDArray[np.float64], bool]:
    """x, y, z of the points of a class near the bounds, and whether the cloud has any of it."""
    kept, count, classified = [], 0, False
    for xyz in cloud_points(location, wanted):
        classified = classified or len(xyz) > 0
        near = np.isfinite(xyz).all(axis=1)
        if bounds is not None:
            left, bottom, right, top = bounds
            near &= (xyz[:, 0] >= left - margin) & (xyz[:, 0] <= right + margin)
            near &= (xyz[:, 1] >= bottom - margin) & (xyz[:, 1] <= top + margin)
        kept.append(xyz[near])
        count += len(kept[-1])
        if count > _MOST_POINTS:
            raise MapError("a smaller area; give the [lot] boundary, so that only that is read")
    return np.concatenate(kept) if kept else np.empty((0, 3)), classified


def _within(
    points: NDArray[np.float64], bounds: tuple[float, float, float, float] | None
) -> tuple[float, float, float, float]:
    """What the points cover of the wanted bounds."""
    left, bottom = points[:, :2].min(axis=0).tolist()
    right, top = points[:, :2].max(axis=0).tolist()
    if bounds is None:
        return left, bottom, right, top
    return max(left, bounds[0]), max(bottom, bounds[1]), min(right, bounds[2]), min(top, bounds[3])


def _medians(points: NDArray[np.float64], cell: float) -> NDArray[np.float64]:
    """In each cell the point of median height (the lower of two)."""
    origin = points[:, :2].min(axis=0)
    place = np.floor((points[:, :2] - origin) / cell).astype(np.int64)
    key = place[:, 0] * (int(place[:, 1].max()) + 1) + place[:, 1]
    order = np.lexsort((points[:, 2], key))
    _, first, count = np.unique(key[order], return_index=True, return_counts=True)
    return points[order[first + (count - 1) // 2]]


def _triangulated(
    points: NDArray[np.float64], x: NDArray[Any], y: NDArray[Any], reach: float
) -> NDArray[np.float64]:
    """Heights of the triangles between points at columns `x` and rows `y`; NaN far from any."""
    from scipy.interpolate import LinearNDInterpolator
    from scipy.spatial import QhullError, cKDTree

    origin = points[:, :2].mean(axis=0)
    columns, rows = np.meshgrid(x, y)
    at = np.column_stack([columns.ravel(), rows.ravel()]) - origin
    try:
        surface = LinearNDInterpolator(points[:, :2] - origin, points[:, 2])
    except (QhullError, ValueError):
        raise MapError("at least three ground points that are not on one line") from None
    heights = surface(at)
    away, _ = cKDTree(points[:, :2] - origin).query(at, distance_upper_bound=reach)
    heights[~np.isfinite(away)] = np.nan
    return np.asarray(heights, dtype=np.float64).reshape(len(y), len(x))


def outlines_in_cloud(site: Site) -> tuple[Polygon, ...]:
    """Buildings in a site's point clouds that the site does not draw yet, in plan metres.

    Parameters
    ----------
    site : Site

    Returns
    -------
    tuple of Polygon
        Those within the ground that the lot needs, the largest first, to be corrected by hand.

    Raises
    ------
    MapError
        Where a cloud cannot be read.
    """
    import shapely

    place, wanted = site.georeference, extent_of(site)
    if place is None or site.elevation is None:
        return ()
    drawn = union_of(site.buildings)
    found = []
    for tile in (site.elevation, *site.elevation.others):
        if kind_of(tile.path) != "cloud":
            continue
        crs = look_at(tile.path, network=False).crs or tile.crs or place.crs
        within = None
        if wanted is not None:
            corners = transform(plan_to_map(place, corners_of(wanted)), place.crs, crs)
            within = (*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist())
        for outline in buildings_of_cloud(tile.path, crs, within):
            on_plan = shapely.transform(
                outline, lambda xy, crs=crs: map_to_plan(place, transform(xy, crs, place.crs))
            )
            if not on_plan.intersects(drawn):
                found.append(on_plan)
    return tuple(sorted(found, key=lambda outline: -outline.area))


def corners_of(bounds: Bounds) -> NDArray[np.float64]:
    """The corners of a rectangle (left, bottom, right, top)."""
    left, bottom, right, top = bounds
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])
