"""Tables of the site file for what is at a wall: places and stretches, openings, clearances.

In: what tomllib read. Out: pydantic models that the tables of `runoff.site.document` build on.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import ConfigDict, Discriminator, Field, Tag, model_validator

from runoff.site.entries import Table
from runoff.site.fields import (
    METRES_PER_FOOT,
    Distance,
    Length,
    Name,
    PositiveLength,
    WholeFromOne,
    refuse,
)
from runoff.site.model import ClearanceKind, OpeningKind

# Places in the ground before a wall, with a rim; the other kinds of opening have a sill.
WELLS = ("window well", "stairwell")
OF_WELLS = ("rim", "floor", "projection", "drained")

Wall = Annotated[
    Annotated[Name, Tag("<name>")] | Annotated[WholeFromOne, Tag("<number>")],
    Discriminator(lambda value: "<name>" if isinstance(value, str) else "<number>"),
]


class WallSpotTable(Table):
    """A spot on a wall."""

    building: Name = Field(description='The building by its name, such as "house".')
    wall: Wall = Field(description="The wall by its name, or by its number from 1, such as 2.")
    distance: Distance = Field(description='Along the wall from its first corner, such as "2 ft".')


class WallPlaceTable(WallSpotTable):
    """A place along a wall."""

    out: Distance = Field(0.0, description="Away from the wall.")


class StretchTable(Table):
    """A stretch of a wall; the whole wall where it does not say from where to where."""

    wall: Wall = Field(description="The wall by its name, or by its number from 1, such as 2.")
    start: Distance | None = Field(
        None, alias="from", description="Where it starts, along the wall from its first corner."
    )
    end: PositiveLength | None = Field(
        None, alias="to", description="Where it ends, along the wall from its first corner."
    )

    @model_validator(mode="after")
    def _forward(self) -> StretchTable:
        if self.end is not None and self.end <= (self.start or 0.0):
            raise refuse('a stretch that starts before it ends, such as from = "2 ft", to = "9 ft"')
        return self


class EaveTable(StretchTable):
    """An eave without a gutter, along a wall."""

    building: Name = Field(description='The building by its name, such as "house".')
    out: Distance = Field(METRES_PER_FOOT, description="Drip line's distance from the wall.")


class ClearanceTable(StretchTable):
    """Something on a wall that soil must stay below."""

    kind: ClearanceKind = Field(description='What it is, such as "siding".')
    height: Length = Field(description="Height of its lower edge, as spot heights are measured.")


class OpeningTable(Table):
    """Where water at the wall gets in."""

    model_config = ConfigDict(
        json_schema_extra={
            "if": {"properties": {"kind": {"enum": list(WELLS)}}},
            "then": {"required": ["projection"], "properties": {"sill": False}},
            "else": {"properties": dict.fromkeys(OF_WELLS, False)},
        }
    )
    name: Name = Field(description='Its name, such as "north".')
    kind: OpeningKind = Field(description='What it is, such as "window well".')
    at: WallSpotTable = Field(
        description='Its middle, such as {building = "house", wall = 1, distance = 3}.'
    )
    width: PositiveLength = Field(description='Width along the wall, such as "3 ft".')
    sill: Length | None = Field(None, description="Height of a door's, garage's or vent's sill.")
    rim: Length | None = Field(None, description="Lowest height of a well's edge.")
    floor: Length | None = Field(None, description="Height of a well's bottom.")
    projection: PositiveLength | None = Field(
        None, description="How far a well stands out of the wall."
    )
    drained: bool = Field(False, description="Whether a well's floor has a drain.", strict=True)

    @model_validator(mode="after")
    def _of_its_kind(self) -> OpeningTable:
        if self.kind not in WELLS:
            if self.model_fields_set & set(OF_WELLS):
                raise refuse(f"for a {self.kind}: sill = 101.2, and nothing of a well's")
            return self
        if self.sill is None and self.projection is None:
            raise refuse(
                f"projection, which is missing: how far the {self.kind} stands out of the wall, "
                'such as projection = "3 ft"'
            )
        if self.sill is not None or self.projection is None:
            raise refuse(
                f'for a {self.kind}: projection = "3 ft", rim, floor and drained, and no sill'
            )
        if self.rim is not None and self.floor is not None and self.floor >= self.rim:
            raise refuse("a floor that lies below the rim, such as rim = 101.2, floor = 98")
        return self
