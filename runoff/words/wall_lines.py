"""What is wrong along each wall, in a homeowner's words, the trade's term in parentheses.

In: runs of wall and the water that stands near them. Out: a line for each trouble of a wall.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from runoff.foundation.model import StandingWater, Station, Verdict, WallRun
from runoff.foundation.runs import needed_accuracy, shot_spacing
from runoff.foundation.walls import Wall, wall_words, walls_of
from runoff.foundation.wording import from_left, listed, run_length
from runoff.quantities import format_length, system_of
from runoff.site.model import Site
from runoff.words.standing import standing_sentence
from runoff.words.verdicts import cut_short, remark_words, slopes_back, too_close, too_flat

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
_CORNER = 0.01
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
            "slopes back": lambda: slopes_back(self.site, worst),
            "too flat": lambda: too_flat(self.site, worst),
            "cut short: needs a drain or swale": lambda: cut_short(self.site, worst),
            "too close to call": lambda: too_close(self.site, worst),
            "not surveyed": lambda: _UNTOLD["not surveyed"],
        }[verdict]()
        everyone = [*runs, *(run for same in small.values() for run in same)]
        beside = {v: [p for run in same for p in sure_parts(run)] for v, same in small.items()}
        close = [part for run in everyone for part in close_calls(run)]
        beside["too close to call"] = close + beside.get("too close to call", [])
        also = "".join(f" {self._from(beside[v])} {_IT[v]}." for v in _TROUBLES if beside.get(v))
        remarks = dict.fromkeys(remark_words(each) for run in everyone for each in run.remarks)
        sure = INDICATION if worst.indication else ""
        text = f"{self._where(runs)}: {said}{also}{''.join(f' {r}' for r in remarks)}{sure}"
        deep = max((w.storm_depth for w in self.told), default=0.0)
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
        stretches = self._stretches([(run.start, run.end) for run in runs])
        start, end = stretches[0]
        return len(stretches) == 1 and start < _CORNER and end > self.wall.length - _CORNER

    def _places(self, runs: Sequence[WallRun]) -> str:
        return self._said([(run.start, run.end) for run in runs])

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
            f"{water.low_spot}, {run_length(self.site, wetted.length)} of the wall"
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
    system = system_of(site.units)

    def fine(metres: float) -> str:
        return format_length(metres, system, 16)

    far = run_length(site, max(run.worst.reach for run in runs))
    needed = [needed_accuracy(site, run.worst) for run in runs]
    rises = any(run.worst.rise > site.rules["rise_against_wall"] for run in runs)
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
    return [(run.start, run.end)] if whole else _parts(run, close=False)


def _parts(run: WallRun, close: bool) -> list[_Stretch]:
    width = (run.end - run.start) / max(len(run.stations), 1)
    parts, place = [], 0
    for is_close, members in groupby(run.stations, key=_is_close):
        size = len(list(members))
        if is_close == close:
            parts.append((run.start + place * width, run.start + (place + size) * width))
        place += size
    return parts


def _is_close(station: Station) -> bool:
    return station.verdict == "too close to call"


def _badness(run: WallRun) -> float:
    """How much fall a run lacks, metres; its length where that is not known."""
    lacks = run.worst.required - run.worst.fall
    return run.end - run.start if np.isnan(lacks) else lacks
