"""From a site to its terrain, the steps in order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from runoff.site.model import HeightAccuracy, Site
from runoff.site.problems import InputError, Problem
from runoff.terrain.barriers import place_drains, raise_barriers
from runoff.terrain.cells import building_cells
from runoff.terrain.doubts import refuse_openings_off_ground
from runoff.terrain.model import BareGround, Terrain
from runoff.terrain.reach import holes_of


def build_terrain(site: Site) -> Terrain:
    """Make the ground of a lot from its elevation data or its spot heights.

    Parameters
    ----------
    site : Site

    Returns
    -------
    Terrain

    Raises
    ------
    InputError
        Where the site has no heights, or they make no ground.

    Examples
    --------
    >>> from pathlib import Path
    >>> from runoff.rules import Rules
    >>> from runoff.site.model import HeightAccuracy, SpotHeight, Storm, Written
    >>> from runoff.site.settings import assumed_rains
    >>> shots = [(0.0, 0.0, 10.0), (4.0, 0.0, 10.2), (0.0, 4.0, 10.4), (4.0, 4.0, 10.6)]
    >>> line = Written("spots.csv", 2, "shot")
    >>> storm = Storm(0.05, 3600.0)
    >>> yard = Site(
    ...     path=Path("site.toml"),
    ...     name="yard",
    ...     units="m",
    ...     height_accuracy=HeightAccuracy(0.006, "laser level", False),
    ...     storm=storm,
    ...     rains=assumed_rains(storm, Rules()),
    ...     rules=Rules(),
    ...     cell_size=1.0,
    ...     spot_heights=tuple(SpotHeight(f"S{k}", *s, "", line) for k, s in enumerate(shots)),
    ... )
    >>> terrain = build_terrain(yard)
    >>> terrain.grid.cell(0.5, 0.5)
    (5, 2)
    >>> terrain.ground[5, 2:6].round(3).tolist()
    [10.075, 10.125, 10.175, 10.225]
    """
    bare, accuracy = _bare_ground(site)
    building = building_cells(site.buildings, bare.grid)
    closed = building >= 0
    ground = _up_to_the_walls(bare, closed)
    made = Terrain(
        grid=bare.grid,
        ground=ground,
        surface=raise_barriers(ground, site.barriers, bare.grid),
        closed=closed,
        building=building,
        drains=place_drains(site.drains, ground, building, bare.grid, site.units),
        accuracy=accuracy,
        suspects=bare.suspects,
        notices=bare.notices,
        data_cell=bare.data_cell,
        holes=holes_of(site, bare.grid, ground, closed),
        relief=bare.relief,
        surveyed=ground,
        triangulated=bare.triangulated,
    )
    refuse_openings_off_ground(site, made)
    return made


def _up_to_the_walls(bare: BareGround, closed: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The cells' heights, no open cell left without one because its center lies on a wall.

    Such a cell would be a hole in the survey that swallows all the water it meets.
    """
    ground = np.where(closed, np.nan, bare.heights)
    if bare.relief is not None:
        row, col = np.nonzero(binary_dilation(closed, np.ones((3, 3))) & ~closed & np.isnan(ground))
        x, y = bare.grid.centers()
        ground[row, col] = bare.relief.heights(np.column_stack([x[col], y[row]]))
    return ground


def _bare_ground(site: Site) -> tuple[BareGround, HeightAccuracy]:
    """The ground before buildings and barriers, and how good one of its heights is."""
    if site.elevation is not None:
        from runoff.terrain.elevation.ground import elevation_ground, missing_notices

        bare, accuracy = elevation_ground(site, site.elevation), site.height_accuracy
        if site.spot_heights:
            from runoff.terrain.elevation.spots import corrected_ground

            bare, accuracy = corrected_ground(site, bare)
        return replace(bare, notices=(*bare.notices, *missing_notices(site, bare))), accuracy
    if site.spot_heights:
        from runoff.terrain.spots import spot_ground

        return spot_ground(site), site.height_accuracy
    expected = 'heights, such as spot_heights = "spots.csv" or elevation = "dem.tif"'
    raise InputError([Problem(site.path.name, None, "[terrain]", "", expected)])
