"""Roofs that drain onto roofs: how much roof each one's water comes from, and who carries it."""

from __future__ import annotations

import math

from runoff.site.model import Site


def uncarried_share(site: Site, roof: str) -> float:
    """Share (0 to 1) of a roof's water that no downspout carries."""
    carried = math.fsum(
        share for spout in site.downspouts for name, share in spout.roofs if name == roof
    )
    return max(1.0 - carried, 0.0)


def shed_areas(site: Site) -> dict[str, float]:
    """Plan area (m2) of roof whose water each roof sheds, by its name.

    An upper roof adds to the lower one what its own downspouts do not carry. The reader refuses
    roofs that drain onto each other in a ring.
    """
    onto: dict[str, list[str]] = {roof.name: [] for roof in site.roofs}
    for roof in site.roofs:
        if roof.onto:
            onto[roof.onto].append(roof.name)
    own = {roof.name: roof.plan_area for roof in site.roofs}

    def shed(name: str) -> float:
        above = (shed(upper) * uncarried_share(site, upper) for upper in onto[name])
        return own[name] + math.fsum(above)

    return {name: shed(name) for name in own}
