"""Tables of the site file for roof water: roofs, gutters, downspouts, sumps.

In: what tomllib read. Out: pydantic models that the tables of `runoff.site.document` build on.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag, model_validator

from runoff.site.entries import Table, exactly_one
from runoff.site.fields import (
    Area,
    Corners,
    FlowRate,
    Line,
    Name,
    Pitch,
    Point,
    PositiveLength,
    Share,
    refuse,
)
from runoff.site.model import GutterShape, OutletEnds
from runoff.site.sizes import GutterSize, LeaderSize
from runoff.site.tie_tables import Spot, TiedTable
from runoff.site.wall_tables import EaveTable, WallPlaceTable


def _kind_of_place(value: Any) -> str:
    """Tell coordinates, a place along a wall and tape ties apart by how they are written."""
    if not isinstance(value, dict):
        return "<point>"
    return "<tied>" if "ties" in value else "<wall>"


class RoofTable(Table):
    """A roof plane."""

    model_config = exactly_one(("plan_area",), ("length", "width"), ("corners",))
    name: Name = Field(description='Its name, such as "north".')
    length: PositiveLength | None = Field(None, description="Length on the plan, along the eave.")
    width: PositiveLength | None = Field(None, description="Width on the plan, eave to ridge.")
    plan_area: Area | None = Field(None, description="Area on the plan.")
    corners: Corners | None = Field(None, description="Corners on the plan, [[x, y], ...].")
    pitch: Pitch | None = Field(None, description="Rise over run, such as 6:12 or 0.5.")
    eave: (
        Annotated[
            Annotated[Line, Tag("<points>")] | Annotated[EaveTable, Tag("<wall>")],
            Discriminator(lambda value: "<wall>" if isinstance(value, dict) else "<points>"),
        ]
        | None
    ) = Field(
        None,
        description="Where an eave without a gutter drips: [[x, y], ...] or "
        '{building = "house", wall = 1}.',
    )
    onto: Name | None = Field(None, description="The lower roof that it drains onto.")
    wall_above: Area | None = Field(
        None, description="Area of the wall that stands over it and sheds wind-blown rain onto it."
    )

    @model_validator(mode="after")
    def _one_area(self) -> RoofTable:
        self.one_of(
            ("plan_area",),
            ("length", "width"),
            ("corners",),
            expected='its plan area in one way: length and width, plan_area = "600 sq ft", or '
            "corners = [[x, y], ...]",
        )
        if self.eave is not None and self.onto is not None:
            raise refuse("either eave or onto, one of the two, for what downspouts do not carry")
        return self


class RoofShareTable(Table):
    """Part of a roof."""

    roof: Name = Field(description='The roof by its name, such as "main".')
    share: Share = Field(1.0, description="Share of it, above 0 and at most 1.")


class GutterTable(Table):
    """A gutter along the eave of a roof."""

    name: Name = Field(description='Its name, such as "front".')
    roof: Name = Field(description='The roof whose water it takes, such as "main".')
    shape: GutterShape = Field(description="Its section.")
    size: GutterSize = Field(description='Its size, such as "5 in" or "125 mm".')
    eave: PositiveLength | None = Field(
        None, description="Length of the shingles' edge; default: the roof's length."
    )
    outlet_ends: OutletEnds | None = Field(
        None, description="Where its outlets are, facing the wall from the ground."
    )
    outlet: PositiveLength | None = Field(
        None, description='Diameter of an outlet, such as "3 in"; default: that of the leader.'
    )


class DownspoutTable(Table):
    """A downspout."""

    name: Name = Field(description='Its name, such as "north".')
    at: Annotated[
        Annotated[Point, Tag("<point>")]
        | Annotated[WallPlaceTable, Tag("<wall>")]
        | Annotated[TiedTable, Tag("<tied>")],
        Discriminator(_kind_of_place),
    ] = Field(
        description='Its foot, such as [12.5, 4], {building = "house", wall = 1, distance = 3} or '
        '{ties = [{from = "A", distance = "12 ft"}, {from = "B", distance = 9}], side = "left"}.'
    )
    roofs: list[
        Annotated[
            Annotated[Name, Tag("<name>")] | Annotated[RoofShareTable, Tag("<share>")],
            Discriminator(lambda value: "<share>" if isinstance(value, dict) else "<name>"),
        ]
    ] = Field([], description='Roofs it carries: ["main"] or [{roof = "main", share = 0.5}].')
    size: LeaderSize | None = Field(
        None, description='Its leader, round such as "3 in" or rectangular such as "2 x 3 in".'
    )
    route: Annotated[list[Point], Field(min_length=1)] | None = Field(
        None, description="The way of a buried line from its foot on, [[x, y], ...]."
    )


class SumpTable(Table):
    """A sump pump."""

    name: Name = Field(description='Its name, such as "north".')
    outlet: Spot = Field(description="Where it lets its water go, such as [12.5, 4].")
    rate: FlowRate = Field(description='What it pumps, such as "20 gpm".')
