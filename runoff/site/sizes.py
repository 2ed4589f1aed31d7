"""Sizes as gutters, leaders and pipes are sold, and unit prices, as pydantic reads them.

In: text such as "5 in", "2 x 3 in" or "2.10 per ft". Out: sizes as sold, a `Leader` in metres, a
price for each SI unit; or an error that says what is expected.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, WithJsonSchema

from runoff.quantities import QuantityError, parse_area, parse_length, parse_volume
from runoff.quantities.units import INCH
from runoff.site.fields import as_number, refuse
from runoff.site.model import Leader

_INCH = float(INCH)
GUTTER_SIZES = (5, 6)
GUTTER_SIZES_MM = (100, 125, 150)
PIPE_SIZES = (3, 4, 6, 8)
# The metric pipe that is sold in the place of each, by its outside in mm.
PIPE_SIZES_MM = {3: 75, 4: 110, 6: 160, 8: 200}
LEADER_LEAST_M, LEADER_GREATEST_M = _INCH, 12.0 * _INCH
_LEADER_EXAMPLE = (
    'a leader from 1 in to 12 in, round such as "3 in" or rectangular such as "2 x 3 in"'
)
_SIZE_ROUNDING_M = 1e-6
_PRICE = re.compile(
    r"(?P<price>[0-9]{1,9}(?:\.[0-9]{1,4})?|\.[0-9]{1,4})\s*"
    r"(?:each|(?:per\b|/)\s*(?P<amount>\S.*))"
)

Measure = Literal["length", "area", "volume", "piece"]
_MEASURES: dict[Measure, tuple[Callable[[str], float], str]] = {
    "length": (parse_length, "2.10 per ft"),
    "area": (parse_area, "0.30 per sq ft"),
    "volume": (parse_volume, "45 per cu yd"),
    "piece": (lambda _: 1.0, "6 each"),
}


def _read_gutter(value: Any) -> str:
    """The size that a gutter is sold by, such as "5 in" or "125 mm", from text in any unit."""
    sold = {size * _INCH: f"{size} in" for size in GUTTER_SIZES}
    sold |= {size / 1000.0: f"{size} mm" for size in GUTTER_SIZES_MM}
    return sold[_one_of("a gutter", sold, value)]


def _read_pipe(value: Any) -> int:
    """The nominal inches of a pipe from text in either system."""
    sold = {size * _INCH: f"{size} in" for size in PIPE_SIZES}
    sold |= {size / 1000.0: f"{size} mm" for size in PIPE_SIZES_MM.values()}
    metres = _one_of("a pipe", sold, value)
    by_mm = {size / 1000.0: nominal for nominal, size in PIPE_SIZES_MM.items()}
    return by_mm.get(metres) or round(metres / _INCH)


def _one_of(what: str, sold: Mapping[float, str], value: Any) -> float:
    """Which of the sizes sold, metres, a text gives; any other is refused."""
    *most, last = (f'"{size}"' for size in sold.values())
    expected = f"the size of {what}, {', '.join(most)} or {last}"
    if not isinstance(value, str):
        raise refuse(expected)
    try:
        metres = parse_length(value)
    except QuantityError:
        raise refuse(expected) from None
    near = [size for size in sold if abs(metres - size) < _SIZE_ROUNDING_M]
    if not near:
        raise refuse(expected)
    return near[0]


def read_leader(value: Any) -> Leader:
    """The section of a leader from text.

    Examples
    --------
    >>> leader = read_leader("2 x 3 in")
    >>> leader.shape, round(leader.width, 4), round(leader.depth, 4)
    ('rectangular', 0.0508, 0.0762)
    """
    if not isinstance(value, str):
        raise refuse(_LEADER_EXAMPLE)
    parts = [part.strip() for part in re.split(r"[x×]", value.lower())]
    unit = re.search(r"[^\d\s./]+$", parts[-1])
    try:
        sides = [parse_length(_with_unit(part, unit[0] if unit else "")) for part in parts]
    except QuantityError as error:
        raise refuse(f"{_LEADER_EXAMPLE} ({error.reason})") from None
    if len(sides) > 2 or not all(LEADER_LEAST_M <= side <= LEADER_GREATEST_M for side in sides):
        raise refuse(_LEADER_EXAMPLE)
    return Leader("round" if len(sides) == 1 else "rectangular", sides[0], sides[-1])


def _with_unit(part: str, unit: str) -> str:
    """A side of a leader with the unit behind the last one, where it has none of its own."""
    return f"{part} {unit}" if part and part[-1].isdigit() else part


def _price(measure: Measure) -> Callable[[Any], float]:
    """A reader of a price for each metre, square metre, cubic metre or piece."""
    parse, example = _MEASURES[measure]
    expected = f'a price of zero or more for what it is sold by, such as "{example}"'

    def read(value: Any) -> float:
        found = _PRICE.fullmatch(value.strip()) if isinstance(value, str) else None
        if found is None or (found["amount"] is None) != (measure == "piece"):
            raise refuse(expected)
        amount = found["amount"] or ""
        try:
            size = parse(amount if amount[:1].isdigit() else f"1 {amount}")
        except QuantityError as error:
            raise refuse(f"{expected} ({error.reason})") from None
        if size <= 0.0:
            raise refuse(expected)
        return as_number(float(found["price"]) / size, expected)

    return read


def _listed(sizes: Sequence[int], millimetres: Sequence[int]) -> WithJsonSchema:
    examples = [*(f"{size} in" for size in sizes), *(f"{size} mm" for size in millimetres)]
    return WithJsonSchema({"type": "string", "examples": examples})


_TEXT = WithJsonSchema({"type": "string"})
GutterSize = Annotated[str, BeforeValidator(_read_gutter), _listed(GUTTER_SIZES, GUTTER_SIZES_MM)]
PipeSize = Annotated[
    int, BeforeValidator(_read_pipe), _listed(PIPE_SIZES, tuple(PIPE_SIZES_MM.values()))
]
LeaderSize = Annotated[Any, BeforeValidator(read_leader), _TEXT]
PricePerLength = Annotated[float, BeforeValidator(_price("length")), _TEXT]
PricePerArea = Annotated[float, BeforeValidator(_price("area")), _TEXT]
PricePerVolume = Annotated[float, BeforeValidator(_price("volume")), _TEXT]
PriceEach = Annotated[float, BeforeValidator(_price("piece")), _TEXT]
