"""The kinds of value that entries of a site file hold, as pydantic reads them.

In: what TOML holds (text, numbers, lists). Out: SI figures, or an error that says what is expected.
Bare lengths are in the file's units, which the validation context carries as ``units``.

In: text such as "5 in", "2 x 3 in" or "2.10 per ft". Out: sizes as sold, a `Leader` in metres, a
price for each SI unit; or an error that says what is expected.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema
from pydantic_core import PydanticCustomError

from runoff import quantities
from runoff.quantities import QuantityError, parse_area, parse_length, parse_volume
from runoff.quantities.reading import INCH
from runoff.site.files import ELSEWHERE, is_within
from runoff.site.model import Leader
from runoff.site.problems import printable

METRES_PER_FOOT = 0.3048
_ADDRESS = re.compile(r"https?://", re.I)
LARGEST = 1e9
_PLAIN_NUMBER = re.compile(
    r"[+-]?([0-9]{1,40}\.?[0-9]{0,40}|\.[0-9]{1,40})(e[+-]?[0-9]{1,3})?", re.I
)
GREATEST_INTENSITY = 100.0 * METRES_PER_FOOT / 12.0 / 3600.0
METRES_PER_UNIT = {"ft": METRES_PER_FOOT, "m": 1.0}

LENGTH_EXAMPLE = 'such as "12 ft 6 in" or 12.5 in the file\'s units'
POSITION_EXAMPLE = 'such as [12.5, "8 ft 3 in"]'


class Metres(float):
    """A coordinate that was written as a length with its unit, so that it is metres already."""


def refuse(expected: str) -> PydanticCustomError:
    """The error whose text is what is expected instead."""
    return PydanticCustomError("expected", "{expected}", {"expected": expected})


def as_number(value: Any, expected: str) -> float:
    """A number that a lot can have, or the error that says what is expected."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise refuse(expected)
    try:
        number = float(value)
    except OverflowError:
        raise refuse(expected) from None
    if not abs(number) <= LARGEST:
        raise refuse(expected)
    return number


def _units(info: ValidationInfo) -> str:
    return str((info.context or {}).get("units", "ft"))


def read_length(value: Any, units: str, expected: str) -> float:
    """Metres from text in tape notation or from a bare number in `units` ("ft" or "m")."""
    if not isinstance(value, str):
        return as_number(value, expected) * METRES_PER_UNIT[units]
    try:
        metres = quantities.parse_length(value, unit=units)
    except quantities.QuantityError as error:
        raise refuse(f"{expected} ({error.reason})") from None
    return as_number(metres, expected)


def _length(value: Any, info: ValidationInfo) -> float:
    return read_length(value, _units(info), f"a length, {LENGTH_EXAMPLE}")


def _positive_length(value: Any, info: ValidationInfo) -> float:
    expected = f"a length above zero, {LENGTH_EXAMPLE}"
    metres = read_length(value, _units(info), expected)
    if metres <= 0.0:
        raise refuse(expected)
    return metres


def _distance(value: Any, info: ValidationInfo) -> float:
    expected = f"a length of zero or more, {LENGTH_EXAMPLE}"
    metres = read_length(value, _units(info), expected)
    if metres < 0.0:
        raise refuse(expected)
    return metres


def _storm_depth(value: Any, info: ValidationInfo) -> float:
    expected = 'a depth of rain between 0 and 3 ft, such as "4 in" or "100 mm"'
    metres = read_length(value, _units(info), expected)
    if not 0.0 < metres <= 3.0 * METRES_PER_FOOT:
        raise refuse(expected)
    return metres


def _is_plain_number(text: str) -> bool:
    return _PLAIN_NUMBER.fullmatch(text.strip()) is not None


def read_coordinate(value: Any, expected: str) -> float:
    """A coordinate: `Metres` where a unit is written, else the bare number."""
    if isinstance(value, str) and _is_plain_number(value):
        return as_number(float(value), expected)
    if isinstance(value, str):
        return Metres(read_length(value, "ft", expected))
    return as_number(value, expected)


