"""What stands on the lot and what an inspection found there, as layers.

In: findings. Out: layers in plan metres, fields in SI.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from runoff.flow.model import LowSpot
from runoff.foundation.walls import walls_of
from runoff.inspection import Findings
from runoff.planning import Plan
from runoff.report.layers.formats import (
    Feature,
    Fields,
    Kind,
    Layer,
    area_of,
    areas,
    lines,
    points,
    yes_no,
)
from runoff.report.maps.walls import run_line
from runoff.report.maps.water import split_path
from runoff.report.names import end_phrase
from runoff.site.model import Site
from runoff.words.designs import way_reason
from runoff.words.missing import suspect_reason
from runoff.words.walls import remark_words, settle_words
from runoff.words.water import downspout_sentence, inflow_words, opening_sentence

_OUTLETS: tuple[tuple[str, Kind], ...] = (
    ("outlet_points", "Point"),
    ("outlet_lines", "LineString"),
    ("outlet_areas", "Polygon"),
)


def lot_layers(findings: Findings) -> tuple[Layer, ...]:
    """Every layer of the lot and its survey; those without features too."""
    return (*_lot(findings.site), *_ground(findings))


def _lot(site: Site) -> Iterable[Layer]:
    lot = site.lot
    yield Layer(
        "lot",
        "Polygon",
        "the lot's boundary",
        () if lot is None else (Feature(lot.boundary, {"name": "lot"}),),
    )
    yield lines(
        "lot_sides",
        "the sides of the lot and what lies beyond each",
        ((one.line, {"name": one.name, "beyond": one.neighbor}) for one in lot.sides)
        if lot is not None
        else (),
    )
    yield areas(
        "buildings",
        "outlines of buildings",
        (
            (
                each.outline,
                {"name": each.name, "kind": each.kind or "", "footing_depth_m": each.footing_depth},
            )
            for each in site.buildings
        ),
    )
    yield areas(
        "paving",
        "walks, drives and patios",
        ((each.outline, {"name": each.name, "kind": each.kind}) for each in site.paving),
    )
    yield areas(
        "keep_outs",
        "ground not to be dug freely, and what is allowed there",
        (
            (each.area, {"name": each.name, "kind": each.kind, "allowed": each.allowed})
            for each in site.keep_outs
        ),
    )
    yield areas(
        "easements",
        "strips that others have rights in",
        (
            (each.area, {"name": each.name, "may_take_water": yes_no(each.may_take_water)})
            for each in site.easements
        ),
    )
    yield from _outlets(site)


def _outlets(site: Site) -> Iterable[Layer]:
    """Places that may take water, a layer for each kind of geometry."""
    for name, kind in _OUTLETS:
        features = [
            Feature(
                part,
                {
                    "name": each.name,
                    "kind": each.kind,
                    "permission": each.permission,
                    "invert_m": each.invert,
                    "water_m": each.water,
                },
            )
            for each in site.outlets
            for part in getattr(each.place, "geoms", [each.place])
            if part.geom_type == kind
        ]
        yield Layer(name, kind, "places that may take the water", tuple(features))


def _ground(findings: Findings) -> Iterable[Layer]:
    site = findings.site
    yield lines(
        "break_lines",
        "lines along which the ground bends or steps",
        (
            (each.line, {"name": each.name, "kind": "bend" if each.foot is None else "step"})
            for each in site.break_lines
        ),
    )
    yield lines(
        "barriers",
        "thin things that dam surface water",
        ((each.line, {"name": each.name, "height_m": each.height}) for each in site.barriers),
    )
    yield points(
        "drains",
        "inlets of drains",
        (
            (
                each.inlet,
                {
                    "name": each.name,
                    "capacity_m3_per_s": each.capacity,
                    "comes_out": yes_no(each.outlet is not None),
                },
            )
            for each in site.drains
        ),
    )
    doubts = {
        (each.x, each.y, each.z): suspect_reason(site, each) for each in findings.terrain.suspects
    }
    yield points(
        "spot_heights",
        "measured heights of the ground, on the survey's datum",
        (
            (
                (each.x, each.y),
                {
                    "name": each.name,
                    "height_m": each.z,
                    "remark": each.remark,
                    "look_at_again": doubts.get((each.x, each.y, each.z), ""),
                },
            )
            for each in site.spot_heights
        ),
    )


def found_layers(findings: Findings, plan: Plan | None = None) -> tuple[Layer, ...]:
    """Every layer of an inspection, from the ground up; those without features too."""
    return (
        *lot_layers(findings),
        *_low_spots(findings),
        *_walls(findings),
        *_water(findings, plan),
    )


def _low_spots(findings: Findings) -> Iterable[Layer]:
    grid = findings.terrain.grid
    yield Layer(
        "low_spots",
        "MultiPolygon",
        "closed low areas of the ground, brim-full, and what the storm leaves in them",
        tuple(
            Feature(area_of(each.cells, grid), _low_spot(each))
            for each in findings.low_spots
            if len(each.cells)
        ),
    )
    yield points(
        "low_spot_points",
        "where low spots are deepest, and where they overflow",
        (point for each in findings.low_spots for point in _low_spot_points(each)),
    )


def _low_spot_points(each: LowSpot) -> tuple[tuple[tuple[float, float] | None, Fields], ...]:
    bottom = each.spill_height_m - each.depth_m
    return (
        (each.lowest, {"name": each.name, "kind": "lowest", "height_m": bottom}),
        (
            each.pour_point,
            {"name": each.name, "kind": "overflows", "height_m": each.spill_height_m},
        ),
    )


def _low_spot(each: LowSpot) -> Fields:
    return {
        "name": each.name,
        "depth_m": each.depth_m,
        "volume_m3": each.volume_m3,
        "area_m2": each.area_m2,
        "spill_height_m": each.spill_height_m,
        "rain_to_fill_m": each.rain_to_fill_m,
        "storm_depth_m": each.storm_depth_m,
        "storm_volume_m3": each.storm_volume_m3,
        "overflows": yes_no(each.overflows),
        "wall_distance_m": each.wall_distance_m,
        "building": each.building,
        "on_lot": yes_no(each.on_lot),
    }


def _walls(findings: Findings) -> Iterable[Layer]:
    found = findings.at_the_wall
    walls = {(wall.building, wall.number): wall for wall in walls_of(findings.site.buildings)}
    yield lines(
        "wall_runs",
        "lengths of wall by the verdict on the grade beside them",
        (
            (
                run_line(walls[run.building, run.wall], run, 0.0),
                {
                    "building": run.building,
                    "wall": run.wall_name,
                    "verdict": run.verdict,
                    "length_m": run.end_m - run.start_m,
                    "fall_m": run.worst.fall_m,
                    "required_m": run.worst.required_m,
                    "reach_m": run.worst.reach_m,
                    "height_accuracy_m": run.sigma_m,
                    "indication_only": yes_no(run.indication),
                    "settle": settle_words(findings.site, run),
                    "remarks": " ".join(map(remark_words, run.remarks)),
                },
            )
            for run in found.runs
        ),
    )
    yield points(
        "wall_stations",
        "places along the walls at which the grade was judged",
        (
            (
                each.foot,
                {
                    "building": each.building,
                    "wall": run.wall_name,
                    "along_m": each.along_m,
                    "verdict": each.verdict,
                    "fall_m": each.fall_m,
                    "required_m": each.required_m,
                    "reach_m": each.reach_m,
                    "cut_by": each.cut_by,
                },
            )
            for run in found.runs
            for each in run.stations
        ),
    )
    yield points(
        "openings",
        "where water at the wall would get in, and the rain at which it does",
        (
            (
                each.at,
                {
                    "name": each.name,
                    "kind": each.kind,
                    "building": each.building,
                    "wall": each.wall_name,
                    "edge_m": each.edge_m,
                    "freeboard_m": each.freeboard_m,
                    "rain_to_reach_m": each.rain_to_reach_m,
                    "reached": yes_no(each.reached),
                    "comes_from": inflow_words(each.inflow),
                    "sentence": opening_sentence(findings.site, each),
                },
            )
            for each in found.openings
        ),
    )


def _water(findings: Findings, plan: Plan | None) -> Iterable[Layer]:
    site, answers = findings.site, findings.downspouts
    yield lines(
        "paths",
        "where each downspout's water runs as the lot is now",
        (
            (
                line,
                {
                    "downspout": each.name,
                    "part": part,
                    "length_m": _long(line),
                    "crosses": ", ".join(f"{one.kind} {one.name}" for one in each.crosses),
                },
            )
            for each in answers
            for line, part in zip(split_path(each), ("to its end", "beyond"), strict=True)
        ),
    )
    yield points(
        "path_ends",
        "where each downspout's water ends or leaves the lot",
        (
            (
                (each.end.x, each.end.y),
                {
                    "downspout": each.name,
                    "kind": each.end.kind,
                    "place": each.end.name,
                    "beyond": each.end.neighbor,
                    "words": end_phrase(each.end),
                },
            )
            for each in answers
        ),
    )
    ways = [None] * len(answers) if plan is None else [one.chosen for one in plan.recommendations]
    yield points(
        "downspouts",
        "feet of the downspouts, and what each brings",
        (
            (
                each.start,
                {
                    "number": number,
                    "name": each.name,
                    "roof_area_m2": each.roof_area_m2,
                    "storm_water_m3": each.roof_volume_m3,
                    "path_length_m": each.length_m,
                    "near_foundation_m": each.length_within_near_m,
                    "comes_back": yes_no(each.returns),
                    "sentence": downspout_sentence(site, each),
                    "way": "" if way is None else way.kind,
                    "way_sentence": "" if way is None else way_reason(site, way),
                },
            )
            for number, (each, way) in enumerate(zip(answers, ways, strict=True), start=1)
        ),
    )


def _long(line: NDArray[np.float64]) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum()) if len(line) > 1 else 0.0
