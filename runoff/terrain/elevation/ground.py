"""The ground from elevation data: only the part that the lot needs, on the plan's own grid.

A raster that lies square to the plan is taken cell by cell; any other is interpolated onto it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from runoff.site.elevation.files import kind_of
from runoff.site.model import ElevationSource, Georeference, Site
from runoff.site.notices import Notice
from runoff.terrain.cells import MARGIN, MOST_CELLS, Bounds, extent_of, gap_notices, union_of
from runoff.terrain.doubts import refuse_no_ground
from runoff.terrain.elevation.cloud import outlines_in_cloud
from runoff.terrain.elevation.files import (
    Meeting,
    Part,
    Raster,
    cells_of_detail,
    joined,
    laid_on,
    on_grid,
    pixel_size,
    plan_grid,
    read_part,
    refused,
)
from runoff.terrain.heights import Cells
from runoff.terrain.model import BareGround, Grid

COARSEST_FOR_GRADE = 2.0
"""Cells larger than this, metres, say nothing about the grade at a wall."""
LEAST_STEP, GREATEST_STEP = 0.05, 1.0
"""Steps between tiles, metres: from the first it is said, beyond the second they are no ground."""
_ROUNDING = 1e-6


def elevation_ground(site: Site, source: ElevationSource) -> BareGround:
    """Read the ground of a site from its elevation data.

    Parameters
    ----------
    site : Site
    source : ElevationSource

    Returns
    -------
    BareGround

    Raises
    ------
    InputError
        Where the data cannot be read, does not cover the lot, is too large to be read whole,
        says nowhere in which unit its heights are, or its tiles do not fit together.
    """
    place = site.georeference
    if place is None:
        raise refused(source, "elevation data with a map system, or crs in [site]")
    wanted = extent_of(site)
    parts, notices = _parts(source, place, wanted)
    meetings: tuple[Meeting, ...] = ()
    if len(parts) > 1 and (one := joined(parts)) is not None:
        parts, meetings = [one[0]], one[1]
    grid = plan_grid(parts, place, wanted, site)
    _refuse_too_many(source, grid)
    if len(parts) == 1:
        heights = on_grid(parts[0], place, grid)
    else:
        heights, meetings = laid_on(parts, place, grid)
    if not np.isfinite(heights).any():
        raise refused(source, "heights around the lot; the elevation data has none there")
    _refuse_steps(source, meetings)
    refuse_no_ground(site, source, grid, heights)
    own = pixel_size(parts[0], place)
    if kind_of(source.path) != "cloud":
        notices += _detail_notices(parts[0], own)
    notices += _cell_notices(site, own, grid)
    notices += _meeting_notices(meetings)
    notices += _reach_notices(grid, wanted, own)
    notices += _building_notices(site)
    # Tiles on lattices of their own are put together on the plan's grid: nothing finer is known.
    relief = Raster(parts[0], place, Cells(heights, grid)) if len(parts) == 1 else None
    return BareGround(grid, heights, (), tuple(notices), own, relief)


def _parts(
    source: ElevationSource, place: Georeference, wanted: Bounds | None
) -> tuple[list[Part], list[Notice]]:
    """The parts of the tiles that reach the lot, and which do not."""
    parts, notices = [], []
    for tile in (source, *source.others):
        part = read_part(tile, place, wanted)
        if part is not None:
            parts.append(part)
        elif source.others:
            notices.append(Notice("tile off the lot", (tile.name,)))
    if not parts:
        raise refused(source, "elevation data that covers the lot; this lies elsewhere")
    return parts, notices


def _refuse_too_many(source: ElevationSource, grid: Grid) -> None:
    if grid.rows * grid.cols > MOST_CELLS:
        raise refused(
            source,
            f"a smaller area: {grid.rows * grid.cols:,} cells of {grid.cell_size:.2f} m are too "
            "many; give the [lot] boundary so that only its surroundings are read, or a larger "
            "cell_size",
        )


def _refuse_steps(source: ElevationSource, meetings: Sequence[Meeting]) -> None:
    for meeting in meetings:
        if meeting.step > GREATEST_STEP:
            raise refused(
                source,
                f"tiles that agree where they meet; {meeting.upper} stands {meeting.step:.2f} m "
                f"above {meeting.lower}: look at their units (vertical_unit, one for each tile) "
                "and datums",
            )


def _meeting_notices(meetings: Sequence[Meeting]) -> list[Notice]:
    return [
        Notice("tiles step", (meeting.upper, meeting.lower), {"step_m": meeting.step})
        for meeting in meetings
        if meeting.step >= LEAST_STEP
    ]


def _cell_notices(site: Site, own: float, grid: Grid) -> list[Notice]:
    notices = []
    if own > COARSEST_FOR_GRADE:
        notices.append(Notice("data too coarse", figures={"cell_m": own}))
    if grid.cell_size < own * (1 - _ROUNDING):
        cells = {"data_cell_m": own, "cell_m": grid.cell_size}
        notices.append(Notice("data interpolated", figures=cells))
    return notices + gap_notices(site, grid.cell_size)


def _detail_notices(part: Part, own: float) -> list[Notice]:
    """Say where the data was resampled from a coarser model, as far as its roughness tells."""
    cells = cells_of_detail(part.heights)
    if cells is None:
        return []
    return [Notice("data resampled", (part.name,), {"cell_m": own, "detail_m": cells * own})]


def _reach_notices(grid: Grid, wanted: Bounds | None, own: float) -> list[Notice]:
    """Say where the elevation data ends too soon."""
    notices = []
    if wanted is not None and not _covers(grid, wanted, own):
        notices.append(Notice("data ends short", figures={"margin_m": MARGIN}))
    return notices


def missing_notices(site: Site, ground: BareGround) -> list[Notice]:
    """Say how much of the ground beside the walls has no heights."""
    grid, outlines = ground.grid, union_of(site.own_buildings)
    missing = np.isnan(ground.heights)
    if outlines.is_empty or not missing.any():
        return []
    x, y = grid.centers()
    row, col = np.nonzero(missing)
    points = shapely.points(x[col], y[row])
    reach = site.rules["foundation_reach"]
    away = shapely.distance(points, outlines)
    beside = int(((away > 0) & (away <= reach)).sum())
    if not beside:
        return []
    holes = {"area_m2": beside * grid.cell_area, "reach_m": reach}
    return [Notice("data with holes", figures=holes)]


def _building_notices(site: Site) -> list[Notice]:
    """Which buildings a point cloud shows that nobody drew: water would run through them."""
    found = outlines_in_cloud(site)
    if not found:
        return []
    x, y = (tuple(float(getattr(each.centroid, axis)) for each in found) for axis in "xy")
    return [Notice("buildings not drawn", figures={"x_m": x, "y_m": y})]


def _covers(grid: Grid, wanted: Bounds, slack: float) -> bool:
    left, right, bottom, top = grid.extent
    return (
        left <= wanted[0] + slack
        and bottom <= wanted[1] + slack
        and right >= wanted[2] - slack
        and top >= wanted[3] - slack
    )
