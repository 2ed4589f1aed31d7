"""Tape notation to metres and back, and the other quantities that users write."""

from runoff.quantities.errors import QuantityError
from runoff.quantities.lengths import format_length, parse_length

__all__ = ["QuantityError", "format_length", "parse_length"]
