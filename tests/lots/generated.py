"""Invented lots, as many as are asked for, no two alike: one seed, one lot.

Slopes in any direction, swales, hollows and mounds, backfill that settled at walls, every kind of
building, neighbor, paving, keep-out, outlet and soil. Plan metres, the street along y = 0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.random import Generator
from shapely import LineString, Point, Polygon, box, contains_xy, points, union_all
from shapely import distance as distances
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from runoff.rules import Rules
from runoff.site import (
    Basis,
    Building,
    Clearance,
    DesignRain,
    DesignRains,
    Downspout,
    Easement,
    KeepOut,
    Lot,
    Outlet,
    Paving,
    Percolation,
    PipeChoice,
    PitRain,
    Roof,
    Site,
    Soil,
    Storm,
    TrialPit,
    assumed_rains,
)
from tests.lots.records import SIDES, WRITTEN, a_rectangle, a_site, spots_at

FOOT, INCH = 0.3048, 0.0254
# A ten-year set of published depths, mm by minutes: M5-60 20 mm, r 0.40, as it is used with BRE
# Digest 365.
TEN_YEARS = (
    (10, 12.69), (15, 15.50), (30, 19.84), (60, 24.80), (120, 30.01), (240, 35.38),
    (360, 38.72), (600, 42.96), (1440, 52.86), (2880, 61.31), (5760, 70.15),
)  # fmt: skip
TEXTURES = (
    "sand", "loamy sand", "sandy loam", "loam", "silt loam", "sandy clay loam", "clay loam",
    "silty clay loam", "sandy clay", "silty clay", "clay",
)  # fmt: skip
# What may be done in each kind of keep-out.
ALLOWED = {
    "tree roots": ("nothing", "hand digging"),
    "septic field": ("nothing",),
    "well": ("nothing",),
    "utility": ("hand digging", "sleeve"),
    "private line": ("hand digging", "sleeve"),
    "retaining wall": ("nothing",),
    "other": ("nothing", "hand digging", "sleeve"),
}
Surface = Callable[[Any, Any], Any]


def a_generated_lot(seed: int) -> Site:
    """The lot of a seed, its heights taken by laser level."""
    rng = np.random.default_rng(seed)
    wide, deep = rng.uniform(17, 36), rng.uniform(24, 46)
    lot = _lot(rng, wide, deep)
    buildings = _buildings(rng, wide, deep)
    walls = union_all([each.outline for each in buildings])
    surface = _surface(rng, wide, deep, buildings)
    spouts, roofs = _downspouts(rng, buildings)
    paving = _paving(rng, wide, deep, walls)
    taken = union_all([walls.buffer(1.0), *(each.outline for each in paving)])
    site = a_site(
        units=str(rng.choice(["ft", "m"])),
        cell_size=0.3,
        spot_heights=spots_at(_shots(wide, deep, buildings, walls), surface),
        buildings=tuple(_with_clearances(rng, each, surface) for each in buildings),
        lot=lot,
        paving=paving,
        keep_outs=_keep_outs(rng, wide, deep, taken),
        easements=_easements(rng, wide, deep),
        outlets=_outlets(rng, wide, deep, surface),
        roofs=roofs,
        downspouts=spouts,
        soil=_soil(rng),
        pipe=PipeChoice(rng.choice(["smooth", "corrugated", "unknown"])),
    )
    storm = Storm(rng.uniform(2, 5) * INCH, 3600.0)
    return replace(site, storm=storm, rains=_rains(rng, storm))


def _lot(rng: Generator, wide: float, deep: float) -> Lot:
    beyond = [
        rng.choice(["street", "street", "street", "open ground"]),
        rng.choice(["neighbor", "alley", "open ground", "street"]),
        rng.choice(["neighbor", "alley", "open ground"]),
        rng.choice(["neighbor", "open ground"]),
    ]
    return a_rectangle(0.0, 0.0, wide, deep, *map(str, beyond))


def _buildings(rng: Generator, wide: float, deep: float) -> list[Building]:
    width, depth = rng.uniform(8, min(13, wide - 6)), rng.uniform(7, 11)
    left, front = rng.uniform(2.5, wide - width - 2.5), rng.uniform(5, 8)
    outline = box(left, front, left + width, front + depth)
    if rng.random() < 0.2:
        outline = rotate(outline, rng.uniform(-8, 8))
    kind = str(rng.choice(["basement", "slab", "slab", "crawl space"]))
    found = [_building("house", outline, kind, rng)]
    if rng.random() < 0.4:
        back = front + depth + rng.uniform(4, 6)
        if back + 6 < deep:
            left = rng.uniform(1, wide - 6)
            shed = box(left, back, left + rng.uniform(3.5, 5), back + rng.uniform(3.5, 5))
            found.append(_building("garage", shed, "slab", rng))
    return found


def _building(name: str, outline: Polygon, kind: str, rng: Generator) -> Building:
    ring = np.array(outline.exterior.coords)[:-1]
    # Counterclockwise from the corner at the lower left, so that the walls are named in order.
    if Polygon(ring).exterior.is_ccw is False:
        ring = ring[::-1]
    first = int(np.argmin(ring.sum(axis=1)))
    ring = np.roll(ring, -first, axis=0)
    depths = {"basement": 2.2, "slab": 0.5, "crawl space": 0.9}
    footing = depths[kind] if rng.random() < 0.6 else None
    return Building(name, Polygon(ring), SIDES, kind, footing, WRITTEN)  # type: ignore[arg-type]


def _with_clearances(rng: Generator, building: Building, surface: Surface) -> Building:
    """Siding along every wall of some buildings, 4 to 14 in above the highest ground there."""
    if rng.random() < 0.5:
        return building
    ring = np.array(building.outline.exterior.coords)
    found = []
    for wall, (a, b) in enumerate(pairwise(ring)):
        along = a + np.linspace(0, 1, 9)[:, None] * (b - a)
        height = float(np.max(surface(*along.T))) + rng.uniform(4, 14) * INCH
        found.append(Clearance(wall, 0.0, float(np.hypot(*(b - a))), "siding", height))
    return replace(building, clearances=tuple(found))


def _surface(rng: Generator, wide: float, deep: float, buildings: list[Building]) -> Surface:
    """A plane of 0 to 6 % in any direction, with what was made of it."""
    slope, way = rng.uniform(0, 0.06), rng.uniform(0, 2 * np.pi)
    if rng.random() < 0.12:
        slope = 0.0
    shapes = []
    if rng.random() < 0.3:
        shapes.append(_ditch(rng, wide, deep))
    for low in (-1, 1):
        if rng.random() < 0.3:
            shapes.append(_bump(rng, wide, deep, low))
    walls = union_all([each.outline for each in buildings])
    graded = rng.choice([0.0, 0.0, rng.uniform(0.02, 0.08)])
    settled, sunk = _settled(rng, buildings[0]), rng.choice([0.0, rng.uniform(0.04, 0.15)])

    def surface(x: Any, y: Any) -> Any:
        x, y = np.asarray(x, float), np.asarray(y, float)
        z = 100.0 - slope * (np.cos(way) * x + np.sin(way) * y)
        z = z + sum((shape(x, y) for shape in shapes), np.zeros_like(z))
        here = points(x, y)
        z = z + graded * np.maximum(3.05 - distances(here, walls), 0.0)
        return z - sunk * np.clip(1 - distances(here, settled) / 1.2, 0, 1)

    return surface


def _settled(rng: Generator, house: Building) -> BaseGeometry:
    ring = np.array(house.outline.exterior.coords)
    sunk = rng.random(4) < 0.5
    sunk[rng.integers(4)] = True
    return union_all([LineString(ring[k : k + 2]) for k in range(4) if sunk[k]])


def _ditch(rng: Generator, wide: float, deep: float) -> Surface:
    way, at = rng.uniform(0, np.pi), np.array([rng.uniform(0, wide), rng.uniform(0, deep)])
    low, half = rng.uniform(0.1, 0.4), rng.uniform(1.0, 2.5)

    def ditch(x: Any, y: Any) -> Any:
        across = (x - at[0]) * np.sin(way) - (y - at[1]) * np.cos(way)
        return -low * np.exp(-((across / half) ** 2))

    return ditch


def _bump(rng: Generator, wide: float, deep: float, up: int) -> Surface:
    at = rng.uniform(0, wide), rng.uniform(0, deep)
    high, half = up * rng.uniform(0.1, 0.5), rng.uniform(1.5, 4.0)
    return lambda x, y: high * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / half**2)


def _shots(wide: float, deep: float, buildings: list[Building], walls: BaseGeometry) -> np.ndarray:
    """Where heights were taken: every 1.5 m, to 4.5 m beyond the lot, and along the walls."""
    x, y = np.meshgrid(np.arange(-4.5, wide + 4.6, 1.5), np.arange(-4.5, deep + 4.6, 1.5))
    found = [np.column_stack([x.ravel(), y.ravel()])]
    for each in buildings:
        for away in (0.15, 0.6, 1.2, 3.05):
            ring = each.outline.buffer(away, join_style="mitre").exterior
            stations = np.arange(0, ring.length, 0.8 if away < 2 else 1.5)
            found.append(np.array([ring.interpolate(s).coords[0] for s in stations]))
    xy = np.vstack(found)
    return xy[~contains_xy(walls.buffer(0.1), *xy.T)]


def _downspouts(
    rng: Generator, buildings: list[Building]
) -> tuple[tuple[Downspout, ...], tuple[Roof, ...]]:
    spouts, roofs = [], []
    walls = union_all([each.outline for each in buildings])
    for n in range(rng.integers(1, 5)):
        house = buildings[rng.integers(len(buildings)) if n else 0]
        ring = np.array(house.outline.exterior.coords)
        wall = rng.integers(4)
        a, b = ring[wall], ring[wall + 1]
        along = (b - a) / np.hypot(*(b - a))
        share = rng.choice([0.04, 0.5, 0.96, rng.uniform(0.05, 0.95)])
        x, y = a + share * (b - a) + 0.1 * np.array([along[1], -along[0]])
        if walls.distance(Point(x, y)) < 0.05:
            continue
        roof = Roof(f"roof {n + 1}", rng.uniform(12, 90), rng.uniform(0.2, 1.0), None, WRITTEN)
        roofs.append(roof)
        carried = ((roof.name, 1.0),)
        spouts.append(Downspout(f"D{n + 1}", float(x), float(y), carried, house.name, WRITTEN))
    return tuple(spouts), tuple(roofs)


def _paving(rng: Generator, wide: float, deep: float, walls: BaseGeometry) -> tuple[Paving, ...]:
    left, front, right, back = walls.bounds
    found = []
    if rng.random() < 0.6:
        at = rng.uniform(left, right - 3)
        found.append(Paving("drive", "drive", box(at, 0, at + 3, front), WRITTEN))
    if rng.random() < 0.6:
        at = rng.uniform(left + 0.5, right - 1.7)
        walk = box(at, 0, at + 1.2, front).difference(union_all([p.outline for p in found]))
        if isinstance(walk, Polygon) and walk.area > 1:
            found.append(Paving("front walk", "walk", walk, WRITTEN))
    if rng.random() < 0.3:
        at = rng.uniform(0.5, 1.2)
        walk = box(at, 1, at + 1.0, deep - 1).difference(walls.buffer(0.3))
        if isinstance(walk, Polygon):
            found.append(Paving("side walk", "walk", walk, WRITTEN))
    if rng.random() < 0.4:
        at = rng.uniform(left, right - 3)
        patio = box(at, back + 0.02, at + 3.5, back + 3.0).difference(walls.buffer(0.02))
        if isinstance(patio, Polygon) and patio.bounds[3] < deep:
            found.append(Paving("patio", "patio", patio, WRITTEN))
    return tuple(found)


def _keep_outs(
    rng: Generator, wide: float, deep: float, taken: BaseGeometry
) -> tuple[KeepOut, ...]:
    found = []
    for n in range(rng.integers(0, 4)):
        kind = str(rng.choice(list(ALLOWED)))
        x, y = rng.uniform(1, wide - 1), rng.uniform(1, deep - 1)
        half = {"tree roots": 2.0, "well": 0.5, "other": 1.5}.get(kind, 0.0)
        if half:
            area = Point(x, y).buffer(half)
        elif kind == "septic field":
            area = box(x - 3, y - 2, x + 3, y + 2)
        else:
            way, reach = rng.uniform(0, np.pi), 3.0 if kind == "retaining wall" else 20.0
            step = reach * np.array([np.cos(way), np.sin(way)])
            area = LineString([(x - step[0], y - step[1]), (x + step[0], y + step[1])]).buffer(0.3)
        area = area.intersection(box(0.1, 0.1, wide - 0.1, deep - 0.1))
        if kind not in ("utility", "private line") and area.intersects(taken):
            continue
        allowed = str(rng.choice(ALLOWED[kind]))
        found.append(KeepOut(f"{kind} {n + 1}", kind, area, allowed, WRITTEN))  # type: ignore[arg-type]
    return tuple(found)


def _easements(rng: Generator, wide: float, deep: float) -> tuple[Easement, ...]:
    if rng.random() < 0.85:
        return ()
    strip = box(0, deep - 2.0, wide, deep)
    return (Easement("rear easement", strip, bool(rng.random() < 0.5), WRITTEN),)


def _outlets(rng: Generator, wide: float, deep: float, surface: Surface) -> tuple[Outlet, ...]:
    found: list[Outlet] = []
    if rng.random() < 0.4:
        line = LineString([(0.5, -0.6), (wide - 0.5, -0.6)])
        found.append(Outlet("gutter of the street", "street gutter", line, "permit", WRITTEN))
    kind = str(rng.choice(["ditch", "swale", "storm inlet", "none", "none", "none"]))
    x, y = rng.uniform(2, wide - 2), deep - rng.uniform(0.8, 2.0)
    if kind == "storm inlet":
        invert = float(surface(x, y)) - rng.uniform(0.5, 1.5)
        found.append(Outlet("inlet", kind, Point(x, y), "", WRITTEN, invert=invert))
    elif kind != "none":
        line = LineString([(1.0, y), (wide - 1.0, y)])
        found.append(Outlet(f"rear {kind}", kind, line, "", WRITTEN))  # type: ignore[arg-type]
    return tuple(found)


def _soil(rng: Generator) -> Soil:
    groundwater = rng.choice([None, None, rng.uniform(0.8, 4.0)])
    known = rng.choice(["texture", "texture", "rate", "trial pit", "percolation", "nothing"])
    base = Soil(groundwater=groundwater, frost=rng.choice([None, 0.6]))
    if known == "texture":
        texture = str(rng.choice(TEXTURES))
        expansive = True if "clay" in texture and rng.random() < 0.2 else None
        return replace(base, texture=texture, expansive=expansive)  # type: ignore[arg-type]
    if known == "rate":
        return replace(base, rate=float(10 ** rng.uniform(-6.5, -3.8)))
    if known == "trial pit":
        times = tuple(float(t) for t in np.sort(rng.uniform(900, 20000, 3)))
        return replace(base, trial_pit=TrialPit(1.6, 0.6, rng.uniform(0.5, 1.0), times))
    if known == "percolation":
        test = Percolation(rng.uniform(0.02, 0.1), 1800.0, 0.2, rng.uniform(0.2, 0.4), "shaft")
        return replace(base, percolation=test)
    return base


INVENTED = Basis("table", 10.0, table="invented.csv", says="rain table invented.csv")


def _rains(rng: Generator, storm: Storm) -> DesignRains:
    rains = assumed_rains(storm, Rules())
    rain = DesignRain(rng.uniform(4, 10) * INCH / 3600)
    allowance = rng.choice(["none", "pitch factor", "half tangent"])
    rains = replace(rains, gutter=rain, line=rain, allowance=allowance)
    if rng.random() < 0.4:
        more = rng.uniform(0.7, 1.6)
        table = tuple((60.0 * minutes, more * mm / 1000) for minutes, mm in TEN_YEARS)
        rains = replace(rains, pit=PitRain(storm.depth, table, INVENTED))
    return rains
