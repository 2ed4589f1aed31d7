"""What tables of the site file have in common: how they are checked, and outlines of ground.

In: what tomllib read. Out: pydantic models that the tables of `runoff.site.document` build on.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Discriminator, Field, JsonValue, Tag, model_validator

from runoff.site.fields import (
    Corners,
    FileName,
    Name,
    Point,
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
