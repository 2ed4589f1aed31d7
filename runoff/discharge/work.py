"""The work in a way to take water away, and what to buy for it, rounded up as it is sold.

In: a site and an option. Out: what is dug, laid and filled, in SI; and a shopping list in the
site's units. docs/work.md.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import assert_never

import numpy as np

from runoff.discharge.as_it_is import AsItIs
from runoff.discharge.extension.way import Extension
from runoff.discharge.line.outlet import Apron
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import Item, Work
from runoff.discharge.pit.size import SeepagePit, dig_m3, fabric_m2, spoil_m3, stone_m3
from runoff.discharge.swale.section import Swale
from runoff.discharge.ways import Design, Option
from runoff.discharge.wording import fitting_name
from runoff.quantities import Shown, format_length, system_of
from runoff.rules import Rules
from runoff.site.model import Site

FOOT, CUBIC_YARD = 0.3048, 0.9144**3
_SHORT_TON = 0.90718474  # tonnes
# As sold, common practice: lengths of pipe, half loads of stone and soil, rolls of fabric.
_PIPE_US, _PIPE_METRIC = 10 * FOOT, 3.0
_ROLL_US, _ROLL_METRIC = 3 * FOOT * 50 * FOOT, 15.0
_ROUNDING = 1e-9


@dataclass(frozen=True)
class _Part:
    """Something to buy: how much in SI (m, m2, m3, or pieces), and by which price.

    `key` is the entry of the prices that it is bought by.
    """

    name: str
    key: str
    amount: float
    use: str


def work_of(site: Site, option: Option) -> tuple[Work, tuple[Item, ...]]:
    """What an option takes, and its shopping list.

    The price counts what is bought as sold, and the digging; it is None where the site file gives
    no price for any part of it.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", prices=None)
    >>> work, items = work_of(site, Option("as it is", True, "", AsItIs(None)))
    >>> work.dig_m3, [(item.quantity, item.name) for item in items]
    (0.0, [(1, 'splash block')])
    """
    parts = list(_parts(site, option))
    work = Work(
        dig_m3=_dug(option.design),
        pipe_m=0.0 if option.line is None else pipe_length(option.line),
        extension_m=_sum(parts, "extension"),
        stone_m3=_sum(parts, "stone"),
        soil_m3=_sum(parts, "soil"),
        fabric_m2=_sum(parts, "fabric"),
        price=_price(site, option),
        spoil_m3=_left_over(site, option.design),
    )
    return work, shopping_of(site, [option])


def shopping_of(site: Site, options: Iterable[Option]) -> tuple[Item, ...]:
    """One shopping list for some options, in the order in which its entries first come.

    What is bought by one name is added up before it is rounded up as sold: three lines of 21 ft
    take 7 lengths of pipe, not 9.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> site = SimpleNamespace(units="ft", prices=None)
    >>> items = shopping_of(site, [Option("as it is", True, "", AsItIs(None))] * 3)
    >>> [(item.quantity, item.name) for item in items]
    [(3, 'splash block')]
    """
    found: dict[tuple[str, str], list[_Part]] = {}
    for option in options:
        for part in _parts(site, option):
            found.setdefault((part.name, part.key), []).append(part)
    return tuple(
        _item(
            site,
            replace(
                parts[0],
                amount=sum(part.amount for part in parts),
                use="; ".join(dict.fromkeys(part.use for part in parts)),
            ),
        )
        for parts in found.values()
    )


def missing_prices(site: Site, option: Option) -> tuple[str, ...]:
    """The entries of the prices that an option's price would still need, in the order of need."""
    given = {} if site.prices is None else site.prices.by_item
    return tuple(key for key in _needed(site, option) if key not in given)


def pipe_length(line: BuriedLine) -> float:
    """Length of the pipe itself, along its fall, metres."""
    run = np.diff(line.profile.stations_m)
    return float(np.hypot(run, np.diff(line.profile.invert_m)).sum())


def trench_m3(line: BuriedLine) -> float:
    """Soil dug for a line's trench: its width times the cut, summed along it, m3."""
    return line.trench_width_m * float(np.trapezoid(line.profile.cut_m, line.profile.stations_m))


