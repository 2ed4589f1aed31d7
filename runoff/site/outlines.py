"""Outlines: from corners to polygons, refused by reason where they enclose no ground.

In: corners in plan metres, or a feature of a vector file. Out: shapely polygons whose rings keep
the order in which the corners were written.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon, make_valid

from runoff.site.georeference import Frame, MapError, read_crs
from runoff.site.safe_files import check_vector

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
        self.notices: list[str] = []

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
            self.notices.append(
                f"An outline in {shown} touches itself; it is read as the ground it encloses."
            )
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
