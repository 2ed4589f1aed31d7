"""Typed positions, corners and outlines to plan geometry, complaining where they cannot be used.

In: what the tables hold. Out: arrays and polygons in plan metres, or None once a complaint is made.

In: corners in plan metres, or a feature of a vector file. Out: shapely polygons whose rings keep
the order in which the corners were written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, make_valid

from runoff.site.elevation.georeference import Frame, read_crs
from runoff.site.files import check_vector
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, MapError
from runoff.site.survey.ties import NamedPoints, TieError, shown_ties
from runoff.site.survey.wall_runs import Run, RunError, close, parse_run
from runoff.site.written.entries import AreaTable, Outlined, OutlineTable, TiedTable
from runoff.site.written.entry_lines import Path as Entry

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

SAME_PLACE_M = 1e-6
LEAST_AREA_M2 = 1e-3
# A ring that touches itself is mended where the ground it encloses changes by less than this.
_MEND_SHARE = 1e-6


class OutlineError(ValueError):
    """An outline that cannot be used; its text says what is expected."""


def ring(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of a ring, (k, 2), without the first repeated at the end.

    Raises
    ------
    OutlineError
        Where they enclose no ground, or a side crosses another.

    Examples
    --------
    >>> ring(np.array([[0, 0], [4, 0], [4, 3], [0, 0]])).shape
    (3, 2)
    """
    if len(corners) > 1 and np.hypot(*(corners[0] - corners[-1])) <= SAME_PLACE_M:
        corners = corners[:-1]
    if len(corners) < 3:
        raise OutlineError("at least 3 different corners")
    for number, (one, other) in enumerate(zip(corners, np.roll(corners, -1, axis=0), strict=True)):
        if np.hypot(*(other - one)) <= SAME_PLACE_M:
            following = (number + 1) % len(corners) + 1
            raise OutlineError(
                f"different corners; corners {number + 1} and {following} are the same place"
            )
    polygon = Polygon(corners)
    if not polygon.is_valid:
        raise OutlineError(f"an outline that does not cross itself; {_crossing(corners)}")
    if polygon.area < LEAST_AREA_M2:
        raise OutlineError("corners that enclose some ground")
    return corners


def _crossing(corners: NDArray[np.float64]) -> str:
    """Which two sides cross or touch."""
    ends = np.roll(corners, -1, axis=0)
    sides = [LineString(pair) for pair in zip(corners, ends, strict=True)]
    for one, other in combinations(range(min(len(sides), 300)), 2):
        beside = other - one == 1 or (one == 0 and other == len(sides) - 1)
        met = sides[one].intersection(sides[other])
        if not met.is_empty and (not beside or met.length > SAME_PLACE_M):
            return f"side {one + 1} meets side {other + 1} (side 1 runs from corner 1 to corner 2)"
    return "two of its sides meet"


def polygon(
    outside: NDArray[np.float64], holes: Sequence[NDArray[np.float64]] = ()
) -> tuple[Polygon, NDArray[np.float64]]:
    """A polygon and the corners of its outer ring, from rings of (k, 2) plan positions.

    Raises
    ------
    OutlineError
        Where a ring cannot be used, or a hole does not lie inside.
    """
    corners = ring(outside)
    inner = [ring(hole) for hole in holes]
    shape = Polygon(corners, inner)
    if not shape.is_valid or any(not Polygon(corners).covers(Polygon(hole)) for hole in inner):
        raise OutlineError("courtyards that lie inside the outline and do not meet each other")
    return shape, corners


