"""What is wrong along each wall, in a homeowner's words with the numbers that decide it, and the
soil that walls want.

In: a site and a run of wall. Out: what follows the wall's name in its line.

In: runs of wall and the water that stands near them. Out: a line for each trouble of a wall.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import shapely

from runoff.foundation.grade import ROUNDING, Limits, needed_accuracy, shot_spacing, water_in_doubt
from runoff.foundation.model import Remark, SoilWedge, StandingWater, Station, Verdict, WallRun
from runoff.foundation.soil_fill import clearance_known, settles_by
from runoff.foundation.walls import WELLS, Wall, from_left, is_retaining, wall_words, walls_of
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.terrain.model import call_margin
from runoff.words.amounts import height, listed, run_length
from runoff.words.reasons import refusal_words
from runoff.words.water import standing_sentence

_CORNER = 0.01
_LEAST_TOLD_M = 0.0254 / 4


def soil_lines(site: Site, wedges: Sequence[SoilWedge]) -> list[str]:
    """A sentence for each stretch of wall; the caution that many of them share is told once."""
    lines = [soil_sentence(site, wedge, "Clearance not known.") for wedge in wedges]
    shared = any(_clearance_unknown(site, wedge) for wedge in wedges)
    return [*lines, clearance_caution(site)] if shared else lines


def soil_sentence(site: Site, wedge: SoilWedge, caution: str = "") -> str:
    """Say what soil to bring, how high and how far out, or why soil is not the answer.

    `caution` stands in place of `clearance_caution` where the clearance is not known.
    """
    shown, run = Shown.of(site), wedge.run
    where = f"{wall_words(run.wall_name)} of {run.building!r} {_stretch(site, run)}"
    if wedge.refused is not None:
        return (
            f"Soil must not be placed along {where}: {refusal_words(site, wedge.refused)}. "
            "It needs a swale or a drain instead."
        )
    if wedge.short_by_m > 0:
        return (
            f"Soil cannot correct {where}: it would stand {shown.length(wedge.short_by_m, 8)} "
            "higher than the siding, weeps, vents and sills there allow. It needs a swale or a "
            "drain instead."
        )
    sentence = (
        f"Bring {shown.volume_as_good(wedge.loose_m3, 0.0)} of soil, loose "
        f"({shown.volume_as_good(wedge.compacted_m3, 0.0)} compacted), along {where}: "
        f"up to {soil_height(site, wedge.height_m)} at the wall, running out "
        f"{shown.far(wedge.out_m)} from it.{_settling(site, wedge)}{_wells(site, run)}"
    )
    if not _clearance_unknown(site, wedge):
        return sentence
    return f"{sentence} {caution or clearance_caution(site)}"


def _clearance_unknown(site: Site, wedge: SoilWedge) -> bool:
    """Whether soil is placed where nothing says how high it may stand."""
    placed = wedge.refused is None and wedge.short_by_m <= 0
    return placed and not clearance_known(site, wedge.run)


def soil_height(site: Site, metres: float) -> str:
    """A height of soil as text, drawings and tables write it: to what a rake can do, 1/2 in.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> soil_height(SimpleNamespace(units="ft"), 0.157)
    '6 in'
    """
    return Shown.of(site).length(metres, 2)


def _settling(site: Site, wedge: SoilWedge) -> str:
    """To tamp it, and how much higher to leave it where that is more than a rake leaves."""
    higher = settles_by(site, wedge)
    if higher < _LEAST_TOLD_M:
        return " Tamp it."
    words = Shown.of(site).height(higher)
    share = 100 * site.rules["soil_settlement"]
    return (
        f" Tamp it, and leave it {words} higher than that, for it settles by about {share:.0f} %."
    )


def _wells(site: Site, run: WallRun) -> str:
    """What to do with wells that stand in the soil; empty where there are none."""
    names = [
        f"'{opening.name}'"
        for opening in site.openings
        if opening.kind in WELLS
        and (opening.building, opening.wall) == (run.building, run.wall)
        and opening.distance + opening.width / 2 > run.start_m
        and opening.distance - opening.width / 2 < run.end_m
    ]
    if not names:
        return ""
    return f" Raise the rim of {listed(names)} above the new ground first."


def clearance_caution(site: Site) -> str:
    """What to mind where nothing is known of what stands on the wall."""
    shown, rules = Shown.of(site), site.rules
    siding = shown.far(rules["siding_clearance"])
    brick = shown.far(rules["foundation_above_grade_veneer"])
    return (
        f"The clearance is not known: keep soil at least {siding} below siding and "
        f"{brick} below brick weeps, vents and sills; where that cannot be, it needs a swale or a "
        "drain instead."
    )


def _stretch(site: Site, run: WallRun) -> str:
    """Where the run lies on its wall, from the left corner as one faces it from outside."""
    walls = walls_of(site.buildings)
    wall = next(w for w in walls if (w.building, w.number) == (run.building, run.wall))
    start, end = from_left(wall, run.start_m, run.end_m)
    if start < _CORNER and end > wall.length - _CORNER:
        return "(all of it)"
    first = "0" if start < _CORNER else run_length(site, start)
    return f"from {first} to {run_length(site, end)} from its left corner"


def refusal_of(site: Site, wedge: SoilWedge) -> str:
    """Why soil must not be placed, as a clause; empty where it may."""
    return "" if wedge.refused is None else refusal_words(site, wedge.refused)


# A fall smaller than this over a whole profile is level ground, metres (1/16 in).
_LEVEL = 0.0016


def _the_house(site: Site) -> str:
    return "the house" if len(site.own_buildings) == 1 else "the wall"


def slopes_back(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall leans toward it, or dips and rises again."""
    worst, reach = run.worst, run_length(site, run.worst.reach_m)
    if worst.fall_m < 0 and worst.rise_m <= -worst.fall_m + _LEVEL:
        return (
            f"the ground leans toward {_the_house(site)} (slopes back): "
            f"it falls {height(site, worst.fall_m)} the wrong way over {reach}."
        )
    in_all = (
        f"though it falls {height(site, worst.fall_m)} over {reach} in all"
        if worst.fall_m > _LEVEL
        else f"and ends no lower than at the wall, {reach} out"
    )
    return (
        f"the ground dips near the wall and rises again (slopes back): it rises "
        f"{height(site, worst.rise_m)} above its low point, {in_all}."
    )


