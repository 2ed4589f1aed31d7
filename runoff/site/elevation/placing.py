"""Elevation data's own map system, and from it how typed positions lie on the plan."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from shapely import get_coordinates
from shapely.geometry.base import BaseGeometry

from runoff.site.elevation.files import (
    METRES_PER_VERTICAL_UNIT,
    NEEDS_NETWORK,
    Look,
    is_address,
    kind_of,
    look_at,
    vertical_datum,
)
from runoff.site.elevation.georeference import (
    Frame,
    frame_by_ties,
    frame_on_map,
    read_crs,
    transform,
)
from runoff.site.files import check_raster
from runoff.site.ground import written
from runoff.site.model import ElevationSource, SpotHeight
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, MapError, Problem
from runoff.site.survey.spots import SpotRow
from runoff.site.written.document import SiteTable, TerrainTable
from runoff.site.written.fields import METRES_PER_UNIT
from runoff.site.written.tables import may_lie_elsewhere

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from pyproj import CRS

ELEVATION = ("terrain", "elevation")
UNIT = ("terrain", "vertical_unit")
_NORTH_APART = 5.0
# No lot reaches so far from its heights, metres.
FARTHEST_OFF_M = 5000.0
# A shot is off its lot where it lies so far from the middle of all, metres, and so many times as
# far as half of them do.
_FAR_SHOT_M, _FAR_SHOT_TIMES = 1000.0, 20.0
_FEWEST_TO_JUDGE = 4


@dataclass(frozen=True)
class Elevation:
    """Elevation data: its source record, its map system (None: the files name none), its middle."""

    source: ElevationSource
    crs: CRS | None
    middle: tuple[float, float]


def read_elevation(
    terrain: TerrainTable | None,
    site: SiteTable | None,
    folder: Path,
    complaints: Complaints,
    notices: list[Notice],
) -> Elevation | None:
    """Look at the elevation data; None where none is given or it cannot be used."""
    if terrain is None or terrain.elevation is None:
        return None
    several = isinstance(terrain.elevation, list)
    names = terrain.elevation if isinstance(terrain.elevation, list) else [terrain.elevation]
    units = _stated_units(terrain, len(names))
    tiles: list[tuple[ElevationSource, Look]] = []
    for number, (name, unit) in enumerate(zip(names, units, strict=True)):
        entry = (*ELEVATION, number) if several else ELEVATION
        look = _look(name, folder, terrain, entry, complaints)
        if look is None:
            continue
        location = name if is_address(name) else folder / name
        source = ElevationSource(
            path=location,
            band=terrain.band,
            vertical_unit=_unit(name, unit, look, complaints, notices),
            written=written(complaints, entry),
            crs=_crs_of_tile(name, look, site, complaints, notices),
            network=terrain.network,
        )
        tiles.append((source, look))
    if len(tiles) < len(names):
        return None
    _refuse_two_datums(tiles, complaints)
    first, look = tiles[0]
    whole = replace(
        first, others=tuple(source for source, _ in tiles[1:]), shift=_shift(site, notices)
    )
    return Elevation(whole, _horizontal(look.crs), look.middle)


def _stated_units(terrain: TerrainTable, count: int) -> list[float | None]:
    """Metres in a unit of each tile's heights, where the site file states it."""
    stated = terrain.vertical_unit
    if stated is None:
        return [None] * count
    named = stated if isinstance(stated, list) else [stated] * count
    return [METRES_PER_VERTICAL_UNIT[name] for name in named]


def _typed_crs(site: SiteTable | None) -> str | None:
    """WKT of the map system in which positions are typed; None where none, or no good, is named."""
    try:
        return None if site is None or site.crs is None else read_crs(site.crs).to_wkt()
    except MapError:
        return None


def _look(
    name: str,
    folder: Path,
    terrain: TerrainTable,
    entry: tuple[str | int, ...],
    complaints: Complaints,
) -> Look | None:
    location = name if is_address(name) else folder / name
    if is_address(name) and not terrain.network:
        complaints.add(entry, NEEDS_NETWORK)
        return None
    if isinstance(location, Path) and not _is_there(location):
        complaints.add(entry, "elevation data, such as a GeoTIFF; there is no such file")
        return None
    try:
        if isinstance(location, Path) and kind_of(location) == "raster":
            inside = None if may_lie_elsewhere(complaints.raw) else folder
            check_raster(location, inside, terrain.network)
        look = look_at(location, terrain.network, terrain.band)
    except MapError as error:
        complaints.add(entry, str(error))
        return None
    if terrain.band > look.bands:
        complaints.add(("terrain", "band"), f"a band from 1 to {look.bands}")
        return None
    return look


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def _unit(
    name: str, stated: float | None, look: Look, complaints: Complaints, notices: list[Notice]
) -> float | None:
    """Metres in a unit of the heights: as stated, else as the file says, else asked for."""
    if stated is None and look.unit is None:
        complaints.add(
            UNIT,
            f'the unit of the heights in {name}, such as vertical_unit = "m", "ft" or '
            '"us survey ft"; the file does not say it',
            written="",
        )
    if stated is not None and look.unit is not None and abs(stated / look.unit - 1.0) > 1e-5:
        units = {"unit_said_m": look.unit, "unit_read_m": stated}
        notices.append(Notice("unit overridden", (name,), units))
    return look.unit if stated is None else stated


