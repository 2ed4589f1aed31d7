"""Gutters, outlets and leaders in words: what they are called, what was assumed of them, what
carries where they do not, and how a gutter is joined and hung.

In: the records of the roof's drainage, and the units that they are shown in.
"""

from __future__ import annotations

from runoff.quantities import Shown
from runoff.roof.drainage import (
    Assumption,
    GutterAtFlow,
    GutterChoice,
    LeaderAtFlow,
    OutletAtFlow,
    RoofDrainage,
)
from runoff.roof.takeoff import GutterTakeOff, RunTakeOff
from runoff.site.model import Leader, Site

ALLOWANCES = {
    "none": "plan area, nothing for wind",
    "pitch factor": "plan area times a home guide's factor for the pitch",
    "half tangent": "plan area x (1 + tan(pitch) / 2), Approved Document H",
    "half rise": "plan area and half of the roof's rise along its eave, EN 12056-3",
    "half wall": "plan area and half of the wall above",
}
"""What is added to a roof's plan area for wind-blown rain, by its code."""


def leader_name(leader: Leader, system: str = "us") -> str:
    """A leader by its size and shape.

    Examples
    --------
    >>> leader_name(Leader("round", 0.0762, 0.0762))
    '3 in round'
    """
    width, depth = (Shown(system).fine(side) for side in (leader.width, leader.depth))
    return f"{width} round" if leader.shape == "round" else f"{width} x {depth} rectangular"


def choice_words(choice: GutterChoice) -> str:
    """Whether the gutter asked about is enough, and what is where it is not.

    Examples
    --------
    >>> from runoff.roof import choose_gutter, sizes_of
    >>> choice_words(choose_gutter(0.002, sizes_of("half-round")))
    '5 in half-round is not enough; 6 in half-round or one more downspout is.'
    >>> choice_words(choose_gutter(0.0013, sizes_of("half-round", metric=True)[:1]))
    '100 mm half-round is not enough; one more downspout is.'
    """
    asked, largest = choice.asked.name, choice.largest.name
    if choice.gutter is None:
        more = "it" if asked == largest else largest
        return f"{asked} is not enough, nor is {more} with one more downspout."
    if not choice.remedies:
        return f"{asked} is enough."
    ways = []
    for gutter, downspouts in choice.remedies:
        if downspouts == 1:
            ways.append(gutter.name)
        elif gutter == choice.asked:
            ways.append("one more downspout")
        else:
            ways.append(f"{gutter.name} with one more downspout")
    return f"{asked} is not enough; {' or '.join(ways)} is."


def remedy_words(shown: Shown, part: GutterAtFlow | OutletAtFlow | LeaderAtFlow) -> str:
    """What to do about a part that is too small; empty where it carries."""
    if part.carries:
        return ""
    if isinstance(part, GutterAtFlow):
        return f"Gutter '{part.run.name}': {choice_words(part.choice)}"
    if isinstance(part, OutletAtFlow):
        larger = part.larger and f"one of {leader_name(part.larger, shown.system)}"
        return f"The outlet is not enough; {larger or 'a second one or one more downspout'} is."
    larger = part.larger and leader_name(part.larger, shown.system)
    name = leader_name(part.leader, shown.system)
    return f"A {name} leader is not enough; {larger or 'one more downspout'} is."


def remedies(site: Site, drainage: RoofDrainage) -> list[str]:
    """What to do about each part of a downspout that is too small, a sentence each."""
    shown = Shown.of(site)
    return [remedy_words(shown, part) for part in drainage.parts if not part.carries]


def assumption_words(shown: Shown, assumed: Assumption) -> str:
    """What was taken of a roof's drainage for want of better.

    Examples
    --------
    >>> assumption_words(Shown("us"), Assumption("one outlet"))
    'The gutters are taken to meet in one outlet.'
    """
    if assumed.section is not None:
        sizes = (assumed.section.top_m, assumed.section.bottom_m, assumed.section.depth_m)
        top, sole, depth = map(shown.fine, sizes)
        return (
            f"A {assumed.section.name} gutter is taken as {top} wide at the brim, {sole} at the "
            f"sole and {depth} deep."
        )
    if assumed.leader is not None:
        said = f"The leader's size is not given: {leader_name(assumed.leader, shown.system)} is"
        if assumed.usual is None:
            return f"{said} assumed."
        usual = leader_name(assumed.usual, shown.system)
        return f"{said} assumed; one of {usual}, as is common, carries less."
    if assumed.usual_gutter is not None:
        return (
            f"The gutter of roof '{assumed.roof}' is not given and is not checked; for what it "
            f"brings to this downspout, {choice_words(assumed.usual_gutter)}"
        )
    return {
        "one outlet": "The gutters are taken to meet in one outlet.",
        "outlet as the leader": "The outlet is taken to be of the leader's size.",
        "outlet as the sole": "The outlet is taken to be as wide as the gutter's sole.",
        "equal area": "The rectangular leader is reckoned as the round one of equal area.",
        "no pitch": (
            f"The pitch of roof '{assumed.roof}' is not known: nothing is added for wind."
        ),
        "all by each gutter": (
            f"Roof '{assumed.roof}' has several gutters, and how much each brings to this "
            "downspout is not known: each is checked with all of it."
        ),
    }[assumed.code]


def laps_words(shown: Shown, taken: GutterTakeOff) -> str:
    """How the pieces of a gutter go into one another."""
    inside = "every fitting goes inside the one below it"
    lap, both = shown.fine(taken.lap_m), taken.outlet_end == "both ends"
    falls = f"The run falls both ways from the middle, in two half-runs that lap {lap} there. "
    said = falls if both else ""
    if len(taken.stock_m) > taken.outlets:
        toward = "its outlet" if both else f"the outlet at the {taken.outlet_end} end"
        return (
            f"{said}Each piece laps {lap} into the next one downstream and lies inside it, toward "
            f"{toward}; {inside}."
        )
    return f"{said}{'Each half-run is one piece' if both else 'One piece, no lap'}; {inside}."


def end_words(one: RunTakeOff) -> list[str]:
    """That the end at which a gutter has its outlet was assumed, where it was."""
    if not one.end_assumed:
        return []
    both = one.take_off.outlet_end == "both ends"
    where = "at both ends" if both else "at the right end"
    return [f"It is not given where gutter '{one.run.name}' has its outlet: {where} is assumed."]


def fall_note(site: Site, one: RunTakeOff) -> str:
    """How much more fall a code asks for than the run is hung to; empty where it does not."""
    if one.fall_asked_m <= one.take_off.fall_m:
        return ""
    overridden = "gutter_fall" in site.rules.overridden
    source = "the site file" if overridden else site.rules.rule("gutter_fall").source
    shown = Shown.of(site)
    return (
        f"It is hung to fall {shown.fine(one.take_off.fall_m)}; the rule gutter_fall ({source}) "
        f"asks for {shown.fine(one.fall_asked_m)}."
    )
