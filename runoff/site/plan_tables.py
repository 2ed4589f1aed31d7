"""Tables of the site file for building a plan: pipe, benchmark, prices, photographs.

In: what tomllib read. Out: pydantic models that `runoff.site.plan_records` makes records from.
"""

from __future__ import annotations

from pydantic import Field

from runoff.site.entries import Table
from runoff.site.fields import Distance, FileName, Length, Name, Text
from runoff.site.model import PipeWall
from runoff.site.sizes import PipeSize, PriceEach, PricePerArea, PricePerLength, PricePerVolume


class PipeTable(Table):
    """The pipe of buried lines."""

    wall: PipeWall = Field("unknown", description="Its inside, smooth or corrugated.")
    size: PipeSize | None = Field(None, description='Its nominal size, such as "4 in".')


class BenchmarkTable(Table):
    """A point of known height to level from."""

    name: Name = Field(description='What it is, such as "nail in the maple".')
    height: Length = Field(description="Its height on the survey's datum, such as 100.")
    backsight: Distance | None = Field(
        None, description="The rod read on it from where the level stands, such as 4.35."
    )
    map_height: Length | None = Field(
        None, description='Its height on the elevation data\'s datum, such as "653.27 ft".'
    )


class PricesTable(Table):
    """Unit prices, each for what the thing is sold by."""

    currency: Name = Field(description='The currency, such as "USD".')
    pipe: PricePerLength | None = Field(None, description='Pipe, such as "2.10 per ft".')
    fitting: PriceEach | None = Field(None, description='Fittings, such as "6 each".')
    cleanout: PriceEach | None = Field(None, description='Cleanouts, such as "18 each".')
    extension: PricePerLength | None = Field(
        None, description='Extension on the surface, such as "3 per ft".'
    )
    stone: PricePerVolume | None = Field(None, description='Stone, such as "45 per cu yd".')
    soil: PricePerVolume | None = Field(None, description='Soil, such as "30 per cu yd".')
    fabric: PricePerArea | None = Field(None, description='Fabric, such as "0.30 per sq ft".')
    digging: PricePerVolume | None = Field(None, description='Digging, such as "60 per cu yd".')
    splash_block: PriceEach | None = Field(
        None, description='Splash blocks and pads, such as "12 each".'
    )
    block: PriceEach | None = Field(
        None, description='Concrete blocks under an extension, such as "3 each".'
    )
    silt_trap: PriceEach | None = Field(None, description='Silt traps, such as "90 each".')
    sod: PricePerArea | None = Field(None, description='Sod, such as "0.60 per sq ft".')


class PhotographTable(Table):
    """A photograph."""

    file: FileName = Field(description='Its file, such as "front.jpg".')
    caption: Text = Field("", description="What it shows.")