def _crs_of_tile(
    name: str,
    look: Look,
    site: SiteTable | None,
    complaints: Complaints,
    notices: list[Notice],
) -> str | None:
    """The map system to read a file in that names none: that of typed positions, else asked for."""
    if _horizontal(look.crs) is not None:
        return None
    typed = _typed_crs(site)
    if typed is None:
        if site is not None and not (site.crs or site.map_origin or site.tie_points):
            complaints.add(
                ("site", "crs"),
                f'the map system of {name}, such as crs = "EPSG:26916"; the file does not name one',
                written="",
            )
        return None
    notices.append(Notice("map system taken", (name, read_crs(typed).name)))
    return typed


def _refuse_two_datums(tiles: list[tuple[ElevationSource, Look]], complaints: Complaints) -> None:
    """Tiles that say to stand on two vertical datums cannot be one ground."""
    datums: dict[str, str] = {}
    for source, look in tiles:
        datum = vertical_datum(look.crs)
        if datum is not None:
            datums.setdefault(datum, source.name)
    if len(datums) > 1:
        said = ", ".join(f"{name} stands on {datum}" for datum, name in datums.items())
        complaints.add(ELEVATION, f"tiles whose heights stand on one datum; {said}")


def _shift(site: SiteTable | None, notices: list[Notice]) -> float:
    """What brings heights of the elevation data to the survey's datum, metres."""
    mark = None if site is None else site.benchmark
    if site is None or mark is None or mark.map_height is None:
        return 0.0
    shift = mark.height - mark.map_height
    notices.append(Notice("elevation shifted", (mark.name,), {"shift_m": shift}))
    return shift


def _horizontal(wkt: str | None) -> CRS | None:
    """The map system of elevation data; None where it names none that positions can be in."""
    try:
        return None if wkt is None else read_crs(wkt)
    except MapError:
        return None


def place_on_map(
    site: SiteTable | None,
    elevation: Elevation | None,
    rows: Sequence[SpotRow] | None,
    units: str,
    complaints: Complaints,
    notices: list[Notice],
) -> Frame | None:
    """How typed positions become plan metres; None, and a complaint, where that cannot be told."""
    plan = Frame(METRES_PER_UNIT[units])
    if site is None:
        return plan
    held = None if elevation is None else elevation.crs
    try:
        typed = held if site.crs is None else read_crs(site.crs)
    except MapError as error:
        complaints.add(("site", "crs"), str(error))
        return None
    entry = next((name for name in ("map_origin", "tie_points") if getattr(site, name)), "crs")
    told = elevation is None and _gives_elevation(complaints)
    if told and (typed is None or entry == "crs"):
        return plan
    if typed is None:
        if entry == "crs":
            return plan
        complaints.add(
            ("site", "crs"), f'a map system for {entry}, such as crs = "EPSG:26916"', written=""
        )
        return None
    try:
        frame = _frame(site, typed, elevation, rows, plan.unit, notices)
    except MapError as error:
        complaints.add(("site", entry), str(error))
        return None
    if frame.georeference is not None and read_crs(frame.georeference.crs) != typed:
        name = read_crs(frame.georeference.crs).name
        notices.append(Notice("worked in another system", (name, typed.name)))
    return frame


def _gives_elevation(complaints: Complaints) -> bool:
    """Whether the file names elevation data, which might have told the map system."""
    terrain = complaints.raw.get("terrain")
    return isinstance(terrain, dict) and "elevation" in terrain


def _frame(
    site: SiteTable,
    typed: CRS,
    elevation: Elevation | None,
    rows: Sequence[SpotRow] | None,
    unit: float,
    notices: list[Notice],
) -> Frame:
    """The frame by common points, by the map position of 0,0, or by typed map positions."""
    if site.tie_points is None:
        near = site.map_origin or _near(typed, elevation, rows)
        return frame_on_map(typed, near, site.map_origin, unit)
    ties = [(tie.plan, tie.map) for tie in site.tie_points]
    frame, tie = frame_by_ties(typed, ties, unit)
    fit = {"misfit_m": tie.misfit, "scale": tie.scale}
    turned = {"turned_degrees": math.degrees(tie.rotation)}
    notices.append(Notice("tied to the map", figures={**turned, **fit}))
    return frame


