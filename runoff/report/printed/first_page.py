"""The first page: what is wrong, what to do at each downspout, and whom to ask, for a homeowner.

In: findings, and the plan where there is one. Out: blocks that fit on one page. The whole of it
stands in the chapters behind; here long lists end early and say so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runoff.discharge.ways import Recommendation
from runoff.foundation.grade import WET
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import Block, Bullets, Heading, Notice, Pairs, Step, Steps, Strong
from runoff.report.findings_full import NOTHING_FOUND, ROUGH, WITHOUT_HEIGHTS, without_heights
from runoff.report.names import stop, way_words
from runoff.report.plan_attention import beyond_the_ways
from runoff.report.plan_full import NO_DOWNSPOUT, sentence
from runoff.report.printed.observations import NOTHING_GIVEN, Observation
from runoff.report.printed.title import title_rows
from runoff.site.model import Site
from runoff.words.attention import headlines_of
from runoff.words.designs import failure_words


@dataclass(frozen=True)
class Room:
    """How much a page holds: so many lines of each list, and characters of a line.

    A sentence may hold the user's own long names.
    """

    headlines: int
    downspouts: int
    others: int
    longest: int

    def cut(self, line: str, ending: str = "") -> str:
        """A line that is no longer than there is room for; its ending stays.

        What is left out is whole sentences where that leaves enough, else whole words.

        Examples
        --------
        >>> room = Room(1, 1, 1, 40)
        >>> room.cut("Nothing works. A line with bends does, once it is drawn.")
        'Nothing works. ...'
        >>> room.cut("The first of these has no end. The second.", 'See "Walls".')
        'The first of these has no ... See "Walls".'
        """
        if len(whole := f"{line} {ending}".strip()) <= self.longest:
            return whole
        kept = line[: self.longest - len(ending)]
        sentence_end, word_end = kept.rfind(". ") + 1, kept.rfind(" ")
        least = len(kept) // 3
        end = next((end for end in (sentence_end, word_end) if end > least), len(kept))
        return f"{kept[:end].rstrip()} ... {ending}".strip()


# The first with which all fits on one page is printed.
ROOMS = (Room(6, 12, 5, 420), Room(4, 10, 3, 220), Room(2, 8, 1, 160))
NO_BUILDING = "No building is given."
_CHAPTERS, _WALLS, _FOUND = "Downspout by downspout", "Walls and openings", "What was found"


def plan_page(findings: Findings, plan: Plan, room: Room) -> list[Block]:
    """The verdicts of a plan."""
    return [
        Heading(f"{room.cut(findings.site.name)}: where its roof water should go", 1),
        _title(findings, room),
        *_warnings(findings),
        Heading("In short"),
        Strong(_in_short(findings, plan)),
        *_listed("At the house now", _house(findings), room, room.headlines, _WALLS),
        *_to_do(plan, room),
        *_listed("Needs attention too", beyond_the_ways(plan), room, room.others, _WALLS),
    ]


def inspection_page(findings: Findings, observed: Sequence[Observation], room: Room) -> list[Block]:
    """The verdicts of an inspection."""
    act = [each for each in observed if each.action]
    counted = [
        (name, [each for each in act if each.action == name])
        for name in ("correct", "refer", "monitor")
    ]
    told = ", ".join(f"{len(found)} to {name}" for name, found in counted if found)
    blocks: list[Block] = [
        Heading(f"{room.cut(findings.site.name)}: inspection of the ground's drainage", 1),
        _title(findings, room),
        *_warnings(findings),
        Heading("In short"),
        Strong(_looked_at(len(observed), told)),
    ]
    for name, found in counted:
        lines = [f"{each.where}: {each.verdict}. {each.measured}" for each in found]
        blocks += _listed(_ACTIONS[name], lines, room, room.downspouts, _FOUND)
    return blocks


def _looked_at(count: int, told: str) -> str:
    if count == 0:
        return NOTHING_GIVEN
    things = "1 thing" if count == 1 else f"{count} things"
    return f"Of {things} looked at, {told or 'none needs correction'}."


_ACTIONS = {"correct": "To correct", "refer": "To refer", "monitor": "To monitor"}


def _title(findings: Findings, room: Room) -> Block:
    return Pairs([(what, room.cut(told)) for what, told in title_rows(findings)])


def _warnings(findings: Findings) -> list[Block]:
    told: list[Block] = []
    if findings.second_engine.agrees is False:
        told.append(Notice(findings.second_engine.note))
    if findings.terrain.accuracy.indication_only:
        told.append(Notice(ROUGH))
    holes = without_heights(findings)
    if holes:
        more = f" {len(holes) - 1} more: see Method, limits and rules." if len(holes) > 1 else ""
        told.append(Notice(f"{WITHOUT_HEIGHTS}: {holes[0]}{more}"))
    return told


def _house(findings: Findings) -> list[str]:
    if not findings.site.own_buildings:
        return [NO_BUILDING]
    return list(headlines_of(findings)) or [NOTHING_FOUND]


def _in_short(findings: Findings, plan: Plan) -> str:
    """One or two sentences: whether anything is wrong, what is to be built, what it brings."""
    shown, proof = Shown.of(plan.site), plan.proof
    build = [one for one in plan.recommendations if one.chosen.kind not in ("as it is", "refer")]
    refer = [one for one in plan.recommendations if one.chosen.kind == "refer"]
    told = []
    if not plan.recommendations:
        told.append(NO_DOWNSPOUT)
    elif not build and not refer:
        told.append("Every downspout's water may be left as it is.")
    if build:
        told.append(f"Something is to be built at {_of(build, plan)}.")
    if refer:
        told.append(
            f"Nothing that was tried takes the water of {_of(refer, plan)}: draw a route for a "
            "line with bends, or ask."
        )
    rough = findings.terrain.accuracy.indication_only
    storm = "In the storm, as far as these heights tell," if rough else "In the storm"
    if proof.wet_wall_before_m > 0:
        after = shown.far(proof.wet_wall_after_m) if proof.wet_wall_after_m > 0 else "none"
        told.append(
            f"{storm} water stands along {shown.far(proof.wet_wall_before_m)} of wall now, "
            f"and along {after} with all of it built."
        )
    elif any(each.water_m > WET for run in findings.at_the_wall.runs for each in run.stations):
        told.append("Whether water stands against a wall these heights cannot tell.")
    elif plan.site.own_buildings:
        told.append(f"{storm} no water stands against a wall.")
    return " ".join(told)


def _of(some: Sequence[Recommendation], plan: Plan) -> str:
    whole = len(plan.recommendations)
    return f"{len(some)} of {whole} downspouts" if whole > 1 else "the one downspout"


def _to_do(plan: Plan, room: Room) -> list[Block]:
    if not plan.recommendations:
        return []
    shown = plan.recommendations[: room.downspouts]
    items: list[Step] = []
    told: dict[str, int] = {}
    for number, one in enumerate(shown, start=1):
        lines = _lines(plan.site, one, room)
        first = told.setdefault(lines[0], number)
        if one.chosen.kind == "refer" and first < number:
            lines = [f"As for number {first}."]
        items.append(Step(f"{room.cut(one.downspout)}: {way_words(one.chosen)}", lines))
    blocks: list[Block] = [Heading("What to do with each downspout's water"), Steps(items)]
    left = len(plan.recommendations) - len(shown)
    return [*blocks, Bullets([_more(left, _CHAPTERS)])] if left else blocks


def _lines(site: Site, one: Recommendation, room: Room) -> list[str]:
    minds = [failure_words(site, each) for each in one.chosen.failures if not each.is_safe]
    if one.chosen.kind == "refer":
        return [room.cut(stop(one.why), f'What is left, and whom to ask: see "{_CHAPTERS}".')]
    asks = [f"Ask first: {who}" for who in one.chosen.asks]
    return [
        room.cut(line)
        for line in [sentence(site, one), *(f"Mind: {told}" for told in minds), *asks]
    ]


def _listed(title: str, lines: Sequence[str], room: Room, most: int, where: str) -> list[Block]:
    """The first lines under a heading, and how many more there are and where."""
    if not lines:
        return []
    kept = [room.cut(line) for line in lines[:most]]
    if len(lines) > most:
        kept.append(_more(len(lines) - most, where))
    return [Heading(title), Bullets(kept)]


def _more(count: int, where: str) -> str:
    return f'And {count} more: see "{where}".'
