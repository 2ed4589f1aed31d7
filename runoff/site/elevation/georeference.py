"""Where the plan lies on a map: from typed positions to plan metres and between plan and map; a
local survey tied to it.

In: the same points in plan metres and in map metres. Out: how the plan lies on the map, and how
far the two sets of distances disagree.

In: positions as typed, in the file's units or in a map system's. Out: plan metres, and the
`Georeference` that other rooms use. The map system that is worked in is one whose scale is true;
where the given one is not, it is the local UTM zone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runoff.site.model import Georeference
from runoff.site.problems import MapError
from runoff.site.written.fields import Metres

if TYPE_CHECKING:
    from pyproj import CRS

NEAREST = 3.0
"""Common points closer together than this, metres, turn the plan too loosely."""
SCALE_OFF = 0.02
"""How far the distances between common points may disagree, as a share."""


@dataclass(frozen=True)
class Tie:
    """How a plan lies on a map.

    Parameters
    ----------
    origin : (x, y), metres
        Map position of plan 0,0.
    rotation : float, radians
        Counterclockwise, from the map's x axis to the plan's.
    scale : float
        Distances on the map over those on the plan; 1 where both were measured well.
    misfit : float, metres
        How far the worst common point lies from its place on the map.
    """

    origin: tuple[float, float]
    rotation: float
    scale: float
    misfit: float


def tie_plan(plan: NDArray[np.float64], on_map: NDArray[np.float64]) -> Tie:
    """Turn and move a plan onto a map so that its common points fit best.

    The rotation is the one of least squares in the plane,
    ``atan2(sum(p x m), sum(p . m))`` with both sets about their centroids. The plan keeps its
    lengths, for it was taped on the ground; the scale is only looked at.

    Parameters
    ----------
    plan, on_map : (n, 2) float arrays, metres
        The same points, at least two.

    Raises
    ------
    MapError
        Where the points lie together, their distances disagree by more than 2 %, or the plan is a
        mirror image of the map.

    References
    ----------
    Least squares with a rotation: P. H. Schoenemann (1966), A generalized solution of the
    orthogonal Procrustes problem, Psychometrika 31, doi 10.1007/BF02289451.

    Examples
    --------
    >>> plan = np.array([[0.0, 0.0], [10.0, 0.0]])
    >>> tie = tie_plan(plan, np.array([[500.0, 100.0], [500.0, 110.0]]))
    >>> tie.origin, round(float(np.degrees(tie.rotation)), 6), tie.scale, tie.misfit
    ((500.0, 100.0), 90.0, 1.0, 0.0)
    """
    p, m = plan - plan.mean(axis=0), on_map - on_map.mean(axis=0)
    if min(np.hypot(*p.T).max(), np.hypot(*m.T).max()) < NEAREST / 2.0:
        raise MapError(
            "common points at least 10 ft (3 m) apart, such as two far corners of the house"
        )
    rotation, scale, turned = _fit(p, m)
    off = float(np.hypot(*(turned - m).T).max())
    if len(plan) > 2 and off > SCALE_OFF * np.hypot(*p.T).max():
        mirrored = _fit(p * [1.0, -1.0], m)[2]
        if np.hypot(*(mirrored - m).T).max() < off / 2.0:
            raise MapError(
                "a plan with x to the right and y up; these common points are a mirror image of "
                "the map"
            )
    if abs(scale - 1.0) > SCALE_OFF:
        raise MapError(
            f"common points as far apart on the plan as on the map, to {SCALE_OFF:.0%}; on the map "
            f"they are {scale:.3f} times as far apart"
        )
    cos, sin = np.cos(rotation), np.sin(rotation)
    x, y = on_map.mean(axis=0) - np.array([[cos, -sin], [sin, cos]]) @ plan.mean(axis=0)
    return Tie((float(x), float(y)), rotation, scale, round(off, 9))


def _fit(
    p: NDArray[np.float64], m: NDArray[np.float64]
) -> tuple[float, float, NDArray[np.float64]]:
    """Rotation, scale, and the turned points of two sets about their centroids."""
    cross = float((p[:, 0] * m[:, 1] - p[:, 1] * m[:, 0]).sum())
    dot = float((p * m).sum())
    rotation = float(np.arctan2(cross, dot))
    cos, sin = np.cos(rotation), np.sin(rotation)
    scale = float(np.hypot(cross, dot) / (p**2).sum())
    return rotation, scale, p @ np.array([[cos, sin], [-sin, cos]])


TRUE_SCALE = 0.001


CommonPoint = tuple[tuple[float, float], tuple[float, float]]


def read_crs(text: Any) -> CRS:
    """The horizontal map system that an EPSG code, a name or WKT stands for.

    Raises
    ------
    MapError
        Where it stands for none that positions on the ground can be in.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    expected = 'a map system, such as "EPSG:26916"'
    try:
        crs = CRS.from_user_input(text)
    except (CRSError, ValueError, OverflowError):
        raise MapError(expected) from None
    while crs.is_compound or crs.is_bound:
        inner = crs.sub_crs_list[0] if crs.is_compound else crs.source_crs
        if inner is None:
            raise MapError(expected)
        crs = inner
    if not (crs.is_projected or crs.is_geographic):
        raise MapError(expected)
    return crs.to_2d()