class VectorFiles:
    """Outlines from vector files, each layer read once.

    Parameters
    ----------
    frame : Frame
        How positions become plan metres.
    """

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._layers: dict[tuple[Path, str | None], GeoDataFrame] = {}
        self.notices: list[Notice] = []

    def outline(
        self, path: Path, shown: str, layer: str | None, pick: dict[str, Any] | int | None
    ) -> tuple[Polygon, NDArray[np.float64]]:
        """A feature's polygon in plan metres and the corners of its outer ring.

        Raises
        ------
        OutlineError
            Where the file, the feature or its outline cannot be used.
        """
        table = self._layer(path, shown, layer)
        return self._placed(_one_polygon(_pick(table, pick, shown), shown), table, path, shown)

    def count(self, path: Path, shown: str, layer: str | None) -> int:
        """How many features a layer has.

        Raises
        ------
        OutlineError
            Where the file cannot be used.
        """
        return len(self._layer(path, shown, layer))

    def all_outlines(
        self, path: Path, shown: str, layer: str | None
    ) -> tuple[list[tuple[int, Polygon]], int]:
        """Every polygon of a layer in plan metres with its feature's number, and how many are not.

        Raises
        ------
        OutlineError
            Where the file cannot be used.
        """
        table = self._layer(path, shown, layer)
        found, unusable = [], 0
        for number, shape in enumerate(table.geometry, start=1):
            for part in getattr(shape, "geoms", [shape]):
                try:
                    found.append((number, self._placed(part, table, path, shown)[0]))
                except OutlineError:
                    unusable += 1
        return found, unusable

    def _placed(
        self, shape: Polygon, table: GeoDataFrame, path: Path, shown: str
    ) -> tuple[Polygon, NDArray[np.float64]]:
        if not isinstance(shape, Polygon) or shape.is_empty:
            raise OutlineError(f"a feature of {shown} that is one polygon")
        shape, mended = _mended(shape)
        if mended:
            self.notices.append(Notice("outline touches itself", (shown,)))
        rings = [np.asarray(part.coords)[:, :2] for part in (shape.exterior, *shape.interiors)]
        try:
            outside, *holes = [self._to_plan(points, table, path, shown) for points in rings]
        except MapError as error:
            raise OutlineError(f"{error} ({shown} has map positions)") from None
        return polygon(outside, holes)

    def _layer(self, path: Path, shown: str, layer: str | None) -> GeoDataFrame:
        import geopandas

        key = (path, layer)
        if key not in self._layers:
            try:
                present = path.is_file() or path.is_dir()
            except (OSError, ValueError):
                present = False
            if not present:
                raise OutlineError(f"a vector file; there is no file {shown}")
            try:
                check_vector(path)
                layers = [str(name) for name in geopandas.list_layers(path)["name"]]
                table = geopandas.read_file(path, layer=layer or layers[0])
            except Exception as error:  # readers of many formats raise errors of many kinds
                reason = " ".join(str(error).split())[:120]
                raise OutlineError(
                    f"a vector file with outlines, and a layer it has ({reason})"
                ) from None
            if layer is None and len(layers) > 1:
                raise OutlineError(f"layer, as {shown} has several: {', '.join(layers)}")
            if not isinstance(table, geopandas.GeoDataFrame) or table.empty:
                raise OutlineError(f"a vector file with outlines; {shown} has none")
            self._layers[key] = table
        return self._layers[key]

    def _to_plan(
        self, points: NDArray[np.float64], table: GeoDataFrame, path: Path, shown: str
    ) -> NDArray[np.float64]:
        if table.crs is None or (self._frame.georeference is None and _says_no_crs(path)):
            return self._frame.to_plan([(float(x), float(y)) for x, y in points])
        return self._frame.from_crs(points, read_crs(table.crs))


def _says_no_crs(path: Path) -> bool:
    """Whether a file is GeoJSON that names no map system, as one drawn on a plan does."""
    if path.suffix.lower() not in (".geojson", ".json"):
        return False
    return b'"crs"' not in path.read_bytes()


def _pick(table: GeoDataFrame, pick: dict[str, Any] | int | None, shown: str) -> Any:
    """The geometry of the one feature that is picked."""
    if pick is None:
        if len(table) != 1:
            raise OutlineError(
                f"pick, as {shown} has {len(table)} features: pick = {{field = value}} or the "
                "feature's number from 1"
            )
        return table.geometry.iloc[0]
    if isinstance(pick, int):
        if pick > len(table):
            raise OutlineError(f"a feature's number from 1 to {len(table)}")
        return table.geometry.iloc[pick - 1]
    chosen = np.ones(len(table), dtype=bool)
    for name, value in pick.items():
        if name not in table.columns or name == table.geometry.name:
            fields = sorted(str(column) for column in table.columns if column != "geometry")
            raise OutlineError(f'a field of {shown} in place of "{name}": {", ".join(fields)}')
        chosen &= np.array([_same(item, value) for item in table[name]], dtype=bool)
    if chosen.sum() != 1:
        raise OutlineError(f"a pick that fits one feature of {shown}; {chosen.sum()} fit")
    return table.geometry.iloc[int(np.flatnonzero(chosen)[0])]


