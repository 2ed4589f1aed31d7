"""The section of a swale for a flow, and whether its grass bears the water.

In: a flow in m3/s, the site's rules and soil. Out: SI.
"""

from __future__ import annotations

import math

from runoff.discharge.swale import (
    Cover,
    SwaleSection,
    bare_velocity,
    grass_velocity,
    swale_at_flow,
    swale_flow,
)
from runoff.discharge.ways import Caution, NotPossible
from runoff.quantities import format_length, system_of
from runoff.site.model import Site

_BARE_SOILS = {"loamy sand": "sand", "loam": "silt loam", "sandy clay loam": "sandy clay"}


def section_for(site: Site, flow: float) -> SwaleSection:
    """The section for a flow at the least grade, its depth rounded up to an inch or 10 mm."""
    rules = site.rules
    bottom, side = rules["swale_bottom_width"], rules["swale_side_run"]
    grade, n = least_grade(site), rules["roughness_grass_swale"]
    deep = SwaleSection(bottom, side, rules["swale_greatest_cut"])
    brim = swale_flow(deep, deep.depth_m, grade, n).flow_m3_per_s
    if flow > brim:
        raise NotPossible(
            f"More water comes than a swale {in_words(site, deep.depth_m)} deep, the deepest cut, "
            "carries."
        )
    depth = swale_at_flow(deep, flow, grade, n).water_m + rules["swale_freeboard"]
    step = 0.0254 if site.units == "ft" else 0.01
    depth = max(depth, rules["swale_least_depth"])
    return SwaleSection(bottom, side, math.ceil(depth / step - 1e-9) * step)


def fastest(
    site: Site, section: SwaleSection, flow: float, steepest: float
) -> tuple[float, float, tuple[Caution, ...]]:
    """Velocity of the flow where it is fastest, what grass bears there, and what to watch.

    Judged with the roughness of short grass, for grass that is mown low lets the water run faster;
    where the rules have it rougher than tall grass, with that of tall grass.
    """
    rules = site.rules
    n = min(rules["roughness_short_grass"], rules["roughness_grass_swale"])
    velocity = swale_at_flow(section, flow, steepest, n).velocity_m_per_s
    cover: Cover = "grass mixture" if steepest <= 0.10 else "bluegrass"
    cautions = []
    if cover == "bluegrass":
        cautions.append(Caution("bluegrass", figures=(steepest,)))
    texture = site.soil.texture or "sand"
    try:
        bare = bare_velocity(_BARE_SOILS.get(texture, texture), rules)
    except ValueError:
        bare = rules["bare_velocity_sandy"]
    if velocity > bare:
        cautions.append(Caution("sod before water"))
    return velocity, grass_velocity(cover, steepest, rules=rules), tuple(cautions)


def least_grade(site: Site) -> float:
    return min(site.rules["swale_grade"], site.rules["swale_grade_beyond"])


def in_words(site: Site, metres: float) -> str:
    return format_length(metres, system_of(site.units), 1)
