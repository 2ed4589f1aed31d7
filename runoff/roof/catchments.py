"""The roof that each downspout carries: plan area with its allowance for wind, roofs that drain
onto roofs, the balance of a site.

In: plan area in m2 and one allowance. Out: area in m2. There is no way to give two allowances,
since each already stands for all of the wind.

In: a site's roofs, downspouts and its allowance for wind-blown rain. Out: areas in m2.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

from runoff.quantities.numbers import not_negative
from runoff.site.model import Roof, Site

# A home-repair guide: rise in 12 of run up to which each factor holds; above the last, 1.3.
_PITCH_FACTORS = ((3, 1.0), (5, 1.05), (8, 1.1), (11, 1.2))
_STEEPEST_FACTOR = 1.3
STEEPEST_TANGENT = math.tan(math.radians(70))
_ROUNDING = 1e-9


AllowanceCode = Literal["none", "pitch factor", "half tangent", "half rise", "half wall"]


@dataclass(frozen=True)
class NoAllowance:
    """The plan area as it is."""

    code: ClassVar[AllowanceCode] = "none"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        return plan_area_m2


@dataclass(frozen=True)
class PitchFactor:
    """The factors of home-repair guides: 1.0 to 3:12, 1.05 to 5:12, 1.1 to 8:12, 1.2 to 11:12, 1.3.

    `pitch` is rise over run. A pitch between two rows takes the higher factor.
    """

    pitch: float
    code: ClassVar[AllowanceCode] = "pitch factor"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        twelfths = 12 * not_negative(self.pitch, "pitch") - _ROUNDING
        fitting = (factor for limit, factor in _PITCH_FACTORS if twelfths <= limit)
        return plan_area_m2 * next(fitting, _STEEPEST_FACTOR)


@dataclass(frozen=True)
class HalfTangent:
    """Approved Document H, table 1: plan area x (1 + tan(pitch) / 2), to 70 degrees.

    `pitch` is rise over run, the tangent. A steeper roof counts as a wall: half its elevation.
    """

    pitch: float
    code: ClassVar[AllowanceCode] = "half tangent"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        if not_negative(self.pitch, "pitch") > STEEPEST_TANGENT + _ROUNDING:
            raise ValueError(
                f"pitch is {self.pitch:g}; expected 70 degrees at most: give a steeper "
                "roof as a wall"
            )
        return plan_area_m2 * (1 + self.pitch / 2)


@dataclass(frozen=True)
class HalfRise:
    """EN 12056-3: L (W + H / 2), so half of what the wind sees of the roof is added.

    `eave_m` is the length L of the roof along its eave, `rise_m` its height H from eave to ridge.
    """

    eave_m: float
    rise_m: float
    code: ClassVar[AllowanceCode] = "half rise"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        eave, rise = not_negative(self.eave_m, "eave_m"), not_negative(self.rise_m, "rise_m")
        return plan_area_m2 + eave * rise / 2


@dataclass(frozen=True)
class HalfWall:
    """Half of a wall that stands above the roof and drips onto it, `wall_area_m2` its area."""

    wall_area_m2: float
    code: ClassVar[AllowanceCode] = "half wall"

    def area(self, plan_area_m2: float) -> float:
        """Area that counts, m2."""
        return plan_area_m2 + not_negative(self.wall_area_m2, "wall_area_m2") / 2


Allowance = NoAllowance | PitchFactor | HalfTangent | HalfRise | HalfWall


def catchment_area(plan_area_m2: float, allowance: Allowance) -> float:
    """The area that a design flow is reckoned with.

    Parameters
    ----------
    plan_area_m2 : float
        Plan area of the roof in square metres; 0 for one steeper than 70 degrees, given as a wall.
    allowance : NoAllowance, PitchFactor, HalfTangent, HalfRise or HalfWall
        The one allowance for wind-blown rain.

    Returns
    -------
    float
        Area in square metres.

    Raises
    ------
    ValueError
        Where an area or size is negative, or a pitch is steeper than its method knows.

    Examples
    --------
    A roof of 100 m2 at 6:12:

    >>> catchment_area(100.0, HalfTangent(0.5)), round(catchment_area(100.0, PitchFactor(0.5)), 6)
    (125.0, 110.0)
    """
    return allowance.area(not_negative(plan_area_m2, "plan_area_m2"))


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


# Shares that add up to 1 on paper may miss it by this much in binary.
_NOTHING = 1e-9


@dataclass(frozen=True)
class RoofPart:
    """What a downspout carries of one roof.

    Parameters
    ----------
    roof : str
    share : float
        Share of the roof's water that the downspout carries, 0 to 1.
    own_area_m2 : float, m2
        That share of the roof's own plan area.
    from_above_m2 : float, m2
        The same share of the plan area of upper roofs that drains onto it.
    upper : tuple of str
        Those upper roofs, in the site's order.
    design_area_m2 : float, m2
        Both with their allowances for wind-blown rain.
    allowance : AllowanceCode
        The allowance of the roof itself.
    """

    roof: str
    share: float
    own_area_m2: float
    from_above_m2: float
    upper: tuple[str, ...]
    design_area_m2: float
    allowance: AllowanceCode

    @property
    def plan_area_m2(self) -> float:
        """Plan area that the downspout carries by way of this roof."""
        return self.own_area_m2 + self.from_above_m2


@dataclass(frozen=True)
class Catchment:
    """The roof that one downspout carries, part by part."""

    downspout: str
    parts: tuple[RoofPart, ...]

    @property
    def plan_area_m2(self) -> float:
        """Roof on the plan, m2: what rain falls on in still air."""
        return math.fsum(part.plan_area_m2 for part in self.parts)

    @property
    def design_area_m2(self) -> float:
        """Area that design flows are reckoned with, m2: with the allowance for wind-blown rain."""
        return math.fsum(part.design_area_m2 for part in self.parts)


@dataclass(frozen=True)
class RoofBalance:
    """Where a lot's roof goes, plan areas in m2: the last three add up to the first.

    `not_carried_m2` is roof that neither a downspout, an eave nor a lower roof is written for; its
    water is left out of everything.
    """

    roof_m2: float
    carried_m2: float
    over_eaves_m2: float
    not_carried_m2: float


def wind_allowance(site: Site, roof: Roof) -> Allowance:
    """The one allowance for wind-blown rain that a roof takes.

    Half of a wall above the roof, where one is written, stands in place of the site's allowance,
    never beside it. A roof without a known pitch takes none. A roof over 70 degrees counts as
    a wall where the site goes by half the tangent, as in Approved Document H.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from runoff import read_site
    >>> from runoff.sample import sample_folder
    >>> site = read_site(sample_folder() / "site.toml")
    >>> wind_allowance(site, replace(site.roofs[0], wall_above=10.0))
    HalfWall(wall_area_m2=10.0)
    """
    if roof.wall_above > 0:
        return HalfWall(roof.wall_above)
    if roof.pitch is None or site.rains.allowance == "none":
        return NoAllowance()
    if site.rains.allowance == "pitch factor":
        return PitchFactor(roof.pitch)
    return HalfTangent(roof.pitch)


def design_area(site: Site, roof: Roof) -> float:
    """A roof's own plan area with its allowance for wind-blown rain, m2."""
    allowance = wind_allowance(site, roof)
    if isinstance(allowance, HalfTangent) and allowance.pitch > STEEPEST_TANGENT:
        return catchment_area(0.0, HalfWall(roof.plan_area * allowance.pitch))
    return catchment_area(roof.plan_area, allowance)