def trench_spoil_m3(line: BuriedLine, rules: Rules) -> float:
    """Loose soil left over once a trench is filled again: what pipe and bedding take of it.

    Times `soil_bulking`, as a pit's; the apron's is not counted here.
    """
    pipe = line.profile.pipe
    section = line.trench_width_m * line.profile.limits.bedding_m
    section += math.pi / 4 * pipe.outside_m**2
    return min(section * pipe_length(line), trench_m3(line)) * rules["soil_bulking"]


def _left_over(site: Site, design: Design | None) -> float:
    """Loose soil that nothing of the design takes up again."""
    match design:
        case AsItIs() | Extension() | None:
            return 0.0
        case Swale():
            return design.dig_m3 * site.rules["soil_bulking"]
        case BuriedLine():
            apron = _apron_m3(design.apron) * site.rules["soil_bulking"]
            return trench_spoil_m3(design, site.rules) + apron
        case SeepagePit():
            return _left_over(site, design.line) + spoil_m3(design, site.rules)
        case unknown:
            assert_never(unknown)


def _dug(design: Design | None) -> float:
    match design:
        case AsItIs() | Extension() | None:
            return 0.0
        case Swale():
            return design.dig_m3
        case BuriedLine():
            return trench_m3(design) + _apron_m3(design.apron)
        case SeepagePit():
            return _dug(design.line) + dig_m3(design)
        case unknown:
            assert_never(unknown)


def _parts(site: Site, option: Option) -> Iterator[_Part]:
    if option.correction is not None:
        use = "compacted along the walls that fail; loose as bought"
        yield _Part("soil with clay in it", "soil", option.correction.loose_m3, use)
    match option.design:
        case AsItIs():
            yield _Part("splash block", "splash_block", 1, "at the foot of the downspout")
        case Extension() as extension:
            yield from _extension(site, extension)
            if any(failure.fitting_m is not None for failure in option.failures):
                yield _Part("overflow fitting with a grate", "fitting", 1, "on the extension")
        case Swale() as swale:
            yield from _swale(swale)
        case BuriedLine() as line:
            yield from _line(Shown.of(site), line)
            yield from _end(site, line.apron)
        case SeepagePit() as pit:
            yield from _line(Shown.of(site), pit.line)
            yield from _pit(site, pit)
        case None:
            pass
        case unknown:
            assert_never(unknown)


def _extension(site: Site, extension: Extension) -> Iterator[_Part]:
    yield _Part("extension pipe", "extension", extension.length_m, "on the surface")
    yield _Part("adapter from leader to extension", "fitting", 1, "the leader goes inside it")
    if extension.props:
        under = "under the extension, laid on their side"
        yield _Part("concrete block", "block", extension.props, under)
    yield from _end(site, extension.apron)


def _line(shown: Shown, line: BuriedLine) -> Iterator[_Part]:
    pipe, limits = line.profile.pipe, line.profile.limits
    length = pipe_length(line)
    wall = "" if pipe.wall == "unknown" else f"{pipe.wall} "
    yield _Part(f"{pipe.size} {wall}pipe", "pipe", length, "solid, not perforated")
    bedding = line.trench_width_m * limits.bedding_m * length
    yield _Part("gravel for bedding", "stone", bedding, "under the pipe")
    counted: Counter[tuple[str, str]] = Counter()
    for fitting in line.fittings:
        # A turn of several bends is bought bend by bend.
        singly = [replace(fitting, bends=(bend,)) for bend in fitting.bends] or [fitting]
        key = "cleanout" if fitting.kind == "cleanout" else "fitting"
        counted.update((fitting_name(shown, each), key) for each in singly)
    for (name, key), count in counted.items():
        yield _Part(name, key, count, "on the line")


