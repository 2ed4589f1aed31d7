"""Openings at the wall in words: whether water gets in, at how much rain, and what brings it.

In: a site and an opening's finding. Out: a homeowner's sentence.
"""

from __future__ import annotations

import numpy as np

from runoff.foundation.beside import WELLS
from runoff.foundation.model import Inflow, OpeningFinding
from runoff.foundation.wording import found_rain, height, listed, main_sources, rain
from runoff.site.model import Opening, Site
from runoff.terrain.model import call_margin


def opening_sentence(site: Site, finding: OpeningFinding) -> str:
    """Whether and when water gets in at an opening, and what brings it."""
    opening = _opening(site, finding)
    if np.isnan(finding.edge):
        return _to_measure(opening)
    if np.isnan(finding.freeboard):
        return _no_ground(opening)
    edge = _edge_word(opening)
    storm = rain(site, site.storm.depth)
    source = inflow_words(finding.inflow)
    if finding.reached and finding.inflow.streams:
        said = (
            f"water gets in. {source[0].upper()}{source[1:]} runs against it in a storm of "
            f"{storm}, and the ground there is no lower than its {edge}; it does so from "
            f"{found_rain(site, finding.rain_to_reach)} of rain on"
        )
        return f"{_who(opening)}: {said}.{_own_rain(site, opening)}"
    if finding.reached:
        said = (
            f"water gets in. In a storm of {storm} it stands {height(site, finding.freeboard)} "
            f"over the {edge}; it reaches the {edge} at "
            f"{found_rain(site, finding.rain_to_reach)} of rain"
        )
    elif np.isfinite(finding.rain_to_reach):
        said = (
            f"water stays out in a storm of {storm}, {_room(site, finding, edge)}; "
            f"it would get in at {found_rain(site, finding.rain_to_reach)} of rain"
        )
    else:
        said = f"water stays out, {_room(site, finding, edge)}; no storm reaches it"
    told = f"{said}, from {source}" if source else said
    close = _how_close(site, finding, edge)
    return f"{_who(opening)}: {told}.{close}{_own_rain(site, opening)}"


def inflow_words(inflow: Inflow) -> str:
    """What brings the water; empty where nothing does.

    Examples
    --------
    >>> inflow_words(Inflow(streams=("downspout 'NE'",)))
    "the stream from downspout 'NE'"
    >>> inflow_words(Inflow(feeds={"yard": 1.0}))
    "the yard's own rain (100 %)"
    """
    if inflow.streams:
        return f"the stream from {listed(inflow.streams)}"
    return main_sources(inflow.feeds)


def _opening(site: Site, finding: OpeningFinding) -> Opening:
    return next(
        each
        for each in site.openings
        if (each.building, each.name) == (finding.building, finding.name)
    )


def _edge_word(opening: Opening) -> str:
    return "rim" if opening.kind in WELLS else "sill"


def _who(opening: Opening) -> str:
    return f"{opening.kind[0].upper()}{opening.kind[1:]} '{opening.name}'"


def _to_measure(opening: Opening) -> str:
    what = (
        "the lowest point of its rim" if opening.kind in WELLS else "its sill (its lowest way in)"
    )
    return (
        f"{_who(opening)}: not judged. Measure the height of {what} "
        "on the same datum as the spot heights."
    )


def _no_ground(opening: Opening) -> str:
    return (
        f"{_who(opening)}: not judged. No ground was surveyed beside it; "
        "take spot heights at the wall on both sides of it and just outside it."
    )


def _how_close(site: Site, finding: OpeningFinding, edge: str) -> str:
    """What the heights' accuracy leaves open about an opening that water comes to."""
    margin = call_margin(site.height_accuracy.sigma)
    if not np.isfinite(finding.rain_to_reach) or abs(finding.freeboard) >= margin:
        return ""
    return (
        f" That is within {height(site, margin)}, which these heights cannot tell (too close to "
        f"call): take the {edge} and the ground beside it again with a better level."
    )


def _room(site: Site, finding: OpeningFinding, edge: str) -> str:
    if finding.freeboard < 0:
        return (
            f"though ground beside it lies {height(site, finding.freeboard)} above its {edge}: "
            "check both heights, for any stream along the wall would get in"
        )
    return f"with {height(site, finding.freeboard)} to spare below its {edge} (freeboard)"


def _own_rain(site: Site, opening: Opening) -> str:
    """What the rain that falls into a well without a drain does."""
    if opening.kind not in WELLS or opening.drained:
        return ""
    if opening.floor is None or opening.rim is None:
        return " It has no drain: rain that falls into it stands on its floor."
    deep = opening.rim - opening.floor
    if site.storm.depth > deep:
        return f" It has no drain: rain falling into it alone fills it, {height(site, deep)} deep."
    return (
        " It has no drain: rain falling into it alone stands "
        f"{rain(site, site.storm.depth)} deep on its floor in that storm."
    )
