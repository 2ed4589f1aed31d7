"""Roofs that drain onto roofs: how much roof each one's water comes from, and who carries it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from runoff.site.model import Site


def uncarried_share(site: Site, roof: str) -> float:
    """Share (0 to 1) of a roof's water that no downspout carries."""
    carried = math.fsum(
        share for spout in site.downspouts for name, share in spout.roofs if name == roof
    )
    return max(1.0 - carried, 0.0)


def shed_areas(site: Site, own: Mapping[str, float] | None = None) -> dict[str, float]:
    """Area (m2) of roof whose water each roof sheds, by its name.

    An upper roof adds to the lower one what its own downspouts do not carry. The reader refuses
    roofs that drain onto each other in a ring.

    Parameters
    ----------
    site : Site
    own : mapping of str to float, optional
        What each roof sheds of its own, m2; plan areas where not given. Areas with an allowance for
        wind-blown rain pass on in the same way.
    """
    rest = {roof.name: uncarried_share(site, roof.name) for roof in site.roofs}
    onto = {roof.name: roof.onto for roof in site.roofs}
    start = {roof.name: roof.plan_area for roof in site.roofs} if own is None else dict(own)
    shed = dict(start)
    for roof in site.roofs:
        area, upper = start[roof.name], roof.name
        while onto[upper]:
            area *= rest[upper]
            upper = onto[upper]
            shed[upper] += area
    return shed
