"""What tables of the site file have in common: how they are checked, areas and outlines of
ground, places by ties.

In: what tomllib read. Out: pydantic models that the tables of `document.py` build on.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Discriminator, Field, JsonValue, Tag, model_validator

from runoff.site.model import Side
from runoff.site.written.fields import (
    Corners,
    FileName,
    Line,
    Name,
    Point,
    PositiveLength,
    RunText,
    Scalar,
    WholeFromOne,
    refuse,
)


def by_type(**tags: type) -> Callable[[Any], str | None]:
    """Tell the kinds of an entry apart by the TOML type it is written in."""

    def tag(value: Any) -> str | None:
        for name, kind in tags.items():
            if isinstance(value, kind):
                return f"<{name}>"
        return None

    return tag


class Table(BaseModel):
    """A table of the site file: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)

    def one_of(self, *ways: tuple[str, ...], expected: str) -> None:
        """Refuse a table that does not say a thing in exactly one of several ways."""
        given = [way for way in ways if any(key in self.model_fields_set for key in way)]
        whole = [way for way in given if all(key in self.model_fields_set for key in way)]
        if len(given) != 1 or len(whole) != 1:
            raise refuse(expected)


def exactly_one(*ways: tuple[str, ...]) -> ConfigDict:
    """A model's configuration whose JSON schema asks for exactly one of several sets of keys."""
    return ConfigDict(json_schema_extra={"oneOf": [{"required": list(way)} for way in ways]})


def at_most_one(*keys: str) -> ConfigDict:
    """A model's configuration whose JSON schema refuses any two of several keys together."""
    pairs: list[JsonValue] = [{"not": {"required": list(pair)}} for pair in combinations(keys, 2)]
    return ConfigDict(json_schema_extra={"allOf": pairs})


class OutlineTable(Table):
    """An outline from a vector file."""

    file: FileName = Field(description='Vector file beside the site file, such as "houses.gpkg".')
    layer: Name | None = Field(None, description="Layer, where the file has several.")
    pick: (
        Annotated[
            Annotated[dict[str, Scalar], Tag("<fields>")]
            | Annotated[WholeFromOne, Tag("<number>")],
            Discriminator(by_type(fields=dict, number=int)),
        ]
        | None
    ) = Field(
        None,
        description="Which feature: {field = value}, or its number in the file counted from 1.",
    )


class Outlined(Table):
    """A table whose ground is given by corners or from a vector file."""

    model_config = exactly_one(("corners",), ("outline",), ("start", "runs"))
    corners: Corners | None = Field(
        None, description="Its corners, such as [[0, 0], [9, 0], [9, 5]]."
    )
    outline: OutlineTable | None = Field(None, description="The outline from a vector file.")
    start: Point | None = Field(None, description="With runs: the corner that they start from.")
    runs: Annotated[list[RunText], Field(min_length=3)] | None = Field(
        None, description='Its sides one after another, such as ["E 36 ft", "N 24 ft", ...].'
    )

    @model_validator(mode="after")
    def _one_outline(self) -> Outlined:
        self.one_of(
            ("corners",),
            ("outline",),
            ("start", "runs"),
            expected="its outline in one way: corners = [[x, y], ...], outline = {file = ...}, or "
            'start = [x, y] with runs = ["E 36 ft", ...]',
        )
        return self


def spread(heights: Any, count: int) -> list[float]:
    """One height for each of `count` points, from one or from a list."""
    return list(heights) if isinstance(heights, list) else [heights] * count


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


class AreaTable(Table):
    """A table whose ground is given by corners, a vector file, a circle or a strip."""

    model_config = exactly_one(("corners",), ("outline",), ("point", "radius"), ("line", "width"))
    name: Name = Field(description='Its name, such as "oak".')
    corners: Corners | None = Field(
        None, description="Its corners, such as [[0, 0], [9, 0], [9, 5]]."
    )
    outline: OutlineTable | None = Field(None, description="The outline from a vector file.")
    point: Spot | None = Field(None, description="Center of a round area, with radius.")
    radius: PositiveLength | None = Field(None, description="Radius around the point.")
    line: Line | None = Field(None, description="Middle of a strip, with width.")
    width: PositiveLength | None = Field(None, description="Whole width of the strip.")

    @model_validator(mode="after")
    def _one_area(self) -> AreaTable:
        given = self.model_fields_set & {"corners", "outline", "point", "radius", "line", "width"}
        for first, second in (("line", "width"), ("point", "radius")):
            if given == {first}:
                raise refuse(
                    f'{second}, which is missing beside {first}, such as {second} = "3 ft"'
                )
        self.one_of(
            ("corners",),
            ("outline",),
            ("point", "radius"),
            ("line", "width"),
            expected="its ground in one way: corners = [[x, y], ...], outline = {file = ...}, "
            "point = [x, y] with radius, or line = [[x, y], ...] with width",
        )
        return self
