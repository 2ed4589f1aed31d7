"""The site file as it is written: one pydantic model for each table.

In: what tomllib read. Out: the same tables with lengths in metres and positions as they were typed,
each table checked on its own. What one table says about another is checked in
`runoff.site.reading`. The descriptions here are the site file's reference and its JSON schema.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Discriminator, Field, Tag, model_validator

from runoff.site.elevation.files import TiePoints, Tiles, VerticalUnits
from runoff.site.model import (
    Allowed,
    BuildingKind,
    ClearanceKind,
    GutterShape,
    KeepOutKind,
    Neighbor,
    OpeningKind,
    OutletEnds,
    OutletKind,
    PavingKind,
    PipeWall,
    Units,
)
from runoff.site.rain.entries import RainTable
from runoff.site.soil.tables import SoilTable
from runoff.site.written.entries import (
    AreaTable,
    Outlined,
    Spot,
    Table,
    TiedTable,
    at_most_one,
    exactly_one,
    spot_kind,
    spread,
)
from runoff.site.written.fields import (
    METRES_PER_FOOT,
    Area,
    Corners,
    DateText,
    Distance,
    FileName,
    FlowRate,
    GutterSize,
    LeaderSize,
    Length,
    Line,
    MapPosition,
    Name,
    North,
    PipeSize,
    Pitch,
    Point,
    PositiveLength,
    PriceEach,
    PricePerArea,
    PricePerLength,
    PricePerVolume,
    Share,
    Side,
    Text,
    WholeFromOne,
    refuse,
)

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
