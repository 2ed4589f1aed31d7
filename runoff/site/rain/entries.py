"""The table of the site file for rain: what is typed, a table of rains, and what each use takes.

In: what tomllib read. Out: pydantic models that `runoff.site.rain.site_rains` resolves.
"""

from __future__ import annotations

from pydantic import ConfigDict, Field, JsonValue, model_validator

from runoff.site.model import WindAllowance
from runoff.site.written.entries import Table, at_most_one, exactly_one
from runoff.site.written.fields import Duration, FileName, RainIntensity, StormDepth, Years, refuse

_FROM_TABLE: JsonValue = {"anyOf": [{"required": ["return_years"]}, {"required": ["duration"]}]}


def _either(alone: str) -> ConfigDict:
    """A configuration whose JSON schema asks for one key alone, or for a rain of the table."""
    return ConfigDict(json_schema_extra={"oneOf": [{"required": [alone]}, _FROM_TABLE]})


class DrainageRainTable(Table):
    """The rain that gutters or lines are sized for: typed, or one of the rain table."""

    model_config = _either("intensity")
    intensity: RainIntensity | None = Field(None, description='Intensity, such as "9 in/h".')
    return_years: Years | None = Field(None, description="Return period in years, such as 25.")
    duration: Duration | None = Field(None, description='Duration, such as "5 min".')

    @model_validator(mode="after")
    def _one_way(self) -> DrainageRainTable:
        given = self.model_fields_set
        if not given or ("intensity" in given and len(given) > 1):
            raise refuse(
                'either intensity = "9 in/h" alone, or of the rain table return_years = 25, '
                'duration = "5 min" or both'
            )
        return self


class PondingRainTable(Table):
    """The storm that ponding is judged by: its depth, or one of the rain table."""

    model_config = _either("depth")
    depth: StormDepth | None = Field(None, description='Depth, such as "5 in".')
    return_years: Years | None = Field(None, description="Return period in years, such as 10.")
    duration: Duration | None = Field(None, description='Duration, such as "24 h".')

    @model_validator(mode="after")
    def _one_way(self) -> PondingRainTable:
        given = self.model_fields_set
        if not given or ("depth" in given and len(given) > 1):
            raise refuse(
                'either depth = "5 in" alone, or of the rain table return_years = 10, '
                'duration = "24 h" or both'
            )
        return self


class PitRainTable(Table):
    """The rain that a seepage pit is sized for: a whole storm's depth, or those of the table."""

    model_config = exactly_one(("depth",), ("return_years",))
    depth: StormDepth | None = Field(None, description='Depth of a whole storm, such as "5 in".')
    return_years: Years | None = Field(None, description="Return period in years, such as 10.")

    @model_validator(mode="after")
    def _one_way(self) -> PitRainTable:
        self.one_of(
            ("depth",),
            ("return_years",),
            expected='either depth = "5 in" or, of the rain table, return_years = 10',
        )
        return self


class RainTable(Table):
    """The rains that ponding is judged by and that gutters, lines and pits are sized for."""

    model_config = at_most_one("storm_depth", "ponding")
    storm_depth: StormDepth | None = Field(
        None, description="Depth of the rain that ponding is judged by, such as 4 in."
    )
    storm_duration: Duration | None = Field(
        None, description="How long drains work at their capacity during it, such as 1 h."
    )
    design_intensity: RainIntensity | None = Field(
        None, description="Rain for gutters, leaders and lines, such as 7 in/h."
    )
    table: FileName | None = Field(
        None, description="Rain by duration and return period: CSV or NOAA Atlas 14 text."
    )
    gutter: DrainageRainTable | None = Field(
        None, description='Rain for gutters and leaders, such as {intensity = "9 in/h"}.'
    )
    line: DrainageRainTable | None = Field(
        None, description='Rain for buried lines, such as {return_years = 25, duration = "5 min"}.'
    )
    ponding: PondingRainTable | None = Field(
        None, description='Rain for ponding, such as {return_years = 10, duration = "24 h"}.'
    )
    pit: PitRainTable | None = Field(
        None, description="Rain for seepage pits, such as {return_years = 10}."
    )
    allowance: WindAllowance = Field("none", description="Allowance for wind-blown rain.")

    @model_validator(mode="after")
    def _one_storm(self) -> RainTable:
        if self.storm_depth is not None and self.ponding is not None:
            raise refuse(
                'either storm_depth = "4 in" or ponding = {return_years = 10}, one of the two, as '
                "both say the rain that ponding is judged by"
            )
        return self
