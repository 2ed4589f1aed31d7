"""Where water that is let go may freeze: on the walks, drives and sidewalks beside that place.

In: the site, and what becomes of the water. Out: the paving and how far it lies.
"""

from __future__ import annotations

from shapely import Point

from runoff.discharge.ways import PavingBeside
from runoff.flow.model import DownspoutAnswer
from runoff.flow.paving import ICY
from runoff.site.model import Site


def ice_beside(site: Site, answer: DownspoutAnswer) -> tuple[PavingBeside, ...]:
    """What water is let go beside, within the rule `extension_walk_distance`, and never crosses."""
    here = Point(answer.start)
    near = [
        PavingBeside(paving, paving.outline.distance(here))
        for paving in site.paving
        if paving.kind in ICY and paving not in answer.crosses
    ]
    return tuple(each for each in near if each.away_m < site.rules["extension_walk_distance"])