def metres_per_unit(crs: CRS) -> float:
    """Metres in one unit of a projected map system."""
    return float(crs.axis_info[0].unit_conversion_factor)


def working_crs(crs: CRS, near: tuple[float, float]) -> CRS:
    """The map system to work in: `crs` where its scale is true to 0.1 %, else the local UTM zone.

    Lengths and slopes are measured on the plan, so the plan must not be stretched.

    Parameters
    ----------
    crs : pyproj.CRS
        The map system of the data.
    near : (x, y)
        A position in `crs`, in its own units, near which the lot lies.

    Raises
    ------
    MapError
        Where the position does not lie on the earth that the map system shows.

    Examples
    --------
    >>> from pyproj import CRS
    >>> working_crs(CRS("EPSG:32616"), (500000.0, 4400000.0)).to_epsg()
    32616
    >>> working_crs(CRS("EPSG:3857"), (-9684000.0, 4825000.0)).to_epsg()
    32616
    """
    from pyproj import Proj, Transformer

    longitude, latitude = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True).transform(
        *near
    )
    if not (abs(longitude) <= 360.0 and abs(latitude) <= 84.0):
        raise MapError("a position on the map between 84 degrees south and 84 degrees north")
    if crs.is_projected:
        factors = Proj(crs).get_factors(longitude, latitude)
        scales = (factors.meridional_scale, factors.parallel_scale)
        if all(abs(scale - 1.0) <= TRUE_SCALE for scale in scales):
            return crs
    return _utm(longitude, latitude)