def catchments_of(site: Site) -> tuple[Catchment, ...]:
    """The catchment of every downspout, in the site's order.

    Shares of a roof that two downspouts carry, and upper roofs that drain onto lower ones, are
    followed down to the downspout whose gutter the water ends in.

    Parameters
    ----------
    site : Site

    Returns
    -------
    tuple of Catchment

    Examples
    --------
    >>> from runoff import read_site
    >>> from runoff.sample import sample_folder
    >>> site = read_site(sample_folder() / "site.toml")
    >>> [catchment.downspout for catchment in catchments_of(site)] == [
    ...     downspout.name for downspout in site.downspouts
    ... ]
    True
    """
    roofs = {roof.name: roof for roof in site.roofs}
    plan = shed_areas(site)
    design = shed_areas(site, {roof.name: design_area(site, roof) for roof in site.roofs})

    def part(name: str, share: float) -> RoofPart:
        own = roofs[name].plan_area
        return RoofPart(
            roof=name,
            share=share,
            own_area_m2=own * share,
            from_above_m2=(plan[name] - own) * share,
            upper=_above(site, name),
            design_area_m2=design[name] * share,
            allowance=wind_allowance(site, roofs[name]).code,
        )

    return tuple(
        Catchment(spout.name, tuple(part(name, share) for name, share in spout.roofs))
        for spout in site.downspouts
    )


def roof_balance(site: Site) -> RoofBalance:
    """Where all of the roof goes: into downspouts, over eaves, or nowhere that is written.

    Examples
    --------
    >>> from runoff import read_site
    >>> from runoff.sample import sample_folder
    >>> balance = roof_balance(read_site(sample_folder() / "site.toml"))
    >>> parts = balance.carried_m2 + balance.over_eaves_m2 + balance.not_carried_m2
    >>> abs(parts - balance.roof_m2) < 1e-9
    True
    """
    shed = shed_areas(site)
    left = {roof.name: shed[roof.name] * uncarried_share(site, roof.name) for roof in site.roofs}
    last = [roof for roof in site.roofs if not roof.onto]
    return RoofBalance(
        roof_m2=math.fsum(roof.plan_area for roof in site.roofs),
        carried_m2=math.fsum(catchment.plan_area_m2 for catchment in catchments_of(site)),
        over_eaves_m2=math.fsum(left[roof.name] for roof in last if roof.eave is not None),
        not_carried_m2=math.fsum(left[roof.name] for roof in last if roof.eave is None),
    )


def _above(site: Site, lower: str) -> tuple[str, ...]:
    """The roofs some of whose water comes onto a lower one, straight or by way of others."""
    onto = {roof.name: roof.onto for roof in site.roofs}

    def reaches(name: str) -> bool:
        while onto[name] and uncarried_share(site, name) > _NOTHING:
            name = onto[name]
            if name == lower:
                return True
        return False

    return tuple(roof.name for roof in site.roofs if reaches(roof.name))
