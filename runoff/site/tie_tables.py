"""Tables of the site file for places by tape ties.

In: what tomllib read. Out: pydantic models that other tables build on.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag, model_validator

from runoff.site.entries import Table
from runoff.site.fields import Name, Point, PositiveLength, Side, refuse


class TieTable(Table):
    """A distance taped from a named point."""

    point: Name = Field(
        alias="from",
        description='A spot height, or a corner of a building as "house 1", by its name.',
    )
    distance: PositiveLength = Field(description='Taped distance from it, such as "12 ft 3 in".')


class TiedTable(Table):
    """A place by tape ties from named points."""

    ties: Annotated[list[TieTable], Field(min_length=2, max_length=6)] = Field(
        description='Two ties or more, such as [{from = "A", distance = "12 ft 3 in"}, ...].'
    )
    side: Side | None = Field(
        None, description="Side of the line from the first tie's point to the second's."
    )
    near: Name | None = Field(
        None, description="In place of a side: a named point on the side that is meant."
    )

    @model_validator(mode="after")
    def _one_side(self) -> TiedTable:
        if self.side is not None and self.near is not None:
            raise refuse("either side or near, one of the two")
        return self


def spot_kind(value: Any) -> str:
    """Tell a place by ties from two coordinates, by how it is written."""
    return "<tied>" if isinstance(value, dict | TiedTable) else "<point>"


Spot = Annotated[
    Annotated[Point, Tag("<point>")] | Annotated[TiedTable, Tag("<tied>")], Discriminator(spot_kind)
]
