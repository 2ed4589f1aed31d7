"""What the rains of a site rest on: the site file, the rules, a rain table, or what is assumed.

In: a site. Out: a clause, in its own units.
"""

from __future__ import annotations

from runoff.quantities import Shown
from runoff.rules import RULES
from runoff.site.model import Basis, DesignRain, Site


def storm_basis(site: Site) -> str:
    """What the storm that ponding is judged by rests on.

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> storm_basis(read_site(sample_folder() / "site.toml"))[:37]
    '10-year 24-h rain of rain.csv, 4.1 in'
    """
    storm = site.storm
    how_long = _taken(storm.duration_basis, "duration", Shown.duration(storm.duration))
    deep = Shown.of(site).rain(storm.depth)
    if storm.basis.code == "table":
        return f"{_named(storm.basis)}, {deep}; for drains: {how_long}"
    return f"{_taken(storm.basis, 'depth', deep)}; {how_long}"


def drainage_basis(site: Site, rain: DesignRain) -> str:
    """What the rain rests on that gutters and leaders, or buried lines, are sized for."""
    fast = Shown.of(site).rate(rain.intensity)
    if rain.basis.code == "table":
        return f"{_named(rain.basis)}, {fast}"
    assumed = f"assumed ({RULES['drainage_intensity'].source})"
    return f"{fast} {'from the site file' if rain.basis.code == 'site file' else assumed}"


def pit_rain_basis(site: Site) -> str:
    """What the rains rest on that seepage pits are sized for."""
    pit = site.rains.pit
    if pit.basis.code == "site file":
        return f"a whole storm of {Shown.of(site).rain(pit.depth)} from the site file"
    if pit.basis.code == "storm":
        return f"the whole ponding storm: {storm_basis(site)}"
    shortest, longest = (Shown.duration(pit.durations[end][0]) for end in (0, -1))
    return (
        f"{pit.basis.years:g}-year rains of {_table(pit.basis)}, {shortest} to {longest}; "
        f"as a whole storm: {storm_basis(site)}"
    )


def _taken(basis: Basis, what: str, shown: str) -> str:
    return {
        "site file": f"{what} from the site file",
        "rules": f"{what} {shown} from [rules]",
        "assumed": f"{what} {shown} assumed ({RULES[f'storm_{what}'].source})",
    }[basis.code]


def _named(basis: Basis) -> str:
    lasting = Shown.duration(basis.duration_s).replace(" ", "-")
    return f"{basis.years:g}-year {lasting} rain of {_table(basis)}"


def _table(basis: Basis) -> str:
    """The rain table by its file, and by what it says of itself."""
    return basis.table if basis.table in basis.says else f"{basis.table} ({basis.says})"