def too_flat(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall falls too little."""
    worst = run.worst
    if worst.fall_m < -_LEVEL:
        return (
            f"the ground falls too little for certain (too flat): as measured it falls "
            f"{height(site, worst.fall_m)} the wrong way over {run_length(site, worst.reach_m)}, "
            f"where {height(site, worst.required_m)} away from {_the_house(site)} are asked for; "
            "better heights would say whether it slopes back."
        )
    if worst.fall_m <= _LEVEL:
        return (
            f"the ground is level (too flat): no fall over {run_length(site, worst.reach_m)}, "
            f"where {height(site, worst.required_m)} are asked for."
        )
    return (
        f"the ground leans away from {_the_house(site)}, but not enough (too flat): "
        f"{height(site, worst.fall_m)} of fall over {run_length(site, worst.reach_m)}, "
        f"where {height(site, worst.required_m)} are asked for."
    )


_BY = {
    "lot line": "the lot line",
    "wall": "another wall",
    "corner": "the house's own corner",
    "survey": "the survey's edge",
    "": "what stands in the way",
}


def _cut_by(site: Site, station: Station) -> str:
    """What ends a profile, a retaining wall by its name."""
    if station.cut_by == "wall":
        end = shapely.Point(np.array(station.foot) + station.reach_m * np.array(station.outward))
        others = [b.outline for b in site.buildings]
        nearest = min((float(outline.distance(end)) for outline in others), default=np.inf)
        for step in site.break_lines:
            if is_retaining(step) and shapely.LineString(step.line).distance(end) < nearest:
                return f"the retaining wall '{step.name}'"
    return _BY[station.cut_by]


def cut_short(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall has no room for its fall."""
    worst = run.worst
    way = " the wrong way" if worst.fall_m < -_LEVEL else ""
    return (
        f"there is no room for the full grade (cut short: needs a drain or swale): "
        f"{_cut_by(site, worst)} is {run_length(site, worst.reach_m)} away, and the ground falls "
        f"{height(site, worst.fall_m)}{way} in that, where "
        f"{height(site, worst.required_m)} are asked for."
    )


def too_close(site: Site, run: WallRun) -> str:
    """How the ground before a run of wall may pass or fail."""
    worst = run.worst
    told = settle_words(site, run)
    settle = f" {told}" if told else ""
    limit = site.rules["rise_against_wall"]
    margin = call_margin(run.sigma_m)
    if worst.fall_m - worst.required_m >= margin and abs(worst.rise_m - limit) < margin:
        return (
            f"the heights are not good enough to say (too close to call): the ground rises "
            f"{height(site, worst.rise_m)} above its low point near the wall, where "
            f"{height(site, limit)} is the most that is let pass.{settle}"
        )
    if water_in_doubt(worst, Limits(limit, margin)):
        return (
            "the heights are not good enough to say (too close to call): as measured the storm's "
            f"water stands {height(site, worst.water_m)} deep against the wall, less than these "
            f"heights tell from none ({height(site, margin)}).{settle}"
        )
    way = "the wrong way " if worst.fall_m < 0 else ""
    return (
        f"the heights are not good enough to say (too close to call): "
        f"{height(site, worst.fall_m)} of fall {way}over {run_length(site, worst.reach_m)}, where "
        f"{height(site, worst.required_m)} are asked for.{settle}"
    )


def settle_words(site: Site, run: WallRun) -> str:
    """Which shots, and how good, would settle a close call; empty for any other verdict."""
    if np.isnan(run.settled_by_m):
        return ""
    shown, worst = Shown.of(site), run.worst
    walls = walls_of(site.buildings)
    wall = next(w for w in walls if (w.building, w.number) == (run.building, run.wall))
    near, far = "at the wall", f"{shown.far(worst.reach_m)} out"
    limits = Limits(site.rules["rise_against_wall"], call_margin(site.height_accuracy.sigma))
    if worst.rise_m - site.rules["rise_against_wall"] > ROUNDING:
        near, far = "at the low point near the wall", "at the highest point beyond it"
    if water_in_doubt(worst, limits):
        near, far = "at the wall", "where the water that stands there would spill"
    along, _ = from_left(wall, worst.along_m, worst.along_m)
    place = f"{shown.far(along)} along {wall_words(wall.name)} from its left corner"
    good = shown.fine(run.settled_by_m)
    if good.startswith("0 "):
        return (
            f"The ground {place} is at the limit itself: no level is good enough to settle it; "
            "give it a little more fall."
        )
    return (
        f"Two shots settle it: {place}, {near} and {far}, each good to {good} "
        "(standard deviation) or better."
    )


def remark_words(remark: Remark) -> str:
    """What is named beside a verdict.

    Examples
    --------
    >>> remark_words(Remark("falls to the wall", "drive", ("garage door", "left")))
    "The drive 'drive' falls to the garage door 'left'."
    """
    if remark.code == "traps water":
        return f"The walk '{remark.paving}' traps water against the wall."
    kind, name = remark.opening
    onto = f"{kind} '{name}'" if kind else "wall"
    return f"The drive '{remark.paving}' falls to the {onto}."


INDICATION = " Indication only."
"""Stands after what rests on heights that are too rough for a verdict."""

# The worst first; ground that drains away has no line.
_TROUBLES: tuple[Verdict, ...] = (
    "holds water",
    "slopes back",
    "too flat",
    "cut short: needs a drain or swale",
    "too close to call",
    "not surveyed",
)
_IT: dict[Verdict, str] = {
    "slopes back": "it slopes back",
    "too flat": "it is too flat",
    "cut short: needs a drain or swale": "there is no room for the full grade",
    "too close to call": "it is too close to call",
    "not surveyed": "it is not surveyed",
}
# More stretches of one wall than this are counted, not listed.
_MOST_STRETCHES = 3

# Metres from the left corner of a wall.
_Stretch = tuple[float, float]


@dataclass(frozen=True)
class WallLine:
    """One trouble of one wall: `bad` is metres, greater is worse; `text` is for a homeowner."""

    verdict: Verdict
    bad: float
    text: str
    runs: tuple[WallRun, ...]


def wall_lines(
    site: Site, runs: Sequence[WallRun], standing: Sequence[StandingWater]
) -> list[WallLine]:
    """Write a line for each trouble of each wall.

    Runs of one wall with one verdict share a line, which tells of the worst. A trouble that takes
    less of the wall than the shots are apart is told in the line of the worse one on the same wall.
    A pond is told with the wall that it wets most. Walls of one building whose grade cannot be told
    share a line.

    Parameters
    ----------
    site : Site
    runs : sequence of WallRun
    standing : sequence of StandingWater

    Returns
    -------
    list of WallLine, wall by wall

    Examples
    --------
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> wall_lines(read_site(sample_folder() / "site.toml"), (), ())
    []
    """
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    told_at = ponds_by_wall(runs, standing)
    lines: list[tuple[_Page, WallLine]] = []
    by_wall = sorted(runs, key=lambda run: (run.building, run.wall))
    for key, members in groupby(by_wall, key=lambda run: (run.building, run.wall)):
        page = _Page(site, walls[key], told_at.get(key, ()), standing)
        lines += [(page, line) for line in page.lines(list(members))]
    return _shared(site, lines)


def ponds_by_wall(
    runs: Sequence[WallRun], standing: Sequence[StandingWater]
) -> Mapping[tuple[str, int], list[StandingWater]]:
    """The ponds that walls tell of, each by that wall which it wets most of those that hold water.

    A pond that wets no such wall is in none.
    """
    wet = {(run.building, run.wall) for run in runs if run.verdict == "holds water"}
    told: dict[tuple[str, int], list[StandingWater]] = {}
    for water in standing:
        there = [wetted for wetted in water.walls if (wetted.building, wetted.wall) in wet]
        if there:
            most = max(there, key=lambda wetted: wetted.length_m)
            told.setdefault((most.building, most.wall), []).append(water)
    return told


@dataclass(frozen=True)
class _Page:
    """What is said of one wall: `told` are the ponds that it tells of, of all that `stand`."""

    site: Site
    wall: Wall
    told: Sequence[StandingWater]
    stand: Sequence[StandingWater]

    def lines(self, runs: list[WallRun]) -> Iterator[WallLine]:
        kinds = {v: [r for r in runs if r.verdict == v] for v in _TROUBLES}
        kinds = {verdict: same for verdict, same in kinds.items() if same}
        least = shot_spacing(self.site)
        small = {
            verdict: same
            for verdict, same in list(kinds.items())[1:]
            if sum(run.end_m - run.start_m for run in same) < least
        }
        for place, (verdict, same) in enumerate(kinds.items()):
            if verdict not in small:
                yield self._line(verdict, same, {} if place else small)

    def _line(
        self, verdict: Verdict, runs: list[WallRun], small: Mapping[Verdict, list[WallRun]]
    ) -> WallLine:
        worst = max(runs, key=_badness)
        said: dict[str, Callable[[], str]] = {
            "holds water": self._holds_water,
            "slopes back": lambda: slopes_back(self.site, worst),
            "too flat": lambda: too_flat(self.site, worst),
            "cut short: needs a drain or swale": lambda: cut_short(self.site, worst),
            "too close to call": lambda: too_close(self.site, worst),
            "not surveyed": lambda: _UNTOLD["not surveyed"],
        }
        everyone = [*runs, *(run for same in small.values() for run in same)]
        beside = {v: [p for run in same for p in sure_parts(run)] for v, same in small.items()}
        close = [part for run in everyone for part in close_calls(run)]
        beside["too close to call"] = close + beside.get("too close to call", [])
        also = "".join(f" {self._from(beside[v])} {_IT[v]}." for v in _TROUBLES if beside.get(v))
        remarks = dict.fromkeys(remark_words(each) for run in everyone for each in run.remarks)
        sure = INDICATION if worst.indication else ""
        text = (
            f"{self._where(runs)}: {said[verdict]()}{also}{''.join(f' {r}' for r in remarks)}{sure}"
        )
        deep = max((w.storm_depth_m for w in self.told), default=0.0)
        bad = deep if verdict == "holds water" else _badness(worst)
        return WallLine(verdict, bad, text, tuple(runs))

    def _where(self, runs: Sequence[WallRun]) -> str:
        """The runs' places as someone who faces the wall from outside would say them."""
        name = wall_words(self.wall.name).removeprefix("the ")
        if len(self.site.own_buildings) > 1:
            name = f"{name} of '{self.wall.building}'"
        name = f"{name[0].upper()}{name[1:]}"
        if self._is_whole(runs):
            return f"{name}, all of it"
        return f"{name}, {self._places(runs)} from its left corner"

    def place_of(self, runs: Sequence[WallRun]) -> str:
        """The runs' wall by its name, and their places on it."""
        whole = self._is_whole(runs)
        return f"{self.wall.name}{'' if whole else f' ({self._places(runs)})'}"

    def _is_whole(self, runs: Sequence[WallRun]) -> bool:
        stretches = self._stretches([(run.start_m, run.end_m) for run in runs])
        start, end = stretches[0]
        return len(stretches) == 1 and start < _CORNER and end > self.wall.length - _CORNER

    def _places(self, runs: Sequence[WallRun]) -> str:
        return self._said([(run.start_m, run.end_m) for run in runs])

    def _from(self, parts: Sequence[_Stretch]) -> str:
        words = self._said(parts)
        return f"In{words[2:]}" if words.startswith("in ") else f"From {words}"

    def _said(self, parts: Sequence[_Stretch]) -> str:
        stretches = self._stretches(parts)
        if len(stretches) > _MOST_STRETCHES:
            first, last = self._place(stretches[0][0]), self._place(stretches[-1][1])
            return f"in {len(stretches)} places from {first} to {last}"
        return listed([f"{self._place(start)} to {self._place(end)}" for start, end in stretches])

    def _stretches(self, parts: Sequence[_Stretch]) -> list[_Stretch]:
        """Stretches given from the wall's first corner: from its left one, in order, joined."""
        joined: list[_Stretch] = []
        for start, end in sorted(from_left(self.wall, *part) for part in parts):
            if joined and start < joined[-1][1] + _CORNER:
                joined[-1] = (joined[-1][0], end)
            else:
                joined.append((start, end))
        return joined

    def _place(self, along: float) -> str:
        return "0" if along < _CORNER else run_length(self.site, along)

    def _holds_water(self) -> str:
        first = "the storm's water stands against the wall (holds water)"
        if self.told:
            ponds = [standing_sentence(self.site, water) for water in self.told]
            return " ".join([f"{first}.", *ponds])
        mine = [
            f"{water.low_spot}, {run_length(self.site, wetted.length_m)} of the wall"
            for water in self.stand
            for wetted in water.walls
            if (wetted.building, wetted.wall) == (self.wall.building, self.wall.number)
        ]
        return f"{first}: {listed(mine)}." if mine else f"{first}."


# What is said of several walls at once where nothing can be said of any.
_UNTOLD: dict[Verdict, str] = {
    "too close to call": "the heights are not good enough to say (too close to call).",
    "not surveyed": "the ground was not surveyed here, or not closely enough to judge.",
}


def _shared(site: Site, lines: Sequence[tuple[_Page, WallLine]]) -> list[WallLine]:
    """Each line by itself, but one for all walls of a building whose grade cannot be told."""
    kept: list[WallLine] = []
    untold: dict[tuple[Verdict, str], list[tuple[_Page, WallLine]]] = {}
    for page, line in lines:
        if line.verdict in _UNTOLD and not any(run.remarks for run in line.runs):
            untold.setdefault((line.verdict, page.wall.building), []).append((page, line))
        else:
            kept.append(line)
    for (verdict, building), mine in untold.items():
        if len(mine) == 1:
            kept.append(mine[0][1])
            continue
        runs = tuple(run for _, line in mine for run in line.runs)
        of = f" of '{building}'" if len(site.own_buildings) > 1 else ""
        places = listed([page.place_of(line.runs) for page, line in mine])
        sure = INDICATION if runs[0].indication else ""
        settle = _settle_all(site, runs) if verdict == "too close to call" else ""
        parts = " (places from the left corner)" if "(" in places else ""
        text = f"{len(mine)} walls{of}: {_UNTOLD[verdict]} They are {places}{parts}.{settle}{sure}"
        kept.append(WallLine(verdict, max(line.bad for _, line in mine), text, runs))
    return kept


def _settle_all(site: Site, runs: Sequence[WallRun]) -> str:
    """Which shots, and how good, would settle the close calls of several walls."""
    fine = Shown.of(site).fine
    far = run_length(site, max(run.worst.reach_m for run in runs))
    needed = [needed_accuracy(site, run.worst) for run in runs]
    rises = any(run.worst.rise_m > site.rules["rise_against_wall"] for run in runs)
    where = f"at the wall and {far} out{', or at the dip and the rise beyond it' if rises else ''}"
    shots = f" Two shots at each, {where}, settle"
    if not fine(min(needed)).startswith("0 "):
        return f"{shots} all of them if good to {fine(min(needed))} (standard deviation)."
    if max(needed) == 0:
        return " No level is good enough to settle them; a little more fall would."
    return (
        f"{shots} the plainest if good to {fine(max(*needed, 0.0254 / 16))} (standard deviation); "
        "what lies at the limit itself wants a little more fall."
    )


def close_calls(run: WallRun) -> list[_Stretch]:
    """The parts of a failing run that are too close to call, metres from the first corner."""
    return [] if run.verdict == "too close to call" else _parts(run, close=True)


def sure_parts(run: WallRun) -> list[_Stretch]:
    """The parts of a run that its verdict holds for by itself, metres from the first corner."""
    whole = run.verdict == "too close to call" or not close_calls(run)
    return [(run.start_m, run.end_m)] if whole else _parts(run, close=False)


def _parts(run: WallRun, close: bool) -> list[_Stretch]:
    width = (run.end_m - run.start_m) / max(len(run.stations), 1)
    parts, place = [], 0
    for is_close, members in groupby(run.stations, key=_is_close):
        size = len(list(members))
        if is_close == close:
            parts.append((run.start_m + place * width, run.start_m + (place + size) * width))
        place += size
    return parts


def _is_close(station: Station) -> bool:
    return station.verdict == "too close to call"


def _badness(run: WallRun) -> float:
    """How much fall a run lacks, metres; its length where that is not known."""
    lacks = run.worst.required_m - run.worst.fall_m
    return run.end_m - run.start_m if np.isnan(lacks) else lacks
