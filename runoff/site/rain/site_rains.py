"""The rains of one site: the storm for ponding, and what gutters, lines and pits are sized for.

In: the table ``[rain]``, the rain table that it names, the rules. Out: `Storm` and `DesignRains`
in SI, each with its basis; complaints where a rain is asked for that the table lacks.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from runoff.quantities import format_duration
from runoff.rules import Rules
from runoff.site.model import Basis, DesignRain, DesignRains, PitRain, Storm
from runoff.site.problems import Complaints, InputError, printable
from runoff.site.rain.entries import DrainageRainTable, PitRainTable, PondingRainTable
from runoff.site.rain.entries import RainTable as Written
from runoff.site.rain.table import RainTable, depth, holds_years, rains_of, read_rain_table
from runoff.site.settings import assumed_rains, read_storm
from runoff.site.written.entry_lines import Path as Entry

Drainage = Literal["gutter", "line"]
_USES = {"gutter": "gutters", "line": "lines", "ponding": "ponding", "pit": "pits"}


def read_rains(
    written: Written | None, folder: Path, rules: Rules, complaints: Complaints
) -> tuple[Storm, DesignRains] | None:
    """The rains of a site; None where a complaint is made.

    Parameters
    ----------
    written : RainTable of `runoff.site.rain.entries`, or None
        What ``[rain]`` says.
    folder : Path
        The site file's, which the rain table's name starts from.
    rules : Rules
        Return periods and durations where the file gives none.
    complaints : Complaints
        Takes what is wrong.
    """
    before = len(complaints.problems)
    written = written or Written.model_validate({})
    table = _read_table(written, folder, complaints)
    if len(complaints.problems) > before or not _has_its_table(written, complaints):
        return None
    reader = _Reader(written, table, rules)
    found = reader.read()
    reader.complain(complaints)
    return None if len(complaints.problems) > before else found


def _read_table(written: Written, folder: Path, complaints: Complaints) -> RainTable | None:
    if written.table is None:
        return None
    try:
        return read_rain_table(folder / written.table, written.table)
    except InputError as error:
        for problem in error.problems:
            if problem.line is None:
                complaints.add(("rain", "table"), problem.expected)
            else:
                complaints.problems.append(problem)
    return None


def _has_its_table(written: Written, complaints: Complaints) -> bool:
    """Whether there is a rain table wherever a rain of one is asked for."""
    if written.table is not None:
        return True
    good = True
    for key in _USES:
        own = getattr(written, key)
        if own is not None and own.model_fields_set & {"return_years", "duration"}:
            complaints.add(
                ("rain", key),
                'beside it table = "rain.csv", which return_years and duration are read from',
            )
            good = False
    return good


@dataclass(frozen=True)
class _Lack:
    """A rain that the rain table does not hold: its use, in words, and what of it is not there."""

    key: str
    words: str
    part: Literal["return_years", "duration"]


@dataclass
class _Reader:
    """Resolves each use of rain, keeping what the rain table lacks by the entry that asks for it.

    Where several uses ask through one entry, that is one complaint.
    """

    written: Written
    table: RainTable | None
    rules: Rules
    lacks: dict[Entry, list[_Lack]] = field(default_factory=dict)

    def read(self) -> tuple[Storm, DesignRains]:
        storm = self._storm()
        assumed = assumed_rains(storm, self.rules)
        rains = DesignRains(
            gutter=self._drainage("gutter", assumed.gutter),
            line=self._drainage("line", assumed.line),
            pit=self._pit(storm, assumed.pit),
            allowance=self.written.allowance,
        )
        return storm, rains

    def _storm(self) -> Storm:
        own, lasting = self.written.ponding, self.written.storm_duration
        typed = self.written.storm_depth or (own.depth if own is not None else None)
        if typed is not None or self.table is None:
            return read_storm(typed, lasting, self.rules)
        years, by_years = self._asked("ponding", own, "return_years", "ponding_return_years")
        seconds, by_duration = self._asked("ponding", own, "duration", "ponding_rain_duration")
        metres = self._depth("ponding", years, seconds, by_years, by_duration) or 0.0
        return replace(read_storm(metres, lasting, self.rules), basis=self._basis(years, seconds))

    def _drainage(self, key: Drainage, assumed: DesignRain) -> DesignRain:
        own: DrainageRainTable | None = getattr(self.written, key)
        typed = self.written.design_intensity if own is None else own.intensity
        if typed is not None:
            return DesignRain(typed)
        if self.table is None:
            return assumed
        years, by_years = self._asked(key, own, "return_years", "drainage_return_years")
        seconds, by_duration = self._asked(key, own, "duration", "drainage_rain_duration")
        metres = self._depth(key, years, seconds, by_years, by_duration)
        if metres is None:
            return assumed
        return DesignRain(metres / seconds, self._basis(years, seconds))

    def _pit(self, storm: Storm, assumed: PitRain) -> PitRain:
        own: PitRainTable | PondingRainTable | None = self.written.pit
        if own is not None and own.depth is not None:
            return PitRain(own.depth)
        if self.table is None:
            return assumed
        asks, own = ("pit", own) if own is not None else ("ponding", self.written.ponding)
        years, by_years = self._asked(asks, own, "return_years", "ponding_return_years")
        if not holds_years(self.table, years):
            self._lack(by_years, _Lack("pit", f"the {years:g}-year rains", "return_years"))
            return assumed
        return PitRain(storm.depth, rains_of(self.table, years), self._basis(years))

    def _basis(self, years: float, seconds: float = 0.0) -> Basis:
        assert self.table is not None
        says = printable(self.table.basis)
        return Basis("table", years, seconds, str(self.written.table), says)

    def _asked(self, key: str, own: object, part: str, rule: str) -> tuple[float, Entry]:
        """A return period or duration, and the entry that it comes from."""
        typed = getattr(own, part, None)
        if typed is not None:
            return typed, ("rain", key, part)
        overridden = rule in self.rules.overridden
        return self.rules[rule], ("rules", rule) if overridden else ("rain", "table")

    def _depth(
        self, key: str, years: float, seconds: float, by_years: Entry, by_duration: Entry
    ) -> float | None:
        """The depth of a rain of the table, None where it is not there."""
        assert self.table is not None
        words = f"the {years:g}-year {_adjective(seconds)} rain"
        if not holds_years(self.table, years):
            self._lack(by_years, _Lack(key, words, "return_years"))
            return None
        try:
            return depth(self.table, seconds, years)
        except ValueError:
            self._lack(by_duration, _Lack(key, words, "duration"))
            return None

    def _lack(self, entry: Entry, lack: _Lack) -> None:
        self.lacks.setdefault(entry, []).append(lack)

    def complain(self, complaints: Complaints) -> None:
        """Complain of each entry that asks for what the rain table does not hold."""
        if self.table is None:
            return
        *others, last = [f"{years:g}" for years in self.table.return_periods]
        years = f"{', '.join(others)} or {last} years" if others else f"{last} years"
        shortest, longest = (format_duration(self.table.durations[end]) for end in (0, -1))
        for entry, lacks in self.lacks.items():
            if entry != ("rain", "table"):
                held = {
                    "return_years": f"a return period that {self.written.table} holds: {years}",
                    "duration": f"a duration that {self.written.table} holds, {shortest} to "
                    f"{longest}",
                }
                complaints.add(entry, held[lacks[0].part])
                continue
            wanted = " and ".join(f"{lack.words} for {_USES[lack.key]}" for lack in lacks)
            first = lacks[0]
            end = longest if first.key == "ponding" else shortest
            instead = f'"{end}"' if first.part == "duration" else last
            complaints.add(
                entry,
                f"a rain table with {wanted}; it holds {years}, {shortest} to {longest}; or say "
                f"what to take, such as {first.key} = {{{first.part} = {instead}}}",
            )


def _adjective(seconds: float) -> str:
    return format_duration(seconds).replace(" ", "-")
