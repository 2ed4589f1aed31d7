"""The rate at which a site's soil takes water, for a seepage pit, or why it may take none.

In: what the user knows of the soil. Out: the rate to design with, with how it was found and what to
be warned of.
"""

from __future__ import annotations

from runoff.discharge.soil import (
    DesignRate,
    SoilRate,
    design_rate,
    percolation_soil,
    texture_soil,
    trial_pit_soil,
)
from runoff.discharge.ways import NotPossible
from runoff.quantities import system_of
from runoff.rules import Rules
from runoff.site.model import Site, Soil

_CLAYS = ("clay", "silty clay", "sandy clay")


def soil_of(site: Site) -> DesignRate:
    """The rate to design a seepage pit with, by the best that is known of the soil.

    A measured rate comes first, then a trial pit (its slowest filling), a percolation test, and
    last the texture, which is warned of.

    Raises
    ------
    NotPossible
        Where nothing is known of the soil, it is expansive or karst, or it is too slow.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(rules=Rules(), units="m", soil=Soil(rate=4e-5))
    >>> soil_of(site).rate_m_per_s
    2e-05
    >>> site.soil = Soil(texture="clay", expansive=True)
    >>> soil_of(site)
    Traceback (most recent call last):
    runoff.discharge.ways.NotPossible: the soil is expansive: wetted by a pit, it would swell and \
move the foundation
    """
    soil = site.soil
    if soil.expansive:
        raise NotPossible(
            "the soil is expansive: wetted by a pit, it would swell and move the foundation"
        )
    if soil.karst:
        raise NotPossible(
            "the ground is karst: water led into it can open a sinkhole; ask a geologist"
        )
    found = _with_clay_warning(_found(soil, site.rules), soil)
    try:
        return design_rate(found, site.rules, system_of(site.units))
    except ValueError as error:
        raise NotPossible(str(error)) from error


def _found(soil: Soil, rules: Rules) -> SoilRate:
    if soil.rate is not None:
        return SoilRate(soil.rate, "measured rate from the site file")
    if soil.trial_pit is not None:
        pit = soil.trial_pit
        return trial_pit_soil(pit.length, pit.width, pit.depth, pit.times, rules)
    if soil.percolation is not None:
        test = soil.percolation
        return percolation_soil(test.fall, test.time, test.diameter, test.first_depth, test.form)
    if soil.texture is not None:
        return texture_soil(soil.texture, rules)
    raise NotPossible(
        "test the soil first: nothing is known of how fast it takes water, and a seepage pit is "
        "sized by that"
    )


def _with_clay_warning(found: SoilRate, soil: Soil) -> SoilRate:
    """Nobody said that a clay is not expansive: it is worth asking before a hole is dug."""
    if soil.texture not in _CLAYS or soil.expansive is not None:
        return found
    warning = f"{soil.texture} may be expansive: ask a local engineer before wetting it with a pit"
    return SoilRate(found.rate_m_per_s, found.basis, (*found.warnings, warning))
