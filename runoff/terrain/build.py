"""From a site to its terrain, the steps in order."""

from __future__ import annotations

import numpy as np

from runoff.site.model import Site
from runoff.site.problems import InputError, Problem
from runoff.terrain.barriers import place_drains, raise_barriers
from runoff.terrain.buildings import building_cells
from runoff.terrain.model import Terrain


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
    """
    notices: list[str] = []
    if site.elevation is not None:
        from runoff.terrain.elevation import elevation_ground

        made = elevation_ground(site, site.elevation)
        suspects = ()
        if site.spot_heights:
            notices.append(
                "The ground is taken from the elevation data alone; the spot heights are not "
                "blended into it yet."
            )
    elif site.spot_heights:
        from runoff.terrain.spots import spot_ground

        made = spot_ground(site)
        suspects = made.suspects
    else:
        raise InputError(
            [
                Problem(
                    site.path.name,
                    None,
                    "[terrain]",
                    "",
                    'heights, such as spot_heights = "spots.csv" or elevation = "dem.tif"',
                )
            ]
        )
    building = building_cells(site.buildings, made.grid)
    closed = building >= 0
    ground = np.where(closed, np.nan, made.ground)
    return Terrain(
        grid=made.grid,
        ground=ground,
        surface=raise_barriers(ground, site.barriers, made.grid),
        closed=closed,
        building=building,
        drains=place_drains(site.drains, ground, building, made.grid),
        accuracy=site.height_accuracy,
        suspects=suspects,
        notices=(*made.notices, *notices),
    )
