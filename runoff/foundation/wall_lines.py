"""What is wrong along each wall, in a homeowner's words, the trade's term in parentheses.

In: runs of wall and the water that stands near them. Out: a line for each trouble of a wall.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from runoff.foundation.grade import call_margin
from runoff.foundation.model import StandingWater, Station, Verdict, WallRun
from runoff.foundation.runs import shot_spacing
from runoff.foundation.walls import Wall, wall_words, walls_of
from runoff.foundation.wording import from_left, height, listed, run_length
from runoff.site.model import Site

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
# A fall smaller than this over a whole profile is level ground, metres (1/16 in).
_LEVEL = 0.0016
_CORNER = 0.01

# Metres from the left corner of a wall.
_Stretch = tuple[float, float]


@dataclass(frozen=True)
class WallLine:
    """One trouble of one wall: `bad` is metres, greater is worse; `text` is for a homeowner."""

    verdict: Verdict
    bad: float
    text: str


def wall_lines(
    site: Site, runs: Sequence[WallRun], standing: Sequence[StandingWater]
) -> list[WallLine]:
    """Write a line for each trouble of each wall.

    Runs of one wall with one verdict share a line, which tells of the worst. A trouble that takes
    less of the wall than the shots are apart is told in the line of the worse one on the same wall.
    A pond is told with the wall that it wets most.

    Parameters
    ----------
    site : Site
    runs : sequence of WallRun
    standing : sequence of StandingWater

    Returns
    -------
    list of WallLine, wall by wall
    """
    walls = {(wall.building, wall.number): wall for wall in walls_of(site.buildings)}
    told_at = ponds_by_wall(runs, standing)
    lines: list[WallLine] = []
    by_wall = sorted(runs, key=lambda run: (run.building, run.wall))
    for key, members in groupby(by_wall, key=lambda run: (run.building, run.wall)):
        page = _Page(site, walls[key], told_at.get(key, ()), standing)
        lines += page.lines(list(members))
    return lines


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
            most = max(there, key=lambda wetted: wetted.length)
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
            if sum(run.end - run.start for run in same) < least
        }
        for place, (verdict, same) in enumerate(kinds.items()):
            if verdict not in small:
                yield self._line(verdict, same, {} if place else small)

    def _line(
        self, verdict: Verdict, runs: list[WallRun], small: Mapping[Verdict, list[WallRun]]
    ) -> WallLine:
        worst = max(runs, key=_badness)
        said = {
            "holds water": self._holds_water,
            "slopes back": lambda: _slopes_back(self.site, worst),
            "too flat": lambda: _too_flat(self.site, worst),
            "cut short: needs a drain or swale": lambda: _cut_short(self.site, worst),
            "too close to call": lambda: _too_close(self.site, worst),
            "not surveyed": lambda: "the ground was not surveyed here (not surveyed).",
        }[verdict]()
        everyone = [*runs, *(run for same in small.values() for run in same)]
        beside = {v: [(r.start, r.end) for r in same] for v, same in small.items()}
        close = [part for run in everyone for part in close_calls(run)]
        beside["too close to call"] = close + beside.get("too close to call", [])
        also = "".join(f" {self._from(beside[v])} {_IT[v]}." for v in _TROUBLES if beside.get(v))
        remarks = dict.fromkeys(remark for run in everyone for remark in run.remarks)
        sure = INDICATION if worst.indication else ""
        text = f"{self._where(runs)}: {said}{also}{''.join(f' {r}' for r in remarks)}{sure}"
        deep = max((w.storm_depth for w in self.told), default=0.0)
        return WallLine(verdict, deep if verdict == "holds water" else _badness(worst), text)

    def _where(self, runs: Sequence[WallRun]) -> str:
        """The runs' places as someone who faces the wall from outside would say them."""
        name = wall_words(self.wall.name).removeprefix("the ")
        if len(self.site.buildings) > 1:
            name = f"{name} of '{self.wall.building}'"
        name = f"{name[0].upper()}{name[1:]}"
        stretches = self._stretches([(run.start, run.end) for run in runs])
        start, end = stretches[0]
        if len(stretches) == 1 and start < _CORNER and end > self.wall.length - _CORNER:
            return f"{name}, all of it"
        places = listed([f"{self._place(start)} to {self._place(end)}" for start, end in stretches])
        return f"{name}, {places} from its left corner"

    def _from(self, parts: Sequence[_Stretch]) -> str:
        words = [
            f"from {self._place(start)} to {self._place(end)}"
            for start, end in self._stretches(parts)
        ]
        told = listed(words)
        return f"{told[0].upper()}{told[1:]}"

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
            return f"{first}.{''.join(f' {water.sentence}' for water in self.told)}"
        mine = [
            f"{water.low_spot}, {run_length(self.site, wetted.length)} of the wall"
            for water in self.stand
            for wetted in water.walls
            if (wetted.building, wetted.wall) == (self.wall.building, self.wall.number)
        ]
        return f"{first}: {listed(mine)}." if mine else f"{first}."


