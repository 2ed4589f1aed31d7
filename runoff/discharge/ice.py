"""What is said of ice where water is let go, and of public sidewalks before a storm is run.

In: the ground, and what becomes of the water. Out: words, empty where there is nothing to say.
"""

from __future__ import annotations

from shapely import Point

from runoff.discharge.lot import LotGround
from runoff.flow.endings import first_ending
from runoff.flow.model import DownspoutAnswer
from runoff.flow.paving import ICY, paving_crossed, public_sidewalks
from runoff.flow.sentences import over_sidewalk
from runoff.quantities import format_length
from runoff.site.model import Site


def runs_over_sidewalk(ground: LotGround, x: float, y: float) -> str:
    """As `over_sidewalk`, of water let go at a place, before any storm is run with it there."""
    if not public_sidewalks(ground.site):
        return ""
    path = ground.first_stretch(x, y)
    ending = first_ending(ground.site, path) if len(path) > 1 else None
    if ending is None:
        return ""
    return over_sidewalk(paving_crossed(ground.site, path, ending[1], ending[0]))


def ice_beside(site: Site, answer: DownspoutAnswer) -> str:
    """What water is let go beside, within the rule `extension_walk_distance`, and never crosses."""
    near = site.rules["extension_walk_distance"]
    told = []
    for paving in site.paving:
        away = paving.outline.distance(Point(answer.start))
        if paving.kind in ICY and paving not in answer.crosses and away < near:
            system = "us" if site.units == "ft" else "metric"
            far = format_length(away, system, 1)
            told.append(f"it is let go {far} from the {paving.kind} '{paving.name}': ice in winter")
    return "; ".join(told)
