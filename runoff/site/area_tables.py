"""Areas of ground in the site file: by corners, a vector file, a circle, or a strip.

In: what tomllib read. Out: pydantic models that the tables of `runoff.site.document` build on.
"""

from __future__ import annotations

from pydantic import Field, model_validator

from runoff.site.entries import OutlineTable, Table, exactly_one
from runoff.site.fields import Corners, Line, Name, PositiveLength, refuse
from runoff.site.tie_tables import Spot


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
