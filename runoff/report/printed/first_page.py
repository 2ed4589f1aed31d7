"""The first page: what is wrong, what to do at each downspout, and whom to ask, for a homeowner.

In: findings, and the plan where there is one. Out: blocks that fit on one page. The whole of it
stands in the chapters behind; here long lists end early and say so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runoff.discharge.ways import Recommendation
from runoff.foundation.grade import WET
from runoff.foundation.model import SoilWedge
from runoff.foundation.walls import wall_words
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.answer import wrong_now
from runoff.report.blocks import (
    Beside,
    Block,
    Bullets,
    Heading,
    Notice,
    Pairs,
    Paragraph,
    Step,
    Steps,
    Strong,
)
from runoff.report.drawings.all import HALF, soil_jobs
from runoff.report.findings_full import NOTHING_FOUND, ROUGH, WITHOUT_HEIGHTS, without_heights
from runoff.report.names import stop, way_words
from runoff.report.plan_answer import left_wrong, way_in_brief
from runoff.report.plan_full import NO_DOWNSPOUT
from runoff.report.printed.jobs import BEFORE_DIGGING, Drawn
from runoff.report.printed.observations import NOTHING_GIVEN, Observation, survey_words, title_rows
from runoff.site.model import Site
from runoff.words.amounts import listed
from runoff.words.attention import engines_note
from runoff.words.choices import ask_words, why_chosen
from runoff.words.walls import soil_height


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
ROOMS = (Room(8, 12, 8, 420), Room(6, 10, 4, 220), Room(3, 8, 2, 160))
NO_BUILDING = "No building is given."
_CHAPTERS, _WALLS, _FOUND = "Why these ways", "What was found", "What was found"
_METHOD = 'see "Method, limits and rules"'


def plan_page(findings: Findings, plan: Plan, room: Room, drawn: Drawn) -> list[Block]:
    """What is wrong, what to do, a map of it, and what to mind."""
    answer: list[Block] = [
        Heading("In short"),
        Strong(_in_short(findings, plan)),
        *_to_do(plan, room),
    ]
    small = drawn.show("small plan")
    return [
        Heading(f"{room.cut(findings.site.name)}: where its roof water should go", 1),
        Paragraph(room.cut(_about(findings))),
        *_warnings(findings),
        *([Beside(small, answer, HALF)] if small else answer),
        *_listed("What is wrong now", _house(findings), room, room.headlines, _WALLS),
        *_listed("What stays wrong", left_wrong(plan, _METHOD), room, room.others, _WALLS),
        *([Notice(BEFORE_DIGGING)] if plan.builds else []),
    ]


def _about(findings: Findings) -> str:
    """Where, when and by whom it was surveyed, on what heights, and which storm was looked at."""
    site = findings.site
    known = [site.address, f"surveyed {site.date}" if site.date else "day of the survey not noted"]
    known += [f"by {site.observer}" if site.observer else "", survey_words(findings)]
    storm = f"storm looked at: {Shown.of(site).rain(site.storm.depth)} of rain"
    return stop("; ".join(filter(None, [*known, storm])))


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
        Pairs([(what, room.cut(told)) for what, told in title_rows(findings)]),
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


def _warnings(findings: Findings) -> list[Block]:
    told: list[Block] = []
    if findings.second_engine.agrees is False:
        told.append(Notice(engines_note(findings.second_engine)))
    if findings.terrain.accuracy.indication_only:
        told.append(Notice(ROUGH))
    holes = without_heights(findings)
    if holes:
        more = f" {len(holes) - 1} more: see Method, limits and rules." if len(holes) > 1 else ""
        told.append(Notice(f"{WITHOUT_HEIGHTS}: {holes[0]}{more}"))
    return told


def _house(findings: Findings) -> list[str]:
    told = wrong_now(findings, f'see "{_WALLS}"', _METHOD)
    if not findings.site.own_buildings:
        return [NO_BUILDING, *told]
    return told or [NOTHING_FOUND]


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
    if len(shown) == len(plan.recommendations):
        items += [
            Step(f"{building.name}: soil along its walls", [_soil(plan.site, wedges)])
            for building, wedges in soil_jobs(plan)
        ]
    blocks: list[Block] = [Heading("What to do, by the numbers of the jobs"), Steps(items)]
    left = len(plan.recommendations) - len(shown)
    return [*blocks, Bullets([_more(left, _CHAPTERS)])] if left else blocks


def _soil(site: Site, wedges: Sequence[SoilWedge]) -> str:
    """How much soil, and along which walls."""
    placed = [wedge for wedge in wedges if wedge.loose_m3 > 0]
    walls = listed(list(dict.fromkeys(wall_words(wedge.run.wall_name) for wedge in placed)))
    loose = Shown.of(site).found_volume(sum(wedge.loose_m3 for wedge in placed))
    return f"Bring {loose} of soil, loose, along {walls}, up to " + (
        f"{soil_height(site, max(wedge.height_m for wedge in placed))} deep at the wall."
    )


def _lines(site: Site, one: Recommendation, room: Room) -> list[str]:
    """What is built, with its price where there is one, and whom to ask first."""
    if one.chosen.kind == "refer":
        return [
            room.cut(
                stop(why_chosen(site, one)),
                f'What is left, and whom to ask: see "{_CHAPTERS}".',
            )
        ]
    _, brief = way_in_brief(site, one)
    asks = [f"Ask first: {who}" for who in ask_words(one.chosen.asks)]
    return [room.cut(line) for line in [stop(brief), *map(stop, asks)]]


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
