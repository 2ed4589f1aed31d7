"""Designs and reasons in a homeowner's words and the site's own units."""

from __future__ import annotations

from runoff.discharge.safety import Reached
from runoff.discharge.ways import BuriedLine, Extension, Fitting, SeepagePit, Swale
from runoff.foundation.walls import wall_words
from runoff.quantities import Shown, format_length, format_slope, format_volume, system_of
from runoff.site.model import Site

_POINTS = (
    "top",
    "upper right",
    "right",
    "lower right",
    "bottom",
    "lower left",
    "left",
    "upper left",
)
_COMPASS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def length(site: Site, metres: float, denominator: int = 4) -> str:
    """A length as the site's user writes it."""
    return format_length(metres, system_of(site.units), denominator)


def direction(site: Site, bearing: float) -> str:
    """A bearing (degrees clockwise from the plan's up) by the compass, or on the plan.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> direction(SimpleNamespace(north_degrees=90.0), 90.0)
    'north'
    >>> direction(SimpleNamespace(north_degrees=None), 90.0)
    'toward the right of the plan'
    """
    if site.north_degrees is None:
        return f"toward the {_POINTS[round(bearing / 45) % 8]} of the plan"
    return _COMPASS[round((bearing - site.north_degrees) / 45) % 8]


_BENDS = {
    (22.5,): "22.5 degree bend",
    (45.0,): "45 degree bend",
    (45.0, 22.5): "45 and 22.5 degree bends",
    (45.0, 45.0): "two 45 degree bends",
    (45.0, 45.0, 22.5): "two 45 and a 22.5 degree bends",
    (45.0, 45.0, 45.0): "three 45 degree bends",
}


def fitting_name(shown: Shown, fitting: Fitting) -> str:
    """What a fitting is called.

    Examples
    --------
    >>> fitting_name(Shown("us"), Fitting(0.0, "adapter", size="4 in"))
    'adapter from the leader to 4 in pipe'
    """
    if fitting.kind == "bend":
        return _BENDS[fitting.bends]
    names = {
        "leaf screen": "leaf screen with an overflow gap",
        "adapter": f"adapter from the {_leader(shown, fitting)} to {fitting.size} pipe",
        "cleanout": "cleanout",
        "outlet grate": f"{fitting.size} outlet grate",
        "connection": f"{fitting.size} connection",
        "overflow fitting": "overflow fitting with a grate",
    }
    return names[fitting.kind]


def _leader(shown: Shown, fitting: Fitting) -> str:
    leader = fitting.leader
    if leader is None:
        return "leader"
    if leader.shape == "round":
        return f"{shown.height(leader.width)} round leader"
    return f"{shown.height(leader.width)} x {shown.height(leader.depth)} leader"


def reached_words(site: Site, reached: Reached) -> str:
    """How water comes to a foundation, such as to follow a colon.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> reached_words(SimpleNamespace(units="ft"), Reached("runs along", 3.048))
    'it runs along the wall for 10 ft'
    """
    far = Shown.of(site).far(reached.metres)
    words = {
        "comes back": f"it comes back within {far} of a foundation",
        "stands near": f"it stands within {far} of '{reached.name}'",
        "slopes back": f"the ground there slopes back against the {reached.name} wall",
        "holds water": f"the ground there holds water against the {reached.name} wall",
        "runs along": f"it runs along the wall for {far}",
        "stays near": f"it stays within {far} of a foundation",
        "shut in": "it is shut in by walls",
        "gets in": f"it {gets_in(reached)}",
    }
    return words[reached.how]


def gets_in(reached: Reached) -> str:
    """Where water gets in."""
    named = " and ".join(f"the {each.kind} '{each.name}'" for each in reached.openings)
    return f"gets in at {named}"


def extension_sentence(site: Site, extension: Extension) -> str:
    """What to lay on the ground, and where its water goes."""
    return (
        f"Lay {length(site, extension.length_m)} of extension {extension_way(site, extension)}"
        f", falling {length(site, extension.fall_m)}{_on_blocks(site, extension)}; "
        f"{extension.ends}."
    )


def extension_way(site: Site, extension: Extension) -> str:
    """Which way it is laid, and where its end lies, by tape from the wall.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", north_degrees=None)
    >>> laid = Extension((0, -0.1), (0, -1.9), 1.8, 180.0, 0.1, 0.1, None, "", "", None, "front")
    >>> extension_way(site, laid)
    'straight out from the front wall, toward the bottom of the plan'
    """
    way = direction(site, extension.bearing)
    if not extension.wall:
        return f"{way} ({extension.bearing:.0f} degrees from the plan's up)"
    wall = wall_words(extension.wall)
    if extension.is_straight_out:
        return f"straight out from {wall}, {way}"
    side = "right" if extension.aside_m > 0 else "left"
    return (
        f"{way}, its end {length(site, extension.out_m, 1)} out from {wall} and "
        f"{length(site, abs(extension.aside_m), 1)} to the {side} as you look away from it"
    )


def _on_blocks(site: Site, extension: Extension) -> str:
    if not extension.props:
        return ""
    blocks = "a block" if extension.props == 1 else f"{extension.props} blocks"
    return (
        f", propped on {blocks} where up to {length(site, extension.gap_m, 1)} of air is under it"
    )


def swale_sentence(site: Site, swale: Swale) -> str:
    """What to cut, and where its water goes."""
    fall = float(swale.bottom_m[0] - swale.bottom_m[-1])
    return (
        f"Cut a swale {length(site, float(swale.stations_m[-1]), 1)} long and "
        f"{length(site, swale.section.depth_m)} deep, its bottom falling {length(site, fall, 1)}, "
        f"nowhere flatter than {format_slope(swale.slope)}; {swale.ends}."
    )


def line_sentence(site: Site, line: BuriedLine) -> str:
    """What to bury, and where it comes out."""
    pipe = line.profile.pipe
    return (
        f"Bury {length(site, line.length_m, 1)} of {pipe.size} pipe at "
        f"{format_slope(line.profile.limits.slope)}, the trench up to "
        f"{length(site, line.greatest_cut_m, 1)} deep; {line.ends}."
    )


def pit_sentence(site: Site, pit: SeepagePit) -> str:
    """What to dig and fill with stone, and what it holds."""
    system = system_of(site.units)
    body = pit.governing.pit
    plan = (
        f"{length(site, body.length_m, 1)} across"
        if body.kind == "cylinder"
        else f"{length(site, body.length_m, 1)} by {length(site, body.width_m, 1)}"
    )
    return (
        f"Dig a seepage pit (dry well, roof water only) {plan} and "
        f"{length(site, pit.dig_depth_m, 1)} deep, {length(site, pit.line.length_m, 1)} away; its "
        f"stone holds {format_volume(body.stored_m3, system)} of water."
    )
