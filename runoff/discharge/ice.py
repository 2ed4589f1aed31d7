"""What is said of ice where water is let go at a walk, a drive or a sidewalk.

In: the site, and what becomes of the water. Out: words, empty where there is nothing to say.
"""

from __future__ import annotations

from shapely import Point

from runoff.flow.model import DownspoutAnswer
from runoff.flow.paving import ICY
from runoff.quantities import format_length, system_of
from runoff.site.model import Site


def ice_beside(site: Site, answer: DownspoutAnswer) -> str:
    """What water is let go beside, within the rule `extension_walk_distance`, and never crosses."""
    near = site.rules["extension_walk_distance"]
    told = []
    for paving in site.paving:
        away = paving.outline.distance(Point(answer.start))
        if paving.kind in ICY and paving not in answer.crosses and away < near:
            system = system_of(site.units)
            far = format_length(away, system, 1)
            told.append(f"it is let go {far} from the {paving.kind} '{paving.name}': ice in winter")
    return "; ".join(told)
