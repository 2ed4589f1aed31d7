"""Kinds of value for elevation data in the site file: tiles, their units, points common to a map.

In: what tomllib read. Out: pydantic types that the tables of `runoff.site.document` are made of.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from runoff.site.entries import Table
from runoff.site.fields import FileName, MapPosition, Point

VerticalUnit = Literal["m", "ft", "us survey ft"]


def _one_or_each(value: Any) -> str:
    return "<each>" if isinstance(value, list) else "<one>"


Tiles = Annotated[
    Annotated[Annotated[list[FileName], Field(min_length=1)], Tag("<each>")]
    | Annotated[FileName, Tag("<one>")],
    Discriminator(_one_or_each),
]
VerticalUnits = Annotated[
    Annotated[Annotated[list[VerticalUnit], Field(min_length=1)], Tag("<each>")]
    | Annotated[VerticalUnit, Tag("<one>")],
    Discriminator(_one_or_each),
]


class TiePointTable(Table):
    """A point whose position is known on the plan and on the map."""

    plan: Point = Field(description="Its position on the plan, such as [0, 0].")
    map: MapPosition = Field(
        description="Its position on the map in the units of crs, such as [500120.0, 4410080.0]."
    )


TiePoints = Annotated[list[TiePointTable], Field(min_length=2)]
