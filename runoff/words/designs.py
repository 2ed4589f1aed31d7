"""What a way consists of, a sentence each: what to lay, cut, bury or dig, and where its water goes.

In: an option's designs, and the site whose units are shown. Out: words for a homeowner.
"""

from __future__ import annotations

from runoff.discharge.ways import BuriedLine, Extension, Option, SeepagePit, Swale
from runoff.discharge.wording import direction, length
from runoff.foundation.walls import wall_words
from runoff.quantities import format_slope, format_volume, system_of
from runoff.site.model import Site
from runoff.words.downspouts import downspout_sentence
from runoff.words.extensions import extension_ends
from runoff.words.lines import line_ends
from runoff.words.swales import swale_ends


def way_reason(site: Site, way: Option) -> str:
    """What a way is, or why it cannot be taken; of one that leaves the water also where it goes."""
    if way.reason:
        return way.reason
    said = _design(site, way)
    if way.correction is not None:
        said = f"With the soil at the wall put right: {said[:1].lower()}{said[1:]}"
    return f"{said} {downspout_sentence(site, way.left)}" if way.left else said


def _design(site: Site, way: Option) -> str:
    if way.extension is not None:
        return extension_sentence(site, way.extension)
    if way.swale is not None:
        return swale_sentence(site, way.swale)
    if way.line is not None:
        return line_sentence(site, way.line)
    return _splash_block(site, way) if way.pit is None else pit_sentence(site, way.pit)


def _splash_block(site: Site, way: Option) -> str:
    """What does where the water is left as it is."""
    beside = "; ".join(
        f"it is let go {length(site, each.away_m, 1)} from the {each.paving.kind} "
        f"'{each.paving.name}': ice in winter"
        for each in way.ice_beside
    )
    enough = "A splash block is enough"
    if beside:
        return f"{enough}, but mind ice: {beside}."
    return f"{enough}, but mind ice." if way.left and way.left.crosses else f"{enough}."


def extension_sentence(site: Site, extension: Extension) -> str:
    """What to lay on the ground, and where its water goes."""
    return (
        f"Lay {length(site, extension.length_m)} of extension {extension_way(site, extension)}"
        f", falling {length(site, extension.fall_m)}{_on_blocks(site, extension)}; "
        f"{extension_ends(extension.ends)}."
    )


def extension_way(site: Site, extension: Extension) -> str:
    """Which way it is laid, and where its end lies, by tape from the wall.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", north_degrees=None)
    >>> laid = Extension((0, -0.1), (0, -1.9), 1.8, 180.0, 0.1, 0.1, None, None, "", None, "front")
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
        f"nowhere flatter than {format_slope(swale.slope)}; {swale_ends(swale.ends)}."
    )


def line_sentence(site: Site, line: BuriedLine) -> str:
    """What to bury, and where it comes out."""
    pipe = line.profile.pipe
    return (
        f"Bury {length(site, line.length_m, 1)} of {pipe.size} pipe at "
        f"{format_slope(line.profile.limits.slope)}, the trench up to "
        f"{length(site, line.greatest_cut_m, 1)} deep; {line_ends(line.ends)}."
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
