"""A plan as plain data for JSON: SI values, the unit in every key, null where there is none.

The records of a plan are written field by field. A field whose name does not end in its unit is
renamed here, and what only figures need (grids, cells, stations of walls) is left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.discharge.wording import fitting_name
from runoff.findings_data import FORMAT
from runoff.quantities import Shown
from runoff.site.model import Site
from runoff.words.designs import way_reason
from runoff.words.extensions import extension_ends, extension_protection
from runoff.words.failures import failure_sentence, relief_sentence, what_fails
from runoff.words.lines import (
    crossing_action,
    crossing_name,
    fitting_why,
    line_cautions,
    line_ends,
    line_protection,
)
from runoff.words.pits import check_warnings, pit_basis, pit_warnings
from runoff.words.soil import refusal_of, soil_sentence
from runoff.words.swales import swale_cautions, swale_ends
from runoff.words.wall_lines import wall_lines

if TYPE_CHECKING:
    from runoff.planning import Plan

# Names of fields that hold plan positions in metres, with the unit added.
_PLACES = {
    "at": "at_m",
    "start": "start_m",
    "end": "end_m",
    "path": "path_m",
    "route": "route_m",
    "center": "center_m",
}
_OTHERS = {
    ("Extension", "bearing"): "bearing_degrees",
    ("SeepagePit", "angle"): "angle_degrees",
    ("SeepagePit", "line"): "feed",
    ("Swale", "line"): "line_m",
    ("SoilWedge", "compacted"): "compacted_m3",
    ("SoilWedge", "loose"): "loose_m3",
    ("SoilWedge", "height"): "height_m",
    ("SoilWedge", "out"): "out_m",
    ("SoilWedge", "short_by"): "short_by_m",
    ("Duration", "seconds"): "duration_s",
    ("GutterRun", "eave"): "eave_m",
    ("GutterRun", "outlet"): "outlet_m",
    ("Leader", "width"): "width_m",
    ("Leader", "depth"): "depth_m",
    ("Pipe", "roughness"): "roughness_s_per_m_1_3",
    ("PipeAtFlow", "slope"): "slope_m_per_m",
    ("LineLimits", "slope"): "slope_m_per_m",
    ("Swale", "slope"): "slope_m_per_m",
}
_PROPERTIES = {
    "BuriedLine": ("length_m",),
    "LineProfile": ("cover_m", "bottom_m", "cut_m", "exempt_length_m"),
    "Option": ("fails_safely",),
    "Failure": ("is_safe",),
    "Pit": ("plan_area_m2", "stone_m3", "stored_m3"),
    "PitCheck": ("holds", "empties_in_time"),
    "PipeAtFlow": ("self_cleaning",),
}
# Fields that are told in words: the keys in their place, and what writes them.
_TOLD: Mapping[tuple[str, str], Mapping[str, Callable[[Site, Any], Any]]] = {
    ("Option", "reason"): {"reason": way_reason},
    ("Fitting", "kind"): {"name": lambda site, one: fitting_name(Shown.of(site), one)},
    ("Crossing", "name"): {"name": lambda _, one: crossing_name(one)},
    ("Crossing", "allowed"): {"action": lambda site, one: crossing_action(Shown.of(site), one)},
    ("BuriedLine", "ends"): {"ends": lambda _, line: line_ends(line.ends)},
    ("BuriedLine", "protection"): {
        "protection": lambda site, line: line_protection(Shown.of(site), line)
    },
    ("BuriedLine", "cautions"): {
        "cautions": lambda site, line: line_cautions(Shown.of(site), line)
    },
    ("Extension", "ends"): {"ends": lambda _, one: extension_ends(one.ends)},
    ("Extension", "protection"): {"protection": lambda _, one: extension_protection(one)},
    ("Swale", "ends"): {"ends": lambda _, one: swale_ends(one.ends)},
    ("Swale", "cautions"): {"cautions": lambda site, one: swale_cautions(Shown.of(site), one)},
    ("SeepagePit", "governing"): {
        "governing": lambda site, pit: as_data(site, pit.governing),
        "basis": pit_basis,
    },
    ("SeepagePit", "warnings"): {"warnings": lambda site, pit: pit_warnings(Shown.of(site), pit)},
    ("PitCheck", "warnings"): {"warnings": lambda _, check: check_warnings(check)},
    ("Fitting", "why"): {"why": lambda _, one: fitting_why(one)},
    ("SoilWedge", "refused"): {"refused": refusal_of, "sentence": soil_sentence},
    ("Failure", "kind"): {"what": lambda _, failure: what_fails(failure)},
    ("Failure", "reached"): {"reaches_foundation": lambda _, failure: failure.reaches_foundation},
    ("Failure", "end"): {"sentence": failure_sentence},
    ("Failure", "relief"): {"relief": relief_sentence},
}
_LEFT_OUT = {
    ("Option", "left"),
    ("Option", "ice_beside"),
    ("Extension", "reaches_over"),
    ("Crossing", "cover_m"),
    ("BuriedLine", "end_velocity_m_per_s"),
    ("Fitting", "bends"),
    ("Fitting", "turn_degrees"),
    ("Fitting", "size"),
    ("Fitting", "leader"),
    ("Failure", "comes_out"),
    ("Failure", "bank_m"),
    ("Failure", "crosses"),
    ("Failure", "spreads"),
    ("GutterRun", "written"),
    ("SoilWedge", "cells"),
    ("SoilWedge", "raised"),
}


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """All of a plan, with the findings it answers."""
    site = plan.site
    return {
        "written_by": "runoff",
        "format": FORMAT,
        "site": site.name,
        "units_shown": site.units,
        "findings": plan.findings.to_dict(),
        "roof_drainage": [as_data(site, each) for each in plan.drainage],
        "gutter_take_offs": [as_data(site, each) for each in plan.take_offs],
        "recommendations": [as_data(site, each) for each in plan.recommendations],
        "grade": as_data(site, plan.grade),
        "walls_left": [
            {**as_data(site, run), "line": line.text}
            for line in wall_lines(site, plan.walls_left, ())
            for run in line.runs
        ],
        "proof": {
            **as_data(site, plan.proof),
            "trouble": [{"downspout": name, "reason": why} for name, why in plan.proof.trouble],
        },
        "assumptions": list(plan.assumptions),
        "cautions": list(plan.cautions),
        "currency": None if site.prices is None else site.prices.currency,
        "rules_overridden": list(site.rules.overridden),
    }


def as_data(site: Site, value: Any) -> Any:
    """Records to dictionaries, arrays and tuples to lists, what is not finite to null.

    Examples
    --------
    >>> from runoff.discharge.ways import Fitting
    >>> from runoff.sample import sample_folder
    >>> from runoff.site import read_site
    >>> site = read_site(sample_folder() / "site.toml")
    >>> as_data(site, (Fitting(1.5, "cleanout", "foot"), float("inf")))
    [{'station_m': 1.5, 'name': 'cleanout', 'why': 'at the foot of the leader'}, None]
    """
    if is_dataclass(value) and not isinstance(value, type):
        return _record(site, value)
    if isinstance(value, np.ndarray):
        return as_data(site, value.tolist())
    if isinstance(value, dict):
        return {str(key): as_data(site, each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [as_data(site, each) for each in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value


def _record(site: Site, record: Any) -> dict[str, Any]:
    kind = type(record).__name__
    if kind == "WallRun":
        return _wall_run(record)
    data: dict[str, Any] = {}
    for field in fields(record):
        if (kind, field.name) in _LEFT_OUT:
            continue
        if told := _TOLD.get((kind, field.name)):
            data.update({key: write(site, record) for key, write in told.items()})
            continue
        value = getattr(record, field.name)
        if (kind, field.name) == ("SeepagePit", "clearances"):
            value = [
                {"from": name, "distance_m": far, "least_m": least} for name, far, least in value
            ]
        key = _OTHERS.get((kind, field.name), field.name)
        if field.name in _PLACES and key == field.name:
            key = _PLACES[field.name]
        data[key] = as_data(site, value)
    for name in _PROPERTIES.get(kind, ()):
        data[name] = as_data(site, getattr(record, name))
    return data


def _wall_run(run: Any) -> dict[str, Any]:
    """Which run of wall, without its stations: the findings hold them."""
    return {
        "building": run.building,
        "wall": run.wall_name,
        "start_m": float(run.start),
        "end_m": float(run.end),
        "verdict": run.verdict,
    }
