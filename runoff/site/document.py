"""The site file as it is written: one pydantic model for each table.

In: what tomllib read. Out: the same tables with lengths in metres and positions as they were typed,
each table checked on its own. What one table says about another is checked in
`runoff.site.reading`. The descriptions here are the site file's reference and its JSON schema.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from runoff.site.area_tables import AreaTable
from runoff.site.elevation_tables import TiePoints, Tiles, VerticalUnits
from runoff.site.entries import Outlined, Table, at_most_one, exactly_one, spread
from runoff.site.fields import (
    Corners,
    DateText,
    Distance,
    FileName,
    FlowRate,
    Length,
    Line,
    MapPosition,
    Name,
    North,
    Point,
    PositiveLength,
    Side,
    Text,
    WholeFromOne,
    refuse,
)
from runoff.site.model import (
    Allowed,
    BuildingKind,
    KeepOutKind,
    Neighbor,
    OutletKind,
    PavingKind,
    Units,
)
from runoff.site.plan_tables import BenchmarkTable, PhotographTable, PipeTable, PricesTable
from runoff.site.rain_tables import RainTable
from runoff.site.soil_tables import SoilTable
from runoff.site.tie_tables import Spot, TiedTable, spot_kind
from runoff.site.wall_tables import ClearanceTable, OpeningTable
from runoff.site.water_tables import DownspoutTable, GutterTable, RoofTable, SumpTable


class SiteTable(Table):
    """Who looked at which lot, and how positions are written."""

    model_config = at_most_one("map_origin", "tie_points")
    name: Name = Field(description='What the lot is called, such as "0 Invented Lane".')
    units: Units = Field(description='Unit of bare numbers in this file, such as units = "ft".')
    address: Text = Field("", description="Address.")
    date: DateText = Field("", description="Day of the survey.")
    observer: Text = Field("", description="Who took the heights.")
    weather: Text = Field("", description="Weather and rain before.")
    hidden: Text = Field(
        "", description="What could not be seen: under snow, plants, decks, stored things."
    )
    notes: Text = Field("", description="Anything else worth knowing.")
    north: North = Field(None, description="North, degrees clockwise from plan up, or unknown.")
    crs: (
        Annotated[
            Annotated[Name, Tag("<text>")] | Annotated[WholeFromOne, Tag("<code>")],
            Discriminator(lambda value: "<code>" if isinstance(value, int) else "<text>"),
        ]
        | None
    ) = Field(
        None,
        description="Map system of positions typed here (EPSG code or WKT); default: that of the "
        "elevation data.",
    )
    map_origin: MapPosition | None = Field(
        None,
        description="Map position of plan 0,0 in the map's units. Without it, and with elevation "
        "data on a map, typed positions are map positions.",
    )
    tie_points: TiePoints | None = Field(
        None,
        description="In place of map_origin: two points or more, each by its position on the plan "
        "and on the map, which turn and move the plan onto the map.",
    )
    benchmark: BenchmarkTable | None = Field(
        None, description="A point of known height to level from."
    )

    files_elsewhere: bool = Field(
        False, description="Whether files outside the site file's folder may be read.", strict=True
    )

    @model_validator(mode="after")
    def _one_place(self) -> SiteTable:
        if self.map_origin is not None and self.tie_points is not None:
            raise refuse("either map_origin or tie_points, one of the two")
        return self


class TerrainTable(Table):
    """Where the heights of the ground come from and how good they are."""

    spot_heights: FileName | None = Field(
        None, description="CSV file with columns name, x, y, z and, if wanted, remark."
    )
    levels: FileName | None = Field(
        None, description="CSV file of level notes, or of heights below a level line."
    )
    ties: FileName | None = Field(
        None, description="CSV file of points by tape ties: name, from_1, tie_1, from_2, tie_2."
    )
    elevation: Tiles | None = Field(
        None,
        description="Elevation data, such as a GeoTIFF; several tiles as a list, or an address.",
    )
    vertical_unit: VerticalUnits | None = Field(
        None,
        description="Unit of the elevation data's heights, where the file does not say it; one, "
        "or one for each tile.",
    )
    network: bool = Field(
        False, description="Whether elevation data may be read over the network.", strict=True
    )
    band: WholeFromOne = Field(1, description="Band of the raster, counted from 1.")
    cell_size: PositiveLength | None = Field(None, description="Cell size of the ground's grid.")
    heights_by: Name | None = Field(
        None, description="How heights were taken, such as laser level or string level."
    )
    accuracy: PositiveLength | None = Field(
        None, description="Standard deviation of one height, where it is known better."
    )

    @model_validator(mode="after")
    def _some_heights(self) -> TerrainTable:
        if self.spot_heights is None and self.elevation is None and self.ties is None:
            also = " beside levels" if self.levels is not None else ""
            raise refuse(f'heights: spot_heights = "spots.csv" or elevation = "dem.tif"{also}')
        if self.levels is not None and self.spot_heights is None and self.ties is None:
            raise refuse('spot_heights = "spots.csv" or ties = "ties.csv" for where levels were')
        stray = self.model_fields_set & {"vertical_unit", "band", "network"}
        if self.elevation is None and stray:
            raise refuse(f'elevation = "dem.tif", which {" and ".join(sorted(stray))} belongs to')
        if isinstance(self.vertical_unit, list):
            tiles = len(self.elevation) if isinstance(self.elevation, list) else 1
            if len(self.vertical_unit) != tiles:
                raise refuse(f"one vertical_unit for each tile ({tiles}), or one for all of them")
        return self


class BreakLineTable(Table):
    """A line along which the ground bends or steps."""

    model_config = exactly_one(("through",), ("points", "height"), ("points", "top", "foot"))
    name: Name = Field(description='Its name, such as "north".')
    through: Annotated[list[Name], Field(min_length=2)] | None = Field(
        None, description="Names of the spot heights it runs through, in order."
    )
    drop: PositiveLength | None = Field(
        None, description="With through: how far the foot lies below the spot heights."
    )
    points: Line | None = Field(
        None, description="Its points in order, such as [[0, 0], [12.5, 4]]."
    )
    height: Length | None = Field(None, description="One height of the whole line.")
    top: (
        Annotated[
            Annotated[list[Length], Tag("<each>")] | Annotated[Length, Tag("<one>")],
            Discriminator(lambda value: "<each>" if isinstance(value, list) else "<one>"),
        ]
        | None
    ) = Field(None, description="Height of a step's top: one, or one for each point.")
    foot: (
        Annotated[
            Annotated[list[Length], Tag("<each>")] | Annotated[Length, Tag("<one>")],
            Discriminator(lambda value: "<each>" if isinstance(value, list) else "<one>"),
        ]
        | None
    ) = Field(None, description="Height of a step's foot: one, or one for each point.")
    foot_side: Side | None = Field(
        None, description="Side of a step's foot as the line is walked: left or right."
    )

    @model_validator(mode="after")
    def _one_way(self) -> BreakLineTable:
        self.one_of(
            ("through",),
            ("points",),
            expected='either through = ["P1", "P7"] or points = [[x, y], ...], one of the two',
        )
        given = self.model_fields_set & {"drop", "height", "top", "foot", "foot_side"}
        if self.through is not None:
            if given not in (set(), {"drop", "foot_side"}):
                raise refuse(
                    "with through: nothing more, or for a step both drop and foot_side, such as "
                    'drop = "6 in", foot_side = "left"'
                )
            return self
        if given not in ({"height"}, {"top", "foot", "foot_side"}):
            raise refuse(
                "with points: height = 101.2 alone, or for a step top, foot and foot_side, such "
                'as top = 101.2, foot = 100.7, foot_side = "left"'
            )
        self._check_heights()
        return self

    def _check_heights(self) -> None:
        points = self.points or []
        for heights in (self.top, self.foot):
            if isinstance(heights, list) and len(heights) != len(points):
                raise refuse(
                    f"one height, or one for each of the {len(points)} points, for top and foot"
                )
        if self.top is None:
            return
        for top, foot in zip(
            spread(self.top, len(points)), spread(self.foot, len(points)), strict=True
        ):
            if foot >= top:
                raise refuse("a foot that lies below the top, such as top = 101.2, foot = 100.7")


class BarrierTable(Table):
    """Something thin that dams surface water: solid edging, a raised walk, a low wall."""

    name: Name = Field(description='Its name, such as "north".')
    points: Line = Field(description="Its points in order, such as [[0, 0], [12.5, 4]].")
    height: PositiveLength = Field(description='Height above the ground, such as "4 in".')


class DrainTable(Table):
    """Something that takes water under the surface: a culvert, a yard inlet."""

    name: Name = Field(description='Its name, such as "north".')
    inlet: Spot = Field(description="Where water enters, such as [12.5, 4].")
    outlet: Annotated[
        Annotated[Point, Tag("<point>")]
        | Annotated[TiedTable, Tag("<tied>")]
        | Annotated[Literal["leaves the lot"], Tag("<text>")],
        Discriminator(lambda value: "<text>" if isinstance(value, str) else spot_kind(value)),
    ] = Field(description='Where it comes out, such as [12.5, 4], or "leaves the lot".')
    capacity: FlowRate | None = Field(None, description="What it can carry, such as 50 gpm.")


class BuildingTable(Outlined):
    """A building."""

    name: Name = Field(description='Its name, such as "north".')
    courtyards: list[Corners] = Field([], description="Open courts inside, each by its corners.")
    walls: Annotated[list[Name], Field(min_length=3)] | None = Field(
        None, description="A name for each wall, in the order of the corners."
    )
    kind: BuildingKind | None = Field(None, description="What lies under it.")
    footing_depth: Distance | None = Field(
        None, description="Depth of the footing below the ground outside."
    )
    clearances: list[ClearanceTable] = Field(
        [], description="What soil must stay below, stretch by stretch of the walls."
    )
    neighbor: bool | None = Field(
        None,
        description="Whether it is a neighbor's: in the water's way, but not judged. Default: "
        "whether it lies off the lot. With an outline without pick: all buildings of the file "
        "that no other [[building]] names.",
    )


class SideTable(Table):
    """One side of the lot."""

    name: Name | None = Field(None, description="Its name; default: side 1, side 2, ...")
    neighbor: Neighbor = Field(description='What lies beyond it, such as "street".')


class LotTable(Outlined):
    """The lot's boundary."""

    sides: list[SideTable] | None = Field(
        None, description="One for each side, in the order of the corners."
    )


