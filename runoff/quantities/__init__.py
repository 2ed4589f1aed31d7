"""Tape notation to metres and back, and the other quantities that users write.

Text or numbers come in, SI floats go out; the `format_` functions write them again. Whatever is
not the quantity it should be raises `QuantityError`, a `ValueError` with a `reason`.
"""

from runoff.quantities.lengths import format_length, parse_length
from runoff.quantities.measures import (
    as_found,
    format_area,
    format_duration,
    format_flow,
    format_pitch,
    format_rain,
    format_rate,
    format_slope,
    format_velocity,
    format_volume,
    parse_area,
    parse_duration,
    parse_flow,
    parse_rate,
    parse_ratio,
    parse_slope,
    parse_volume,
)
from runoff.quantities.reading import QuantityError
from runoff.quantities.shown import Shown, system_of

__all__ = [
    "QuantityError",
    "Shown",
    "as_found",
    "format_area",
    "format_duration",
    "format_flow",
    "format_length",
    "format_pitch",
    "format_rain",
    "format_rate",
    "format_slope",
    "format_velocity",
    "format_volume",
    "parse_area",
    "parse_duration",
    "parse_flow",
    "parse_length",
    "parse_rate",
    "parse_ratio",
    "parse_slope",
    "parse_volume",
    "system_of",
]