def _same(held: Any, wanted: Any) -> bool:
    """Whether a feature's value is the wanted one, numbers and texts of numbers alike."""
    if isinstance(wanted, str) or isinstance(held, str):
        return str(held) == str(wanted)
    return bool(held == wanted)


def _one_polygon(shape: Any, shown: str) -> Polygon:
    if shape is not None and shape.geom_type == "MultiPolygon" and len(shape.geoms) == 1:
        return shape.geoms[0]
    if not isinstance(shape, Polygon) or shape.is_empty:
        kind = "nothing" if shape is None else shape.geom_type
        raise OutlineError(f"a feature of {shown} that is one polygon; this one is {kind}")
    return shape


def _mended(shape: Polygon) -> tuple[Polygon, bool]:
    """A polygon whose ring touches itself, as the ground it encloses; and whether it was mended.

    Real outlines draw a courtyard that way. A ring that crosses itself encloses other ground and
    is left as it is, to be refused.
    """
    if shape.is_valid:
        return shape, False
    whole = make_valid(shape)
    parts = [part for part in getattr(whole, "geoms", [whole]) if part.area > 0]
    largest = max(parts, key=lambda part: part.area, default=None)
    if not isinstance(largest, Polygon):
        return shape, False
    same = abs(largest.area - shape.area) <= _MEND_SHARE * largest.area
    return (largest, True) if same else (shape, False)


Typed = Sequence[tuple[float, float]]