def _pit(site: Site, pit: SeepagePit) -> Iterator[_Part]:
    stone = stone_m3(pit, site.rules)
    yield _Part("clean stone, no fines", "stone", stone, "in the seepage pit")
    fabric = fabric_m2(pit, site.rules)
    yield _Part("filter fabric", "fabric", fabric, "sides and top of the stone, laps included")
    yield _Part("silt trap", "silt_trap", 1, "before the pit")
    yield _Part("observation pipe", "pipe", pit.dig_depth_m, "to the bottom of the pit")
    yield _Part("grated cap", "fitting", 1, "on the observation pipe")


def _swale(swale: Swale) -> Iterator[_Part]:
    depth = np.maximum(swale.ground_m - swale.bottom_m, 0.0)
    side = swale.section.side_run
    across = swale.section.bottom_m + 2 * depth * math.hypot(1, side)
    area = float(np.trapezoid(across, swale.stations_m))
    yield _Part("sod, or seed under a blanket", "sod", area, "over the swale, bottom and sides")


def _end(site: Site, apron: Apron | None) -> Iterator[_Part]:
    if apron is None:
        yield _Part("splash pad", "splash_block", 1, "where the water comes out")
        return
    system = system_of(site.units)
    size = format_length(apron.stone_m, system, 4)
    use = f"apron where the water comes out, {size} or larger"
    yield _Part("stone", "stone", _apron_m3(apron), use)
    yield _Part("filter fabric", "fabric", apron.area_m2, "under the apron")


def _apron_m3(apron: Apron | None) -> float:
    return 0.0 if apron is None else apron.area_m2 * apron.thickness_m


def _sum(parts: list[_Part], key: str) -> float:
    return sum((part.amount for part in parts if part.key == key), 0.0)


@dataclass(frozen=True)
class _Sold:
    """How a part is sold: how many units, what a unit is, and how much of SI it holds."""

    quantity: float
    unit: str
    holds: float


def _sold(site: Site, part: _Part) -> _Sold:
    us = site.units == "ft"
    if part.key in ("pipe", "extension"):
        length = _PIPE_US if us else _PIPE_METRIC
        return _Sold(_up(part.amount / length), f"lengths of {'10 ft' if us else '3 m'}", length)
    if part.key in ("stone", "soil"):
        yard = CUBIC_YARD if us else 1.0
        return _Sold(_up(2 * part.amount / yard) / 2, "cu yd" if us else "m3", yard)
    if part.key == "fabric":
        roll = _ROLL_US if us else _ROLL_METRIC
        unit = "rolls of 3 ft x 50 ft" if us else "rolls of 1 m x 15 m"
        return _Sold(_up(part.amount / roll), unit, roll)
    if part.key == "sod":
        yard = 0.9144**2 if us else 1.0
        return _Sold(_up(part.amount / yard), "sq yd" if us else "m2", yard)
    return _Sold(_up(part.amount), "each", 1.0)


def _item(site: Site, part: _Part) -> Item:
    sold = _sold(site, part)
    use = part.use
    if part.key == "stone":
        short_tons = sold.quantity * sold.holds / CUBIC_YARD * site.rules["stone_weight"]
        tons = (
            f"{short_tons:.1f} tons" if site.units == "ft" else f"{short_tons * _SHORT_TON:.1f} t"
        )
        use = f"{use}; about {tons}"
    return Item(part.name, sold.quantity, sold.unit, use)


def _up(amount: float) -> int:
    return math.ceil(amount - _ROUNDING)


def _needed(site: Site, option: Option) -> dict[str, float]:
    """How much is bought or dug at each price, in its SI unit."""
    amounts: dict[str, float] = {}
    for part in _parts(site, option):
        amounts[part.key] = amounts.get(part.key, 0.0) + _bought(site, part)
    dug = _dug(option.design)
    return amounts | ({"digging": dug} if dug > 0 else {})


def _price(site: Site, option: Option) -> float | None:
    """Everything that is bought and dug, where each has its price; None where one has none."""
    if site.prices is None or missing_prices(site, option):
        return None
    by_item = site.prices.by_item
    return sum((amount * by_item[key] for key, amount in _needed(site, option).items()), 0.0)


def _bought(site: Site, part: _Part) -> float:
    sold = _sold(site, part)
    return sold.quantity * sold.holds