class PavingTable(Outlined):
    """A walk, drive or patio, or the public sidewalk."""

    name: Name = Field(description='Its name, such as "north".')
    kind: PavingKind = Field(description='What it is, such as "drive".')


class KeepOutTable(AreaTable):
    """Ground not to be dug freely."""

    kind: KeepOutKind = Field(description='What is there, such as "tree roots".')
    allowed: Allowed = Field("nothing", description="What may be done there.")


class EasementTable(AreaTable):
    """A strip that others have rights in."""

    may_take_water: bool = Field(
        False, description="Whether water may be let go there.", strict=True
    )


class OutletTable(Table):
    """A place that may take the water."""

    model_config = exactly_one(("point",), ("line",), ("corners",))
    name: Name = Field(description='Its name, such as "north".')
    kind: OutletKind = Field(description='What it is, such as "ditch".')
    point: Spot | None = Field(None, description="Where it is, [x, y].")
    line: Line | None = Field(None, description="Its line, [[x, y], ...].")
    corners: Corners | None = Field(None, description="Its corners, [[x, y], ...].")
    permission: Text = Field("", description="Who allowed it, and when.")
    invert: Length | None = Field(
        None, description="Height of its inside bottom where a pipe may come in."
    )
    water: Length | None = Field(None, description="Height of the water that may stand in it.")

    @model_validator(mode="after")
    def _one_place(self) -> OutletTable:
        self.one_of(
            ("point",),
            ("line",),
            ("corners",),
            expected="one of point = [x, y], line = [[x, y], ...] and corners = [[x, y], ...]",
        )
        return self


