"""The table of the site file for the soil, and its record.

In: what tomllib read. Out: a pydantic model, and from it `Soil` in SI.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Discriminator, Field, Tag, model_validator

from runoff.site.model import (
    LawnCover,
    Percolation,
    PercolationForm,
    Soil,
    SoilGroup,
    SoilTexture,
    TrialPit,
)
from runoff.site.written.entries import Table, at_most_one, by_type
from runoff.site.written.fields import Distance, Duration, FileName, PositiveLength, Rate, refuse

TESTS = ("rate", "trial_pit", "percolation")


class TrialPitTable(Table):
    """A trial pit that was filled, and how fast its water fell."""

    length: PositiveLength = Field(description='Length on the plan, such as "5 ft".')
    width: PositiveLength = Field(description='Width on the plan, such as "2 ft".')
    depth: PositiveLength = Field(description="Depth of the water when full, such as 3 ft.")
    times: Annotated[list[Duration], Field(min_length=1)] = Field(
        description='Time from 75 % to 25 % of that depth, one a filling, such as ["67 min"].'
    )


class PercolationTable(Table):
    """A percolation test in a round hole."""

    fall: PositiveLength = Field(description='How far the water fell, such as "1 in".')
    time: Duration = Field(description='In what time, such as "12 min".')
    diameter: PositiveLength = Field(description='Diameter of the hole, such as "8 in".')
    first_depth: PositiveLength = Field(description='Depth of the water at first, such as "6 in".')
    form: PercolationForm = Field(
        "shaft", description="Reckoned by the hole's shape, or as a printed county form does."
    )

    @model_validator(mode="after")
    def _falls_within_the_water(self) -> PercolationTable:
        if self.fall > self.first_depth:
            raise refuse(
                "a fall of no more than first_depth, the water that was there, such as "
                'fall = "1 in", first_depth = "6 in"'
            )
        return self


class SoilTable(Table):
    """The soil of the lot."""

    model_config = at_most_one(*TESTS)
    texture: SoilTexture | None = Field(None, description="Its texture, such as sandy loam.")
    rate: Rate | None = Field(None, description='A measured rate of seepage, such as "1.2 in/h".')
    trial_pit: (
        Annotated[
            Annotated[FileName, Tag("<sheet>")] | Annotated[TrialPitTable, Tag("<table>")],
            Discriminator(by_type(sheet=str, table=dict)),
        ]
        | None
    ) = Field(
        None, description='A trial pit: its CSV sheet, such as "trial_pit.csv", or its figures.'
    )
    percolation: (
        Annotated[
            Annotated[FileName, Tag("<sheet>")] | Annotated[PercolationTable, Tag("<table>")],
            Discriminator(by_type(sheet=str, table=dict)),
        ]
        | None
    ) = Field(
        None,
        description='A percolation test: its CSV sheet, such as "percolation.csv", or its figures.',
    )
    group: SoilGroup | None = Field(
        None, description="Its hydrologic soil group, A to D, as soil maps give it."
    )
    lawn: LawnCover = Field(
        "good",
        description="Lawn covered with grass: good over 75 %, fair 50 to 75 %, poor below.",
    )
    groundwater: Distance | None = Field(
        None, description="Depth of the highest groundwater below the ground, such as 9 ft."
    )
    bedrock: Distance | None = Field(
        None, description="Depth of bedrock below the ground, such as 8 ft."
    )
    karst: bool | None = Field(
        None, description="Whether the rock dissolves and sinkholes form nearby.", strict=True
    )
    frost_depth: Distance | None = Field(None, description="Depth of frost, such as 3 ft.")
    expansive: bool | None = Field(
        None, description="Whether it is a clay that swells when wet.", strict=True
    )

    @model_validator(mode="after")
    def _one_test(self) -> SoilTable:
        given = [name for name in TESTS if name in self.model_fields_set]
        if len(given) > 1:
            raise refuse(
                f"one of {' and '.join(given)}, as both say how fast the soil takes water; a "
                "texture may stand beside it"
            )
        return self


def soil_record(
    table: SoilTable | None,
    trial_pit: TrialPit | None = None,
    percolation: Percolation | None = None,
) -> Soil:
    """What is known of the soil.

    Parameters
    ----------
    table : SoilTable or None
    trial_pit, percolation : TrialPit, Percolation or None
        From the sheet that the table names, in place of figures in the table.

    Examples
    --------
    >>> soil_record(SoilTable(texture="sandy loam", groundwater="10 ft")).groundwater
    3.048
    """
    if table is None:
        return Soil()
    pit, test = table.trial_pit, table.percolation
    if isinstance(pit, TrialPitTable):
        trial_pit = TrialPit(pit.length, pit.width, pit.depth, tuple(pit.times))
    if isinstance(test, PercolationTable):
        percolation = Percolation(test.fall, test.time, test.diameter, test.first_depth, test.form)
    return Soil(
        texture=table.texture,
        rate=table.rate,
        trial_pit=trial_pit,
        percolation=percolation,
        groundwater=table.groundwater,
        frost=table.frost_depth,
        expansive=table.expansive,
        group=table.group,
        lawn=table.lawn,
        bedrock=table.bedrock,
        karst=table.karst,
    )