def _point(value: Any) -> tuple[float, float]:
    expected = f"two coordinates, {POSITION_EXAMPLE}"
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise refuse(expected)
    return read_coordinate(value[0], expected), read_coordinate(value[1], expected)


def _map_position(value: Any) -> tuple[float, float]:
    expected = "an easting and a northing in the map's units, such as [500120.0, 4410080.0]"
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise refuse(expected)
    return as_number(value[0], expected), as_number(value[1], expected)


def _quantity(parse: str, expected: str) -> Callable[[Any], float]:
    """A reader of text such as "50 gpm" by a parser of `runoff.quantities`, above zero."""

    def read(value: Any) -> float:
        if not isinstance(value, str):
            raise refuse(expected)
        try:
            figure = as_number(getattr(quantities, parse)(value), expected)
        except quantities.QuantityError as error:
            raise refuse(f"{expected} ({error.reason})") from None
        if figure <= 0.0:
            raise refuse(expected)
        return figure

    return read


def _rain_intensity(value: Any) -> float:
    expected = 'an intensity of rain above 0 and at most 100 in/h, such as "7 in/h"'
    rate = _quantity("parse_rate", expected)(value)
    if rate > GREATEST_INTENSITY:
        raise refuse(expected)
    return rate


def _years(value: Any) -> float:
    expected = "a return period in years, above 0, such as 10"
    years = as_number(value, expected)
    if years <= 0.0:
        raise refuse(expected)
    return years


def _share(value: Any) -> float:
    expected = "a share above 0 and at most 1, such as 0.5"
    try:
        share = as_number(quantities.parse_ratio(_text_or_number(value, expected)), expected)
    except quantities.QuantityError:
        raise refuse(expected) from None
    if not 0.0 < share <= 1.0:
        raise refuse(expected)
    return share


def _pitch(value: Any) -> float:
    expected = 'rise over run, such as "6:12" or 0.5'
    try:
        pitch = quantities.parse_slope(_text_or_number(value, expected), unit="m/m")
    except quantities.QuantityError as error:
        raise refuse(f"{expected} ({error.reason})") from None
    if not 0.0 <= pitch <= 10.0:
        raise refuse(expected)
    return as_number(pitch, expected)


def _text_or_number(value: Any, expected: str) -> str | float:
    return value if isinstance(value, str) else as_number(value, expected)


def _date(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime.date) else value


def _north(value: Any) -> float | None:
    expected = 'degrees clockwise from plan up, such as 15, or "unknown"'
    if value == "unknown":
        return None
    degrees = as_number(value, expected)
    if not -360.0 <= degrees <= 360.0:
        raise refuse(expected)
    return degrees % 360.0


def _on_one_line(expected: str) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            raise refuse(expected)
        return value.strip()

    return read


def _file_name(value: Any, info: ValidationInfo) -> str:
    """A file in the site file's folder, or from elsewhere where the site file allows that."""
    name = _on_one_line('the name of a file, such as "spots.csv"')(value)
    context = info.context or {}
    folder = context.get("folder")
    if folder is None or _ADDRESS.match(name) or is_within(folder, folder / name):
        return name
    if not context["files_elsewhere"]:
        raise refuse(
            f"a file in the site file's folder; to read files from elsewhere, write {ELSEWHERE}"
        )
    context["elsewhere"].append(name)
    return name


