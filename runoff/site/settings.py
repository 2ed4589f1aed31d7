"""What the site file sets beside the lot: rules, accuracy and storm; pipe, benchmark, prices,
photographs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from runoff.quantities import QuantityError
from runoff.rules import RULES, Rules
from runoff.site.ground import written
from runoff.site.model import (
    TYPED,
    Basis,
    Benchmark,
    DesignRain,
    DesignRains,
    HeightAccuracy,
    Photograph,
    PipeChoice,
    PitRain,
    Prices,
    Storm,
)
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, hint, printable
from runoff.site.written.document import (
    BenchmarkTable,
    PhotographTable,
    PipeTable,
    PricesTable,
    TerrainTable,
)
from runoff.site.written.tables import units_of

# How heights are taken, as users write it, and the rule that holds its standard deviation.
SIGMA_RULES = {
    "laser level": "height_sigma_laser_level",
    "builder's level": "height_sigma_builders_level",
    "water level": "height_sigma_water_level",
    "string level": "height_sigma_string_level",
    "lidar": "height_sigma_lidar",
    "county lidar": "height_sigma_lidar",
}
INDICATION_ONLY = frozenset({"lidar", "county lidar"})
# Satellite positioning without corrections is off by 13 m in height for one fix in twenty: GPS
# Standard Positioning Service Performance Standard, US Department of Defense, 2020 (from memory).
BY_SATELLITE = frozenset({"phone", "gps", "phone gps", "smartphone", "gnss"})


def read_rules(complaints: Complaints) -> Rules:
    """The rules with the file's overrides; complaints about those that cannot be used."""
    table: Any = complaints.raw.get("rules", {})
    rules = Rules()
    if not isinstance(table, dict):
        complaints.add(("rules",), 'a table [rules] of limits, such as near_foundation = "6 ft"')
        return rules
    values: dict[str, float] = {}
    units = units_of(complaints.raw)
    for name, value in table.items():
        if name not in RULES:
            complaints.add(("rules", name), f"the name of a rule, {_near(name)}", written=name)
            continue
        rule = rules.rule(name)
        kind = rule.kind
        expected = f'{_article(kind)} {kind} {rule.bounds}, such as "{rule.example}"'
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            complaints.add(("rules", name), expected)
            continue
        try:
            values[name] = rules.parse_override(name, _with_unit(value, kind, units))
        except QuantityError as error:
            complaints.add(("rules", name), f"{expected} ({error.reason})")
    return rules.with_overrides(values)


def _with_unit(written: str | float, kind: str, units: str) -> str | float:
    """A bare length is in the file's units, in rules as everywhere."""
    if kind == "length" and not isinstance(written, str):
        return f"{written} {units}"
    return written


def _article(kind: str) -> str:
    return "an" if kind[0] in "aeiou" else "a"


def _near(name: str) -> str:
    expected = hint(name, RULES)
    return expected if expected.startswith("such") else 'as "runoff rules" lists them'


def read_accuracy(
    terrain: TerrainTable | None, rules: Rules, complaints: Complaints, notices: list[Notice]
) -> HeightAccuracy | None:
    """How good one height is; an assumption is said in `notices`."""
    if terrain is None:
        return None
    method = terrain.heights_by
    if method is None and terrain.accuracy is not None:
        return HeightAccuracy(terrain.accuracy, "stated accuracy", False)
    if method is None:
        method = "lidar" if terrain.spot_heights is None else "string level"
        notices.append(Notice("heights_by assumed", (method,)))
    if method.casefold() in BY_SATELLITE:
        complaints.add(
            ("terrain", "heights_by"),
            "heights by a level, a water level, a string level or lidar: a phone or GPS receiver "
            "can be off by several meters in height, which is more than all the falls on a lot",
        )
        return None
    if method not in SIGMA_RULES:
        complaints.add(
            ("terrain", "heights_by"),
            f"how heights were taken, {hint(method, SIGMA_RULES)}; or accuracy alone",
        )
        return None
    sigma = rules[SIGMA_RULES[method]] if terrain.accuracy is None else terrain.accuracy
    return HeightAccuracy(sigma, method, method in INDICATION_ONLY)


def read_storm(depth: float | None, duration: float | None, rules: Rules) -> Storm:
    """The storm that ponding is judged by, and what it rests on; None for what is not typed."""
    return Storm(
        rules["storm_depth"] if depth is None else depth,
        rules["storm_duration"] if duration is None else duration,
        storm_basis(depth, "storm_depth", rules),
        storm_basis(duration, "storm_duration", rules),
    )


def storm_basis(typed: float | None, rule: str, rules: Rules) -> Basis:
    """Where the storm's depth, or the time that drains work at their capacity, comes from."""
    if typed is not None:
        return TYPED
    return Basis("rules" if rule in rules.overridden else "assumed")


def assumed_rains(storm: Storm, rules: Rules) -> DesignRains:
    """The rains to size by where nothing is written, and what each rests on."""
    assumed = DesignRain(rules["drainage_intensity"], Basis("assumed"))
    pit = PitRain(storm.depth, (), Basis("storm"))
    return DesignRains(gutter=assumed, line=assumed, pit=pit, allowance="none")


def pipe_record(table: PipeTable | None) -> PipeChoice:
    """The pipe that the user means to lay."""
    return PipeChoice() if table is None else PipeChoice(table.wall, table.size)


def benchmark_record(table: BenchmarkTable | None) -> Benchmark | None:
    """The point to level from."""
    if table is None:
        return None
    return Benchmark(table.name, table.height, table.backsight, table.map_height)


def prices_record(table: PricesTable | None) -> Prices | None:
    """The prices that were given, by item.

    Examples
    --------
    >>> prices = prices_record(PricesTable(currency="USD", pipe="3.048 per ft", fitting="6 each"))
    >>> {item: round(price, 6) for item, price in prices.by_item.items()}
    {'pipe': 10.0, 'fitting': 6.0}
    """
    if table is None:
        return None
    found = table.model_dump(exclude={"currency"}, exclude_none=True)
    return Prices(table.currency, found)


def photograph_record(
    number: int,
    table: PhotographTable,
    folder: Path,
    complaints: Complaints,
    notices: list[Notice],
) -> Photograph:
    """A photograph; a notice where its file is not there."""
    file = folder / table.file
    if not _is_file(file):
        named = (printable(table.file),)
        notices.append(Notice("no photograph", named, {"number": number + 1}))
    return Photograph(file, table.caption, written(complaints, ("photograph", number)))


def _is_file(file: Path) -> bool:
    try:
        return file.is_file()
    except (OSError, ValueError):
        return False
