"""The words that pictures and texts share, so that they cannot disagree."""

from __future__ import annotations

from runoff.flow.model import DownspoutAnswer, PathEnd

_BEYOND = {
    "street": "into the street",
    "alley": "into the alley",
    "neighbor": "onto the neighbor",
    "open ground": "onto open ground",
    "unknown": "and whose ground lies beyond is not known",
}


def water_phrase(answer: DownspoutAnswer) -> str:
    """Where a downspout's water ends and what it crosses on its way, in a few words."""
    names = " and ".join(f"{each.kind} '{each.name}'" for each in answer.crosses)
    crosses = f", crossing {names} (ice)" if names else ""
    return f"{end_phrase(answer.end)}{crosses}"


def end_phrase(end: PathEnd) -> str:
    """Where water ends, in a few words.

    Examples
    --------
    >>> end_phrase(PathEnd("lot side", "front", 0.0, 0.0, "street"))
    'over the front side, into the street'
    >>> end_phrase(PathEnd("low spot", "low spot 1", 0.0, 0.0))
    'stays in low spot 1'
    """
    if end.kind == "lot side":
        return f"over {end.side}, {_BEYOND.get(end.neighbor, 'off the lot')}"
    if end.kind == "survey edge":
        return "leaves the survey"
    if end.kind in ("low spot", "terminal basin"):
        return f"stays in {end.name or 'ground with no way out'}"
    return f"into the {end.kind} {end.name}" if end.name != end.kind else f"into the {end.name}"
