"""The work in a way to take water away, and what to buy for it, rounded up as it is sold.

In: a site and an option. Out: what is dug, laid and filled, in SI; and a shopping list in the
site's units. docs/work.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from runoff.discharge.line.way import pipe_length
from runoff.discharge.model import Item, Part, Work
from runoff.discharge.ways import Option, way_of
from runoff.site.model import Site

FOOT, CUBIC_YARD = 0.3048, 0.9144**3
_SHORT_TON = 0.90718474  # tonnes
# As sold, common practice: lengths of pipe, half loads of stone and soil, rolls of fabric.
_PIPE_US, _PIPE_METRIC = 10 * FOOT, 3.0
_ROLL_US, _ROLL_METRIC = 3 * FOOT * 50 * FOOT, 15.0
_ROUNDING = 1e-9


def work_of(site: Site, option: Option) -> tuple[Work, tuple[Item, ...]]:
    """What an option takes, and its shopping list.

    The price counts what is bought as sold, and the digging; it is None where the site file gives
    no price for any part of it.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.discharge.as_it_is import AsItIs
    >>> site = SimpleNamespace(units="ft", prices=None)
    >>> work, items = work_of(site, Option("as it is", True, None, AsItIs(None)))
    >>> work.dig_m3, [(item.quantity, item.name) for item in items]
    (0.0, [(1, 'splash block')])
    """
    parts = list(_parts(site, option))
    design = option.design
    work = Work(
        dig_m3=_dug(option),
        pipe_m=0.0 if option.line is None else pipe_length(option.line),
        extension_m=_sum(parts, "extension"),
        stone_m3=_sum(parts, "stone"),
        soil_m3=_sum(parts, "soil"),
        fabric_m2=_sum(parts, "fabric"),
        price=_price(site, option),
        spoil_m3=0.0 if design is None else way_of(design).spoil_m3(site, design),
    )
    return work, shopping_of(site, [option])


def shopping_of(site: Site, options: Iterable[Option]) -> tuple[Item, ...]:
    """One shopping list for some options, in the order in which its entries first come.

    What is bought by one name is added up before it is rounded up as sold: three lines of 21 ft
    take 7 lengths of pipe, not 9.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.discharge.as_it_is import AsItIs
    >>> site = SimpleNamespace(units="ft", prices=None)
    >>> items = shopping_of(site, [Option("as it is", True, None, AsItIs(None))] * 3)
    >>> [(item.quantity, item.name) for item in items]
    [(3, 'splash block')]
    """
    found: dict[tuple[str, str], list[Part]] = {}
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


def _parts(site: Site, option: Option) -> Iterator[Part]:
    if option.correction is not None:
        use = "compacted along the walls that fail; loose as bought"
        yield Part("soil with clay in it", "soil", option.correction.loose_m3, use)
    if option.design is not None:
        yield from way_of(option.design).parts(site, option.design)


def _dug(option: Option) -> float:
    return 0.0 if option.design is None else way_of(option.design).dug_m3(option.design)


def _sum(parts: list[Part], key: str) -> float:
    return sum((part.amount for part in parts if part.key == key), 0.0)


@dataclass(frozen=True)
class _Sold:
    """How a part is sold: how many units, what a unit is, and how much of SI it holds."""

    quantity: float
    unit: str
    holds: float


def _sold(site: Site, part: Part) -> _Sold:
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


def _item(site: Site, part: Part) -> Item:
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
    dug = _dug(option)
    return amounts | ({"digging": dug} if dug > 0 else {})


def _price(site: Site, option: Option) -> float | None:
    """Everything that is bought and dug, where each has its price; None where one has none."""
    if site.prices is None or missing_prices(site, option):
        return None
    by_item = site.prices.by_item
    return sum((amount * by_item[key] for key, amount in _needed(site, option).items()), 0.0)


def _bought(site: Site, part: Part) -> float:
    sold = _sold(site, part)
    return sold.quantity * sold.holds
