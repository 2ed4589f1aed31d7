"""How fast soil takes water: from a trial pit, a percolation test or its texture, and whether it
may take any.

In: what was measured, in metres and seconds. Out: an infiltration rate in m/s, with how it was
found and what to be warned of; then the rate to design with, after the factor of safety.

In: what the user knows of the soil. Out: the rate to design with, with how it was found and what to
be warned of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from runoff.discharge.reasons import NotPossible, Simply, SoilTooSlow
from runoff.quantities.numbers import positive
from runoff.rules import RULES, Rules
from runoff.site.model import Site, Soil
from runoff.site.soil.tests import trial_pit_rate as trial_pit_rate

PercolationForm = Literal["shaft", "county form"]
_TEXTURE = "soil_rate_"
TEXTURES = tuple(
    name.removeprefix(_TEXTURE).replace("_", " ") for name in RULES if name.startswith(_TEXTURE)
)


SoilBasis = Literal["measured", "trial pit", "percolation", "county form", "texture"]


@dataclass(frozen=True)
class SoilWarning:
    """What to be warned of in a soil's rate.

    `count` and `asked` are the fillings of a trial pit; `texture` that of a clay; `rate_m_per_s`
    and `least_m_per_s` a slow design rate and what it is below, or the most that is counted on.
    """

    code: Literal[
        "few fillings", "county form", "texture alone", "maybe expansive", "slow", "not counted on"
    ]
    count: int = 0
    asked: int = 0
    texture: str = ""
    rate_m_per_s: float = 0.0
    least_m_per_s: float = 0.0


@dataclass(frozen=True)
class SoilRate:
    """An infiltration rate (m/s) before any factor of safety, how it was found, its warnings.

    `texture` is given where it follows from that.
    """

    rate_m_per_s: float
    basis: SoilBasis
    warnings: tuple[SoilWarning, ...] = ()
    texture: str = ""


@dataclass(frozen=True)
class DesignRate:
    """The rate (m/s) that a pit is designed with, the factor taken off, and all warnings."""

    rate_m_per_s: float
    safety_factor: float
    soil: SoilRate
    warnings: tuple[SoilWarning, ...]


def trial_pit_soil(
    length_m: float,
    width_m: float,
    depth_m: float,
    seconds_75_to_25: Sequence[float],
    rules: Rules | None = None,
) -> SoilRate:
    """Rate from all the fillings of a trial pit: the slowest counts.

    Parameters
    ----------
    length_m, width_m, depth_m : float, metres
        As `trial_pit_rate` takes them.
    seconds_75_to_25 : sequence of float, seconds, one a filling
    rules : Rules, whose ``trial_pit_fillings`` says how many are asked for

    Raises
    ------
    ValueError
        Where there is no filling, or a number is not finite and above 0.

    Examples
    --------
    >>> soil = trial_pit_soil(1.6, 0.6, 0.65, [3000, 3600])
    >>> [(each.code, each.count, each.asked) for each in soil.warnings]
    [('few fillings', 2, 3)]
    """
    if len(seconds_75_to_25) == 0:
        raise ValueError("no filling of the trial pit is given: expected at least one time")
    rates = [trial_pit_rate(length_m, width_m, depth_m, time) for time in seconds_75_to_25]
    asked, done = int((rules or Rules())["trial_pit_fillings"]), len(rates)
    few = (SoilWarning("few fillings", done, asked),) if done < asked else ()
    return SoilRate(min(rates), "trial pit", few)


def percolation_soil(
    fall_m: float,
    seconds: float,
    diameter_m: float,
    first_depth_m: float,
    form: PercolationForm = "shaft",
) -> SoilRate:
    """Infiltration rate from a percolation test in a round hole.

    Water leaves a test hole through its side as well, so the fall is reduced by the area wet:
    shaft, (fall / time) / (1 + 2 (2 d1 - fall) / diameter). A printed county form has
    1 + (2 d1 - fall) / diameter instead; it gives the higher rate, is less safe, and is used only
    where it is asked for by name.

    Parameters
    ----------
    fall_m : float, metres, by which the water fell
    seconds : float, in which it fell
    diameter_m : float, metres, of the hole
    first_depth_m : float, metres, d1, depth of the water at the start
    form : "shaft" or "county form"

    Raises
    ------
    ValueError
        Where a number is not finite and above 0, the fall is over the first depth, or the form is
        not known.

    Examples
    --------
    >>> soil = percolation_soil(0.0254, 444, 0.2032, 0.1524)  # 7.4 min/in, 8 in hole, 6 in of water
    >>> round(soil.rate_m_per_s * 3600 / 0.0254, 2)
    2.16
    """
    positive(fall_m, "fall of the water", "m")
    positive(seconds, "time", "s")
    positive(diameter_m, "diameter of the hole", "m")
    positive(first_depth_m, "first depth of the water", "m")
    if fall_m > first_depth_m:
        raise ValueError(
            f"the water fell {fall_m!r} m, more than its first depth of {first_depth_m!r} m"
        )
    if form not in get_args(PercolationForm):
        raise ValueError(f"form is {form!r}: expected {' or '.join(get_args(PercolationForm))}")
    wet = (2 * first_depth_m - fall_m) / diameter_m
    if form == "shaft":
        return SoilRate(fall_m / seconds / (1 + 2 * wet), "percolation")
    return SoilRate(fall_m / seconds / (1 + wet), "county form", (SoilWarning("county form"),))


def texture_soil(texture: str, rules: Rules | None = None) -> SoilRate:
    """Usual rate of a soil of a texture, by Rawls, Brakensiek & Saxton 1982 (from memory).

    Raises
    ------
    ValueError
        Where the texture has no rate.

    Examples
    --------
    >>> round(texture_soil("sandy loam").rate_m_per_s * 3600 / 0.0254, 2)
    1.02
    """
    if texture not in TEXTURES:
        raise ValueError(f"soil texture is {texture!r}: expected one of {', '.join(TEXTURES)}")
    rate = (rules or Rules())[_TEXTURE + texture.replace(" ", "_")]
    return SoilRate(rate, "texture", (SoilWarning("texture alone"),), texture)


def design_rate(soil: SoilRate, rules: Rules | None = None) -> DesignRate:
    """The rate to design a pit with: what was found, over the factor of safety.

    Parameters
    ----------
    soil : SoilRate
    rules : Rules
        ``pit_safety_factor``; ``pit_least_rate``, below which the rate as found is refused;
        ``pit_slow_rate``, below which the design rate is warned of; ``pit_greatest_rate``, above
        which no design rate is counted on.

    Raises
    ------
    NotPossible
        Where the soil is too slow for a pit.
    ValueError
        Where the rate is not a finite number above 0.

    Examples
    --------
    >>> design = design_rate(SoilRate(2e-5, "trial pit"))
    >>> design.rate_m_per_s, design.warnings
    (1e-05, ())
    """
    rules = rules or Rules()
    positive(soil.rate_m_per_s, "soil rate", "m/s")
    least, slow, greatest = (rules[f"pit_{each}_rate"] for each in ("least", "slow", "greatest"))
    if soil.rate_m_per_s < least:
        raise NotPossible(SoilTooSlow(soil.rate_m_per_s, least))
    factor = positive(rules["pit_safety_factor"], "pit_safety_factor", "")
    rate, warnings = soil.rate_m_per_s / factor, list(soil.warnings)
    if rate < slow:
        warnings.append(SoilWarning("slow", rate_m_per_s=rate, least_m_per_s=slow))
    if rate > greatest:
        rate = greatest
        warnings.append(SoilWarning("not counted on", rate_m_per_s=rate))
    return DesignRate(rate, factor, soil, tuple(warnings))


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
    runoff.discharge.reasons.NotPossible: Simply(code='expansive soil')
    """
    soil = site.soil
    if soil.expansive:
        raise NotPossible(Simply("expansive soil"))
    if soil.karst:
        raise NotPossible(Simply("karst"))
    found = _found(soil, site.rules)
    if soil.texture in _CLAYS and soil.expansive is None:
        # Nobody said that it is not: it is worth asking before a hole is dug.
        maybe = SoilWarning("maybe expansive", texture=soil.texture)
        found = replace(found, warnings=(*found.warnings, maybe))
    return design_rate(found, site.rules)


def _found(soil: Soil, rules: Rules) -> SoilRate:
    if soil.rate is not None:
        return SoilRate(soil.rate, "measured")
    if soil.trial_pit is not None:
        pit = soil.trial_pit
        return trial_pit_soil(pit.length, pit.width, pit.depth, pit.times, rules)
    if soil.percolation is not None:
        test = soil.percolation
        return percolation_soil(test.fall, test.time, test.diameter, test.first_depth, test.form)
    if soil.texture is not None:
        return texture_soil(soil.texture, rules)
    raise NotPossible(Simply("soil not tested"))