def close_calls(run: WallRun) -> list[_Stretch]:
    """The parts of a failing run that are too close to call, metres from the first corner."""
    count = len(run.stations)
    if run.verdict == "too close to call" or not count:
        return []
    width = (run.end - run.start) / count
    parts, place = [], 0
    for verdict, members in groupby(run.stations, key=_verdict_of):
        size = len(list(members))
        if verdict == "too close to call":
            parts.append((run.start + place * width, run.start + (place + size) * width))
        place += size
    return parts


def _verdict_of(station: Station) -> Verdict:
    return station.verdict


def _badness(run: WallRun) -> float:
    """How much fall a run lacks, metres; its length where that is not known."""
    lacks = run.worst.required - run.worst.fall
    return run.end - run.start if np.isnan(lacks) else lacks


def _the_house(site: Site) -> str:
    return "the house" if len(site.buildings) == 1 else "the wall"


def _slopes_back(site: Site, run: WallRun) -> str:
    worst, reach = run.worst, run_length(site, run.worst.reach)
    if worst.fall < 0:
        return (
            f"the ground leans toward {_the_house(site)} (slopes back): "
            f"it falls {height(site, worst.fall)} the wrong way over {reach}."
        )
    return (
        f"the ground dips near the wall and rises again (slopes back): it rises "
        f"{height(site, worst.rise)} above its low point, though it falls "
        f"{height(site, worst.fall)} over {reach} in all."
    )


def _too_flat(site: Site, run: WallRun) -> str:
    worst = run.worst
    if worst.fall < -_LEVEL:
        return (
            f"the ground falls too little for certain (too flat): as measured it falls "
            f"{height(site, worst.fall)} the wrong way over {run_length(site, worst.reach)}, where "
            f"{height(site, worst.required)} away from {_the_house(site)} are asked for; better "
            "heights would say whether it slopes back."
        )
    return (
        f"the ground leans away from {_the_house(site)}, but not enough (too flat): "
        f"{height(site, worst.fall)} of fall over {run_length(site, worst.reach)}, "
        f"where {height(site, worst.required)} are asked for."
    )


_BY = {
    "lot line": "the lot line",
    "wall": "another wall",
    "corner": "the house's own corner",
    "survey": "the survey's edge",
    "": "what stands in the way",
}


def _cut_short(site: Site, run: WallRun) -> str:
    worst = run.worst
    way = " the wrong way" if worst.fall < -_LEVEL else ""
    return (
        f"there is no room for the full grade (cut short: needs a drain or swale): "
        f"{_BY[worst.cut_by]} is {run_length(site, worst.reach)} away, and the ground falls "
        f"{height(site, worst.fall)}{way} in that, where "
        f"{height(site, worst.required)} are asked for."
    )


def _too_close(site: Site, run: WallRun) -> str:
    worst = run.worst
    settle = f" {run.settle}" if run.settle else ""
    limit = site.rules["rise_against_wall"]
    margin = call_margin(run.sigma)
    if worst.fall - worst.required >= margin and abs(worst.rise - limit) < margin:
        return (
            f"the heights are not good enough to say (too close to call): the ground rises "
            f"{height(site, worst.rise)} above its low point near the wall, where "
            f"{height(site, limit)} is the most that is let pass.{settle}"
        )
    way = "the wrong way " if worst.fall < 0 else ""
    return (
        f"the heights are not good enough to say (too close to call): "
        f"{height(site, worst.fall)} of fall {way}over {run_length(site, worst.reach)}, where "
        f"{height(site, worst.required)} are asked for.{settle}"
    )
