"""What happens when a way fails, in sentences: what fails, where water then runs, the relief.

In: a `Failure` and the site whose units are shown. Out: words for a homeowner.
"""

from __future__ import annotations

from runoff.discharge.ways import Failure, FailureKind
from runoff.discharge.wording import gets_in, reached_words
from runoff.flow.sentences import ice_words
from runoff.quantities import Shown
from runoff.site.model import Site

_FAILS: dict[FailureKind, str] = {
    "greater storm": "a greater storm comes",
    "extension blocked": "the extension is crushed, blocked or frozen",
    "swale blocked": "the swale is blocked or over capacity",
    "line blocked": "the line is blocked, frozen or over capacity",
    "line to pit blocked": "the line to the pit is blocked or frozen",
    "pit full": "the pit is full",
}
_FOOT = "at the foot of the downspout"


def what_fails(failure: Failure) -> str:
    """What fails, such as to follow *if*."""
    return _FAILS[failure.kind]


def failure_sentence(site: Site, failure: Failure) -> str:
    """What fails, where the water then comes out and where it runs."""
    ice = f"; {ice_words(failure.crosses)}" if failure.crosses else ""
    if failure.kind == "pit full":
        return (
            "When the pit is full, its water comes up through the grated cap of the observation "
            f"pipe and {_runs_over(failure)}{ice}."
        )
    return (
        f"If {what_fails(failure)}, the water comes out {_where(site, failure)}"
        f"{_then(site, failure)}{ice}."
    )


def relief_sentence(site: Site, failure: Failure) -> str:
    """What is planned against it; empty where nothing is."""
    if failure.relief == "corrected grade":
        return (
            "Correct the grade at the foot of the downspout: on that ground the water keeps "
            "away from the foundations."
        )
    if failure.fitting_m is None:
        return ""
    return (
        f"Set an overflow fitting with a grate on it {Shown.of(site).far(failure.fitting_m)} from "
        "the downspout: its ground is lower than the gap at the foot, and water from it keeps "
        "away. It relieves what is blocked beyond it; keep the stretch before it clear."
    )


def failure_words(site: Site, failure: Failure) -> str:
    """Where the water goes when a way fails, and what is planned against it."""
    sentence, relief = failure_sentence(site, failure), relief_sentence(site, failure)
    if relief:
        helps = (
            "" if failure.relieved or not failure.reaches_foundation else " It does not suffice."
        )
        return f"{sentence} Against it: {relief[:1].lower()}{relief[1:]}{helps}"
    if failure.is_safe:
        return sentence
    return f"{sentence} Nothing here helps against it: watch it in every storm."


def _where(site: Site, failure: Failure) -> str:
    if failure.comes_out == "bank":
        return f"over its bank {Shown.of(site).far(failure.bank_m)} from the downspout"
    if failure.comes_out == "swale end":
        return "at its end"
    return f"of the overflow gap {_FOOT}" if failure.comes_out == "overflow gap" else _FOOT


def _then(site: Site, failure: Failure) -> str:
    """Where the water runs from there."""
    end, reached = failure.end, failure.reached
    if reached is not None:
        came = (
            gets_in(reached)
            if reached.how == "gets in"
            else f"comes to the foundation: {reached_words(site, reached)}"
        )
        onto = "; from there it runs onto the neighbor's ground" if failure.onto_neighbor else ""
        return f" and {came}{onto}"
    if failure.onto_neighbor:
        return (
            f", keeps away from the foundations, and runs over {end.side} onto the neighbor's "
            "ground"
        )
    where = {
        "lot side": f"leaves the lot over {end.side}",
        "outlet": f"runs to the outlet '{end.name}'",
        "drain": f"runs into the drain '{end.name}'",
        "survey edge": "leaves the survey",
    }.get(end.kind, f"stands in {end.name}")
    return f", keeps away from the foundations and {where}"


def _runs_over(failure: Failure) -> str:
    """Where a full pit's water goes."""
    end = failure.end
    if failure.spreads:
        return "spreads over flat ground and stands there, away from the foundations"
    if end.kind == "lot side":
        return f"runs off over {end.side} of the lot ({end.neighbor})"
    if end.kind == "outlet":
        return f"runs to the outlet '{end.name}'"
    if end.kind == "drain":
        return f"runs to the drain '{end.name}'"
    if end.kind in ("low spot", "terminal basin"):
        return f"stands in {end.name or 'a shallow dip'}, away from the foundations"
    return "runs off the surveyed ground"
