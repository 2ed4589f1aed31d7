"""The kinds of value that entries of a site file hold, as pydantic reads them.

In: what TOML holds (text, numbers, lists). Out: SI figures, or an error that says what is expected.
Bare lengths are in the file's units, which the validation context carries as ``units``.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema
from pydantic_core import PydanticCustomError

from runoff import quantities
from runoff.site.problems import printable
from runoff.site.safe_files import ELSEWHERE, is_within

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
