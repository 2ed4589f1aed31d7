"""How much ground a lot needs around it."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from runoff.site.model import Site

MARGIN = 30.0
"""Ground kept around everything that is drawn, metres: run-on comes from beyond the lot."""

Bounds = tuple[float, float, float, float]


def extent_of(site: Site) -> Bounds | None:
    """(left, bottom, right, top), metres, of what is drawn and a margin; None where nothing is."""
    shapes: list[BaseGeometry] = [building.outline for building in site.own_buildings]
    shapes += [shapely.Point(spot.x, spot.y) for spot in site.spot_heights]
    shapes += [shapely.Point(foot.x, foot.y) for foot in site.downspouts]
    if site.lot is not None:
        shapes.append(site.lot.boundary)
    if not shapes:
        return None
    left, bottom, right, top = shapely.total_bounds(shapes).tolist()
    return left - MARGIN, bottom - MARGIN, right + MARGIN, top + MARGIN