class Document(Table):
    """A site file: what a person wrote down about a lot and where its water goes."""

    site: SiteTable
    terrain: TerrainTable
    break_line: list[BreakLineTable] = Field([], description="Bends and steps of the ground.")
    barrier: list[BarrierTable] = Field([], description="What dams surface water.")
    drain: list[DrainTable] = Field([], description="What takes water under the surface.")
    building: list[BuildingTable] = Field([], description="Buildings.")
    lot: LotTable | None = Field(None, description="The lot's boundary.")
    paving: list[PavingTable] = Field([], description="Walks, drives and patios.")
    keep_out: list[KeepOutTable] = Field([], description="Ground not to be dug freely.")
    easement: list[EasementTable] = Field([], description="Strips that others have rights in.")
    outlet: list[OutletTable] = Field([], description="Places that may take the water.")
    roof: list[RoofTable] = Field([], description="Roof planes.")
    downspout: list[DownspoutTable] = Field([], description="Downspouts.")
    opening: list[OpeningTable] = Field([], description="Where water at a wall gets in.")
    sump: list[SumpTable] = Field([], description="Sump pumps.")
    gutter: list[GutterTable] = Field([], description="Gutters.")
    photograph: list[PhotographTable] = Field([], description="Photographs.")
    rain: RainTable | None = Field(None, description="Rains to judge and to size by.")
    soil: SoilTable | None = Field(None, description="The soil.")
    pipe: PipeTable | None = Field(None, description="The pipe of buried lines.")
    prices: PricesTable | None = Field(None, description="Unit prices.")
    rules: dict[str, Any] = Field({}, description="Limits to use instead of the defaults.")