def _utm(longitude: float, latitude: float) -> CRS:
    """The UTM zone of a position on WGS 84."""
    from pyproj import CRS

    zone = int((longitude + 180.0) % 360.0 // 6.0) + 1
    return CRS.from_epsg((32600 if latitude >= 0.0 else 32700) + zone)


def plan_to_map(georeference: Georeference, plan: ArrayLike) -> NDArray[np.float64]:
    """Map coordinates, in the units of the map system, of (n, 2) plan positions in metres.

    Examples
    --------
    >>> place = Georeference("", metres_per_unit=0.3048, origin=(304.8, 609.6))
    >>> plan_to_map(place, [[3.048, 0.0]]).tolist()
    [[1010.0, 2000.0]]
    >>> quarter_turn = Georeference("", 1.0, (100.0, 200.0), rotation=math.pi / 2)
    >>> plan_to_map(quarter_turn, [[5.0, 0.0]]).round(6).tolist()
    [[100.0, 205.0]]
    """
    turned = np.asarray(plan, dtype=np.float64) @ _turn(georeference.rotation).T
    return (turned + np.asarray(georeference.origin)) / georeference.metres_per_unit


def map_to_plan(georeference: Georeference, positions: ArrayLike) -> NDArray[np.float64]:
    """Plan positions in metres of (n, 2) map coordinates in the units of the map system.

    Examples
    --------
    >>> place = Georeference("", metres_per_unit=1.0, origin=(500.0, 100.0))
    >>> map_to_plan(place, [[512.5, 100.0]]).tolist()
    [[12.5, 0.0]]
    """
    metres = np.asarray(positions, dtype=np.float64) * georeference.metres_per_unit
    return (metres - np.asarray(georeference.origin)) @ _turn(georeference.rotation)


def _turn(rotation: float) -> NDArray[np.float64]:
    """The matrix that turns plan axes onto map axes; exact where there is nothing to turn."""
    if rotation == 0.0:
        return np.eye(2)
    cos, sin = math.cos(rotation), math.sin(rotation)
    return np.array([[cos, -sin], [sin, cos]])


@dataclass(frozen=True)
class Frame:
    """How typed positions become plan metres.

    Parameters
    ----------
    unit : float
        Metres in a bare number, where positions are typed on the plan.
    georeference : Georeference or None
        How the plan lies on a map.
    typed_crs : pyproj.CRS or None
        The map system of typed positions; None where they are typed on the plan.

    Examples
    --------
    >>> Frame(0.3048).to_plan([(10.0, Metres(2.0))]).round(3).tolist()
    [[3.048, 2.0]]
    """

    unit: float
    georeference: Georeference | None = None
    typed_crs: CRS | None = None

    def to_plan(self, points: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
        """Plan metres, (n, 2), of positions as typed.

        Raises
        ------
        MapError
            Where a position cannot lie on the map.
        """
        if self.typed_crs is None:
            return np.array(
                [[_metres(value, self.unit) for value in point] for point in points],
                dtype=np.float64,
            ).reshape(-1, 2)
        typed = [[_map_units(value, self.typed_crs) for value in point] for point in points]
        return self.from_crs(np.array(typed, dtype=np.float64).reshape(-1, 2), self.typed_crs)

    def from_crs(self, positions: NDArray[np.float64], crs: CRS) -> NDArray[np.float64]:
        """Plan metres, (n, 2), of positions in a map system.

        Raises
        ------
        MapError
            Where the plan lies on no map, or a position cannot lie on it.
        """
        if self.georeference is None:
            raise MapError("a plan that lies on a map: give crs and map_origin in [site]")
        return map_to_plan(self.georeference, transform(positions, crs, self.georeference.crs))


def transform(positions: NDArray[np.float64], source: Any, target: Any) -> NDArray[np.float64]:
    """Take (n, 2) positions from one map system to another, x before y in both."""
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    source, target = CRS(source), CRS(target)
    if source == target:
        return positions
    try:
        x, y = Transformer.from_crs(source, target, always_xy=True).transform(*positions.T)
    except ProjError:
        raise MapError("positions that lie on the map") from None
    moved = np.column_stack([x, y])
    if not np.isfinite(moved).all():
        raise MapError("positions that lie on the map")
    return moved


def _metres(value: float, unit: float) -> float:
    return float(value) if isinstance(value, Metres) else value * unit


def _map_units(value: float, crs: CRS) -> float:
    if not isinstance(value, Metres):
        return value
    if not crs.is_projected:
        raise MapError("longitude and latitude as bare numbers, such as [-86.5, 40.2]")
    return float(value) / metres_per_unit(crs)


def frame_by_ties(typed_crs: CRS, ties: Sequence[CommonPoint], unit: float) -> tuple[Frame, Tie]:
    """The frame of a plan that common points tie to a map, and how well they fit.

    Parameters
    ----------
    typed_crs : pyproj.CRS
        The map system that the points' map positions are typed in.
    ties : sequence of (plan position, map position)
        Plan positions as typed, map positions in the units of `typed_crs`.
    unit : float
        Metres in a bare number on the plan.

    Raises
    ------
    MapError
        Where the points lie together, or the two distances between them do not agree.
    """
    plan = Frame(unit).to_plan([tie[0] for tie in ties])
    working = working_crs(typed_crs, ties[0][1])
    scale = metres_per_unit(working)
    on_map = np.array([tie[1] for tie in ties], dtype=np.float64)
    tie = tie_plan(plan, transform(on_map, typed_crs, working) * scale)
    return Frame(unit, Georeference(working.to_wkt(), scale, tie.origin, tie.rotation)), tie


def frame_on_map(
    typed_crs: CRS, near: tuple[float, float], map_origin: tuple[float, float] | None, unit: float
) -> Frame:
    """The frame of a plan that lies on a map.

    Parameters
    ----------
    typed_crs : pyproj.CRS
        The map system that positions, or the map origin, are typed in.
    near : (x, y)
        A position in `typed_crs` near which the lot lies.
    map_origin : (easting, northing) or None
        Position of plan 0,0 in `typed_crs`; None where typed positions are map positions, whose
        plan is the map in metres.
    unit : float
        Metres in a bare number on the plan.
    """
    working = working_crs(typed_crs, near)
    scale = metres_per_unit(working)
    if map_origin is None:
        return Frame(unit, Georeference(working.to_wkt(), scale, (0.0, 0.0)), typed_crs)
    x, y = transform(np.array([map_origin], dtype=np.float64), typed_crs, working)[0] * scale
    return Frame(unit, Georeference(working.to_wkt(), scale, (float(x), float(y))))
