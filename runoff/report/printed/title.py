"""What stands over a report: which lot, when, by whom, in what weather, on what survey.

In: findings. Out: rows of what and its words, in the site's units.
"""

from __future__ import annotations

from runoff.inspection import Findings
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.words.rains import storm_basis

NOT_NOTED = "not noted"
_SURE = 1.96
# Accuracy from here on is told less finely, metres.
_COARSE_M = 0.02


def title_rows(findings: Findings) -> list[tuple[str, str]]:
    """The title block; what the site file leaves out is said to be not noted."""
    site, shown = findings.site, Shown.of(findings.site)
    return [
        ("Lot", site.name),
        ("Address", site.address or NOT_NOTED),
        ("Date of the survey", site.date or NOT_NOTED),
        ("Observer", site.observer or NOT_NOTED),
        ("Weather and rain before", site.weather or NOT_NOTED),
        ("Hidden from view", site.hidden or f"{NOT_NOTED} (snow, plants, decks, stored things)"),
        ("Survey", survey_words(findings)),
        ("Storm looked at", f"{shown.rain(site.storm.depth)} of rain: {storm_basis(site)}"),
    ]


def survey_words(findings: Findings) -> str:
    """What the heights are from, how many, and how good one is."""
    accuracy, shown = findings.terrain.accuracy, Shown.of(findings.site)
    within = _SURE * accuracy.sigma
    told = shown.at_least_a_step(within) if within < _COARSE_M else shown.height(within)
    good = f"each good to within {told}, 19 times in 20"
    parts = [f"{_sources(findings.site)} by {accuracy.method}; {good}"]
    if accuracy.indication_only:
        parts.append("too rough for a verdict on grade: an indication only")
    suspects = len(findings.terrain.suspects)
    if suspects:
        heights = "1 height is" if suspects == 1 else f"{suspects} heights are"
        parts.append(f"{heights} in doubt")
    return "; ".join(parts)


def _sources(site: Site) -> str:
    """How many spot heights, and the elevation data by its name."""
    count = len(site.spot_heights)
    told = [f"{count} spot heights"] if count else []
    told += [f"elevation data ({site.elevation.name})"] if site.elevation is not None else []
    return " and ".join(told) or "heights"
