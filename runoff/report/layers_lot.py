"""What stands and lies on the lot, as layers: boundary, buildings, paving, outlets, the survey.

In: findings. Out: layers in plan metres, fields in SI.
"""

from __future__ import annotations

from collections.abc import Iterable

from runoff.inspection import Findings
from runoff.report.layers_vector import Feature, Kind, Layer, areas, lines, points, yes_no
from runoff.site.model import Site

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
    doubts = {(each.x, each.y, each.z): each.reason for each in findings.terrain.suspects}
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