def north_of(site: SiteTable, frame: Frame, notices: list[Notice]) -> float | None:
    """North, degrees clockwise from plan up: as stated, else as common points turn the plan."""
    if site.tie_points is None or frame.georeference is None:
        return site.north
    tied = math.degrees(frame.georeference.rotation) % 360.0
    if site.north is None:
        return tied
    apart = abs((site.north - tied + 180.0) % 360.0 - 180.0)
    if apart > _NORTH_APART:
        degrees = {"north_degrees": site.north, "tied_degrees": tied}
        notices.append(Notice("north apart", figures=degrees))
    return site.north


def refuse_far_off(
    places: Sequence[tuple[tuple[str | int, ...], BaseGeometry]],
    spots: Sequence[SpotHeight],
    elevation: Elevation | None,
    frame: Frame,
    complaints: Complaints,
) -> None:
    """Complain of what lies kilometres off the heights, before ground is made between the two.

    Most likely map coordinates were given without their map system, or the other way around; or,
    where the plan's own 0,0 lies as far off, that was typed wrong, and is told alone.

    Parameters
    ----------
    places : sequence of (entry, outline in plan metres)
    """
    import numpy as np

    near, on_map = "the heights", False
    if spots:
        middle = _refuse_far_shots(spots, complaints)
    elif elevation is not None and frame.georeference is not None and elevation.crs is not None:
        middle = frame.from_crs(np.array([elevation.middle], dtype=np.float64), elevation.crs)[0]
        on_map = _says_origin(complaints) and float(np.hypot(*middle)) > FARTHEST_OFF_M
    elif places:
        # No heights to hold them against, as where those could not be read: against each other.
        middle = np.median([outline.centroid.coords[0] for _, outline in places], axis=0)
        near = "the rest of the lot"
    else:
        return
    for entry, outline in places:
        corners = get_coordinates(outline)
        off = float(np.hypot(*(corners - middle).T).max()) if len(corners) else 0.0
        if off > FARTHEST_OFF_M and on_map:
            complaints.add(
                ("site", "map_origin"),
                "the position of the plan's 0,0 on the map, near the elevation data; this puts "
                f"the lot {off / 1000:,.0f} km off it: check its figures and their order, easting "
                "before northing",
            )
            return
        if off > FARTHEST_OFF_M:
            origin = ", which map_origin places" if _says_origin(complaints) else ""
            complaints.add(
                entry,
                f"positions near {near}; these lie {off / 1000:.0f} km off: map coordinates "
                "need their map system (crs in [site], or in the file that holds them), and "
                f"positions on the plan are counted from its 0,0{origin}",
                written="",
            )


def _says_origin(complaints: Complaints) -> bool:
    site = complaints.raw.get("site")
    return isinstance(site, dict) and "map_origin" in site


def _refuse_far_shots(spots: Sequence[SpotHeight], complaints: Complaints) -> NDArray[np.float64]:
    """Complain of single shots far off all others; returns the middle of all, plan metres.

    The grid would have to reach to each, with cells as coarse as that takes.
    """
    import numpy as np

    xy = np.array([(spot.x, spot.y) for spot in spots])
    middle: NDArray[np.float64] = np.median(xy, axis=0)
    away = np.hypot(*(xy - middle).T)
    most = max(_FAR_SHOT_M, _FAR_SHOT_TIMES * float(np.median(away)))
    if len(spots) < _FEWEST_TO_JUDGE:
        return middle
    for k in np.flatnonzero(away > most).tolist():
        written = spots[k].written
        expected = (
            f"a place near the other shots; this one lies {away[k] / 1000:,.0f} km off the middle "
            "of them all: check where it was taken, its figures and their units"
        )
        entry = f"spot height {spots[k].name!r}"
        complaints.problems.append(Problem(written.file, written.line, entry, "", expected))
    return middle


def _near(
    typed: CRS, elevation: Elevation | None, rows: Sequence[SpotRow] | None
) -> tuple[float, float]:
    """A position near the lot in the map system of typed positions."""
    if elevation is not None:
        source = elevation.crs or typed
        import numpy as np

        x, y = transform(np.array([elevation.middle]), source, typed)[0]
        return float(x), float(y)
    for row in rows or ():
        if row.x is not None and row.y is not None:
            return float(row.x), float(row.y)
    raise MapError("map_origin, or positions of spot heights, to tell where on the map the lot is")