def _whole_from_one(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 10**9:
        raise refuse("a whole number from 1, such as 1")
    return value


def _scalar(value: Any) -> Any:
    if not isinstance(value, str | int | float):
        raise refuse('a value of the field, such as "12-7" or 3')
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise refuse("text in quotation marks")
    return "\n".join(printable(line) for line in value.split("\n"))


_LENGTH_SCHEMA: dict[str, Any] = {"type": ["number", "string"]}
_POINT_SCHEMA: dict[str, Any] = {
    "type": "array",
    "items": {"type": ["number", "string"]},
    "minItems": 2,
    "maxItems": 2,
}
_NAME_SCHEMA: dict[str, Any] = {"type": "string", "pattern": "\\S"}

Text = Annotated[str, BeforeValidator(_text)]
Name = Annotated[
    str,
    BeforeValidator(_on_one_line('a name on one line, such as "NE corner"')),
    WithJsonSchema(_NAME_SCHEMA),
]
Scalar = Annotated[
    Any,
    BeforeValidator(_scalar),
    WithJsonSchema({"type": ["string", "number", "boolean"]}),
]
FileName = Annotated[
    str,
    BeforeValidator(_file_name),
    WithJsonSchema(_NAME_SCHEMA),
]
# The last validator runs first.
DateText = Annotated[str, BeforeValidator(_text), BeforeValidator(_date)]
Length = Annotated[float, BeforeValidator(_length), WithJsonSchema(_LENGTH_SCHEMA)]
PositiveLength = Annotated[
    float,
    BeforeValidator(_positive_length),
    WithJsonSchema({"type": ["number", "string"], "exclusiveMinimum": 0}),
]
Distance = Annotated[
    float,
    BeforeValidator(_distance),
    WithJsonSchema({"type": ["number", "string"], "minimum": 0}),
]
StormDepth = Annotated[float, BeforeValidator(_storm_depth), WithJsonSchema(_LENGTH_SCHEMA)]
RunText = Annotated[
    str,
    BeforeValidator(_on_one_line('a run of wall, such as "E 36 ft" or "left 24 ft"')),
    WithJsonSchema(_NAME_SCHEMA),
]
Point = Annotated[Any, BeforeValidator(_point), WithJsonSchema(_POINT_SCHEMA)]
Line = Annotated[list[Point], Field(min_length=2)]
Corners = Annotated[list[Point], Field(min_length=3)]
MapPosition = Annotated[
    Any,
    BeforeValidator(_map_position),
    WithJsonSchema({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}),
]
North = Annotated[
    float | None,
    BeforeValidator(_north),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"const": "unknown"}]}),
]
_TEXT_SCHEMA: dict[str, Any] = {"type": "string"}
Area = Annotated[
    float,
    BeforeValidator(
        _quantity("parse_area", 'an area above zero with its unit, such as "620 sq ft"')
    ),
    WithJsonSchema(_TEXT_SCHEMA),
]
FlowRate = Annotated[
    float,
    BeforeValidator(
        _quantity("parse_flow", 'a rate of flow above zero with its unit, such as "50 gpm"')
    ),
    WithJsonSchema(_TEXT_SCHEMA),
]
Duration = Annotated[
    float,
    BeforeValidator(_quantity("parse_duration", 'a time above zero with its unit, such as "1 h"')),
    WithJsonSchema(_TEXT_SCHEMA),
]
Rate = Annotated[
    float,
    BeforeValidator(_quantity("parse_rate", 'a rate above zero with its unit, such as "1.2 in/h"')),
    WithJsonSchema(_TEXT_SCHEMA),
]
RainIntensity = Annotated[float, BeforeValidator(_rain_intensity), WithJsonSchema(_TEXT_SCHEMA)]
Years = Annotated[
    float, BeforeValidator(_years), WithJsonSchema({"type": "number", "exclusiveMinimum": 0})
]
Share = Annotated[
    float,
    BeforeValidator(_share),
    WithJsonSchema({"type": ["number", "string"], "exclusiveMinimum": 0, "maximum": 1}),
]
Pitch = Annotated[
    float, BeforeValidator(_pitch), WithJsonSchema({"type": ["number", "string"], "minimum": 0})
]
WholeFromOne = Annotated[
    int, BeforeValidator(_whole_from_one), WithJsonSchema({"type": "integer", "minimum": 1})
]
Side = Literal["left", "right"]


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
