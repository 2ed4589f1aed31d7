"""What a plan builds, as layers: extensions, lines with their stations, swales, pits and soil.

In: a plan. Out: layers in plan metres, fields in SI.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from runoff.discharge.ways import BuriedLine, Extension, Option, SeepagePit, Swale
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.layers.formats import Feature, Fields, Layer, area_of, areas, lines, points
from runoff.report.maps.work import pit_outline
from runoff.site.model import Site
from runoff.words.designs import (
    extension_ends,
    extension_protection,
    line_ends,
    line_protection,
    pit_basis,
    swale_ends,
    way_reason,
)
from runoff.words.dig_sheet import dig_cells
from runoff.words.walls import soil_sentence


def work_layers(plan: Plan) -> tuple[Layer, ...]:
    """Every layer of proposed work; those without features too."""
    return (
        _soil(plan),
        _extensions(plan),
        _swales(plan),
        *_lines(plan),
        _pits(plan),
        _onward(plan),
    )


def pit_area(pit: SeepagePit) -> Polygon:
    """A pit's plan; of a cylinder the circle as a polygon."""
    body = pit.governing.pit
    if body.kind == "cylinder":
        return Point(pit.center).buffer(body.length_m / 2, quad_segs=32)
    return Polygon(pit_outline(pit))


def place_at(line: BuriedLine, station_m: float) -> tuple[float, float]:
    """The plan position of a station of a line.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> bent = SimpleNamespace(route=np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]]))
    >>> place_at(bent, 5.0)
    (3.0, 2.0)
    """
    steps = np.hypot(*np.diff(line.route, axis=0).T)
    along = np.r_[0.0, np.cumsum(steps)]
    x, y = (float(np.interp(station_m, along, line.route[:, axis])) for axis in (0, 1))
    return x, y


def _chosen(plan: Plan) -> Iterator[tuple[str, Option]]:
    return ((each.downspout, each.chosen) for each in plan.recommendations)


def _soil(plan: Plan) -> Layer:
    grid = plan.findings.terrain.grid
    wedges = () if plan.grade is None else plan.grade.wedges
    return Layer(
        "work_soil",
        "MultiPolygon",
        "soil to bring in along walls",
        tuple(
            Feature(
                area_of(each.cells, grid),
                {
                    "building": each.run.building,
                    "wall": each.run.wall_name,
                    "from_m": each.run.start_m,
                    "to_m": each.run.end_m,
                    "height_m": each.height_m,
                    "out_m": each.out_m,
                    "compacted_m3": each.compacted_m3,
                    "loose_m3": each.loose_m3,
                    "sentence": soil_sentence(plan.site, each),
                },
            )
            for each in wedges
            if len(each.cells)
        ),
    )


def _extensions(plan: Plan) -> Layer:
    return lines(
        "work_extensions",
        "extensions to lay on the ground",
        (
            (
                np.array([each.start, each.end]),
                {
                    "downspout": name,
                    "length_m": each.length_m,
                    "fall_m": each.fall_m,
                    "leader_end_over_ground_m": each.outlet_m,
                    "ends": extension_ends(each.ends),
                    "protection": extension_protection(each),
                    "sentence": way_reason(plan.site, chosen),
                },
            )
            for name, chosen in _chosen(plan)
            if isinstance(each := chosen.design, Extension)
        ),
    )


def _swales(plan: Plan) -> Layer:
    return lines(
        "work_swales",
        "swales to cut",
        (
            (
                each.line,
                {
                    "downspout": name,
                    "length_m": float(each.stations_m[-1]),
                    "slope_m_per_m": each.slope,
                    "bottom_width_m": each.section.bottom_m,
                    "side_run_m_per_m": each.section.side_run,
                    "depth_m": each.section.depth_m,
                    "bottom_at_start_m": float(each.bottom_m[0]),
                    "bottom_at_end_m": float(each.bottom_m[-1]),
                    "dig_m3": each.dig_m3,
                    "ends": swale_ends(each.ends),
                    "sentence": way_reason(plan.site, chosen),
                },
            )
            for name, chosen in _chosen(plan)
            if isinstance(each := chosen.design, Swale)
        ),
    )


def _lines(plan: Plan) -> Iterable[Layer]:
    laid = [
        (name, chosen, line) for name, chosen in _chosen(plan) if (line := chosen.line) is not None
    ]
    yield lines(
        "work_lines",
        "buried lines to lay",
        ((line.route, _line(plan.site, name, chosen, line)) for name, chosen, line in laid),
    )
    units = plan.site.units
    yield points(
        "work_stations",
        "stations of the buried lines, as in the dig tables",
        (
            (
                place_at(line, row.station_m),
                {
                    "downspout": name,
                    "station_m": row.station_m,
                    "ground_m": row.ground_m,
                    "invert_m": row.invert_m,
                    "trench_bottom_m": row.bottom_m,
                    "dig_m": row.cut_m,
                    "cover_m": row.cover_m,
                    "what_is_here": cells[-1],
                },
            )
            for name, _, line in laid
            for row, cells in zip(line.rows, dig_cells(line, units), strict=True)
        ),
    )


def _line(site: Site, name: str, chosen: Option, line: BuriedLine) -> Fields:
    profile, apron = line.profile, line.apron
    return {
        "downspout": name,
        "length_m": line.length_m,
        "pipe_nominal_in": profile.pipe.nominal_in,
        "pipe_outside_m": profile.pipe.outside_m,
        "least_slope_m_per_m": profile.limits.slope,
        "invert_at_start_m": float(profile.invert_m[0]),
        "invert_at_end_m": float(profile.invert_m[-1]),
        "trench_width_m": line.trench_width_m,
        "greatest_cut_m": line.greatest_cut_m,
        "below_least_cover_m": profile.exempt_length_m,
        "apron_length_m": None if apron is None else apron.length_m,
        "apron_width_m": None if apron is None else apron.width_m,
        "apron_end_width_m": None if apron is None else apron.end_width_m,
        "protection": line_protection(Shown.of(site), line),
        "ends": line_ends(line.ends),
        "sentence": way_reason(site, chosen),
    }


def _pits(plan: Plan) -> Layer:
    return areas(
        "work_pits",
        "seepage pits (dry wells) to dig, roof water only",
        (
            (
                pit_area(each),
                {
                    "downspout": name,
                    "kind": each.governing.pit.kind,
                    "length_m": each.governing.pit.length_m,
                    "width_m": each.governing.pit.width_m,
                    "dig_depth_m": each.dig_depth_m,
                    "ground_m": each.ground_m,
                    "inlet_invert_m": each.inlet_m,
                    "pit_bottom_m": each.ground_m - each.dig_depth_m,
                    "stone_m3": each.governing.pit.stone_m3,
                    "holds_m3": each.governing.pit.stored_m3,
                    "basis": pit_basis(plan.site, each),
                    "sentence": way_reason(plan.site, chosen),
                },
            )
            for name, chosen in _chosen(plan)
            if isinstance(each := chosen.design, SeepagePit)
        ),
    )


def _onward(plan: Plan) -> Layer:
    """Where water runs on the ground from an extension's end, and from a pit that is full."""
    ways: list[tuple[NDArray[np.float64], Fields]] = []
    for name, chosen in _chosen(plan):
        match chosen.design:
            case Extension(path=path):
                ways.append((path, {"downspout": name, "starts_at": "extension's end"}))
            case SeepagePit(overflow=full):
                ways.append((full.path, {"downspout": name, "starts_at": "full pit"}))
    return lines("work_onward", "where water runs over the ground from the work", ways)