@dataclass
class Shapes:
    """Makes plan geometry for one site.

    Parameters
    ----------
    folder : Path
        The site file's folder, which relative paths start from.
    frame : Frame
        How typed positions become plan metres.
    complaints : Complaints
        Takes what is wrong.
    files : VectorFiles
        Outlines from vector files.
    points : NamedPoints
        Points that places may be taped from.
    """

    folder: Path
    frame: Frame
    complaints: Complaints
    files: VectorFiles
    points: NamedPoints

    @property
    def system(self) -> str:
        """The measures to show to this user."""
        return "metric" if self.frame.unit == 1.0 else "us"

    def spot(self, typed: Any, entry: Entry) -> tuple[float, float] | None:
        """One position on the plan, by coordinates or by tape ties."""
        return self.tied(typed, entry) if isinstance(typed, TiedTable) else self.point(typed, entry)

    def tied(self, table: TiedTable, entry: Entry) -> tuple[float, float] | None:
        """Where tape ties from named points meet."""
        strange = [
            ((*entry, "ties", place, "from"), tie.point)
            for place, tie in enumerate(table.ties)
            if tie.point not in self.points.at
        ]
        if table.near is not None and table.near not in self.points.at:
            strange.append(((*entry, "near"), table.near))
        for where, name in strange:
            self.complaints.add(where, self.points.expected(name))
        if strange:
            return None
        ties = [(tie.point, tie.distance) for tie in table.ties]
        try:
            return self.points.tied(ties, table.side, table.near, self.complaints.entry(entry))
        except TieError as error:
            self.complaints.add((*entry, "ties"), str(error), shown_ties(ties, self.points))
            return None

    def point(self, typed: tuple[float, float], entry: Entry) -> tuple[float, float] | None:
        """One position on the plan."""
        placed = self.placed([typed], entry)
        return None if placed is None else (float(placed[0, 0]), float(placed[0, 1]))

    def placed(self, typed: Typed, entry: Entry) -> NDArray[np.float64] | None:
        """(k, 2) positions on the plan."""
        try:
            return self.frame.to_plan(typed)
        except MapError as error:
            self.complaints.add(entry, str(error))
            return None

    def line(self, typed: Typed, entry: Entry) -> NDArray[np.float64] | None:
        """A line of (k, 2) positions, each different from the one before."""
        placed = self.placed(typed, entry)
        if placed is None:
            return None
        repeated = np.flatnonzero(np.hypot(*np.diff(placed, axis=0).T) == 0.0)
        if repeated.size:
            number = int(repeated[0]) + 1
            self.complaints.add(
                (*entry, number), "a point that differs from the one before it in the line"
            )
            return None
        return placed

    def outlined(
        self, table: Outlined, entry: Entry, courtyards: Sequence[Typed] = ()
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """The polygon of a table with corners or a vector file, and its corners in order."""
        if table.outline is not None:
            found = self.from_file(table.outline, (*entry, "outline"))
            if found is None or not courtyards:
                return found
            self.complaints.add(
                (*entry, "courtyards"), "courtyards as holes of the outline in the vector file"
            )
            return None
        if table.runs is not None:
            return self._by_runs(table, table.runs, entry, courtyards)
        return self.polygon(table.corners or [], (*entry, "corners"), courtyards)

    def _by_runs(
        self, table: Outlined, texts: Sequence[str], entry: Entry, courtyards: Sequence[Typed]
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """The polygon that runs of wall enclose, closed by the compass rule."""
        start = self.point(table.start, (*entry, "start")) if table.start is not None else None
        runs: list[Run] = []
        for number, text in enumerate(texts):
            try:
                runs.append(parse_run(text, "m" if self.frame.unit == 1.0 else "ft"))
            except RunError as error:
                self.complaints.add((*entry, "runs", number), str(error))
        if start is None or len(runs) < len(texts):
            return None
        try:
            closed = close(runs, start, self.points)
        except RunError as error:
            where: Entry = (*entry, "runs", 0) if runs[0].bearing is None else (*entry, "runs")
            self.complaints.add(where, str(error))
            return None
        if closed.misclosure > SAME_PLACE_M:
            named = (self.complaints.entry(entry),)
            missed = {"misclosure_m": closed.misclosure, "length_m": closed.length}
            self.points.notices.append(Notice("runs closed", named, missed))
        try:
            holes = [self.frame.to_plan(hole) for hole in courtyards]
            return polygon(closed.corners, holes)
        except (MapError, OutlineError) as error:
            self.complaints.add((*entry, "runs"), str(error))
            return None

    def polygon(
        self, corners: Typed, entry: Entry, courtyards: Sequence[Typed] = ()
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """The polygon with these corners, and the corners in order."""
        try:
            holes = [self.frame.to_plan(hole) for hole in courtyards]
            return polygon(self.frame.to_plan(corners), holes)
        except (MapError, OutlineError) as error:
            self.complaints.add(entry, str(error))
            return None

    def from_file(
        self, outline: OutlineTable, entry: Entry
    ) -> tuple[Polygon, NDArray[np.float64]] | None:
        """An outline from a vector file."""
        try:
            return self.files.outline(
                self.folder / outline.file, outline.file, outline.layer, outline.pick
            )
        except OutlineError as error:
            self.complaints.add(entry, str(error))
            return None

    def area(self, table: AreaTable, entry: Entry) -> Polygon | None:
        """The ground of a keep-out or an easement."""
        if table.outline is not None:
            found = self.from_file(table.outline, (*entry, "outline"))
            return None if found is None else found[0]
        if table.corners is not None:
            found = self.polygon(table.corners, (*entry, "corners"))
            return None if found is None else found[0]
        if table.point is not None and table.radius is not None:
            center = self.spot(table.point, (*entry, "point"))
            return None if center is None else Point(center).buffer(table.radius, quad_segs=16)
        middle = self.line(table.line or [], (*entry, "line"))
        if middle is None or table.width is None:
            return None
        strip = LineString(middle).buffer(table.width / 2.0, cap_style="flat")
        if not isinstance(strip, Polygon) or strip.area < LEAST_AREA_M2:
            self.complaints.add((*entry, "line"), "a line whose strip is one piece of ground")
            return None
        return strip

    def place(self, table: Any, entry: Entry) -> Any:
        """A point, line or area that may take water."""
        if table.point is not None:
            position = self.spot(table.point, (*entry, "point"))
            return None if position is None else Point(position)
        if table.line is not None:
            line = self.line(table.line, (*entry, "line"))
            return None if line is None else LineString(line)
        found = self.polygon(table.corners, (*entry, "corners"))
        return None if found is None else found[0]
