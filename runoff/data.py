"""Findings and plans as plain data for JSON: SI values, the unit in every key, null where there
is none.

The records of a plan are written field by field. A field whose name does not end in its unit is
renamed here, and what only figures need (grids, cells, stations of walls) is left out.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, fields, is_dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.discharge.model import WayKind
from runoff.discharge.pit.soil import DesignRate, SoilWarning
from runoff.discharge.ways import Option
from runoff.discharge.wording import fitting_name
from runoff.flow.downspouts import implications_of
from runoff.flow.model import DownspoutAnswer, EngineComparison, LowSpot, WaterBalance
from runoff.flow.storm import yard_cover
from runoff.foundation.model import (
    REASONS,
    OpeningFinding,
    SafeArea,
    SoilWedge,
    StandingWater,
    Station,
    WallRun,
    WettedWall,
)
from runoff.quantities import Shown, system_of
from runoff.site.model import Site
from runoff.site.notices import Notice
from runoff.terrain.model import Suspect, Terrain
from runoff.words.attention import engines_note
from runoff.words.choices import ask_words, trouble_words, wetter_words, why_chosen
from runoff.words.designs import (
    check_warnings,
    crossing_action,
    crossing_name,
    extension_ends,
    extension_protection,
    failure_sentence,
    fitting_why,
    line_cautions,
    line_ends,
    line_protection,
    pit_basis,
    pit_warnings,
    relief_sentence,
    soil_basis,
    soil_warning,
    swale_cautions,
    swale_ends,
    way_reason,
    what_fails,
)
from runoff.words.gutters import (
    ALLOWANCES,
    assumption_words,
    end_words,
    fall_note,
    laps_words,
    leader_name,
    remedy_words,
)
from runoff.words.missing import suspect_reason
from runoff.words.notices import group_words, notices_in_words
from runoff.words.rains import storm_basis
from runoff.words.reasons import clearance_name
from runoff.words.walls import refusal_of, remark_words, settle_words, soil_sentence, wall_lines
from runoff.words.water import (
    downspout_sentence,
    inflow_words,
    opening_sentence,
    spill_words,
    standing_sentence,
)

if TYPE_CHECKING:
    from runoff.inspection import Findings
    from runoff.planning import Plan

FORMAT = 1
"""Goes up where a key is taken away or comes to mean something else; new keys leave it."""


def as_text(data: Mapping[str, Any]) -> str:
    """Findings or a plan as the text of a JSON file: refused where it holds what JSON cannot.

    Examples
    --------
    >>> print(as_text({"site": "Rösli's lot"}), end="")
    {
      "site": "Rösli's lot"
    }
    """
    return json.dumps(data, indent=2, allow_nan=False, ensure_ascii=False) + "\n"


def findings_to_dict(findings: Findings) -> dict[str, Any]:
    """All of the findings but the grids, which go into figures and map layers."""
    site = findings.site
    return {
        "written_by": "runoff",
        "format": FORMAT,
        "site": _site(site),
        "terrain": _terrain(findings.terrain),
        "attention": list(findings.attention),
        "at_the_wall": _at_the_wall(findings),
        "downspouts": [
            {
                **_downspout(site, answer),
                "implies": list(implications_of(site, answer)),
            }
            for answer in findings.downspouts
        ],
        "unanswered_downspouts": [downspout.name for downspout in findings.unanswered],
        "low_spots": [_low_spot(spot) for spot in findings.low_spots],
        "suspect_heights": [_suspect(site, suspect) for suspect in findings.terrain.suspects],
        "water_balance": _balance(findings.balance),
        "second_engine": _engines(findings.second_engine),
        "notices": notices_in_words(site, findings.notices),
        "notice_codes": [_notice(notice) for notice in findings.notices],
    }


def _notice(notice: Notice) -> dict[str, Any]:
    """A notice's code, whom or what it names, and its figures."""
    names = {"names": list(notice.names)} if notice.names else {}
    return {"code": notice.code, **names, **notice.figures}


def _number(value: float) -> float | None:
    """JSON has no infinity and no NaN."""
    return float(value) if math.isfinite(value) else None


def _bearing(outward: tuple[float, float]) -> float:
    """Direction away from a wall, degrees counterclockwise from the plan's right."""
    return math.degrees(math.atan2(outward[1], outward[0]))


def _at(place: tuple[float, float] | None) -> list[float] | None:
    return None if place is None else [float(place[0]), float(place[1])]


def _site(site: Site) -> dict[str, Any]:
    return {
        "name": site.name,
        "address": site.address,
        "date": site.date,
        "observer": site.observer,
        "weather": site.weather,
        "units_shown": site.units,
        "coordinates": "plan metres, x right, y up",
        "map_crs": site.georeference.crs if site.georeference else None,
        "storm_depth_m": site.storm.depth,
        "storm_duration_s": site.storm.duration,
        "storm_basis": storm_basis(site),
        "storm_basis_code": site.storm.basis.code,
        "yard": {**asdict(yard_cover(site)), "group_from": group_words(site)},
        "yard_group_code": yard_cover(site).group_from,
        "rules_overridden": list(site.rules.overridden),
    }


def _terrain(terrain: Terrain) -> dict[str, Any]:
    return {
        "rows": terrain.grid.rows,
        "columns": terrain.grid.cols,
        "cell_size_m": terrain.grid.cell_size,
        "lower_left_m": [terrain.grid.x0, terrain.grid.y0],
        "height_sigma_m": terrain.accuracy.sigma,
        "heights_by": terrain.accuracy.method,
        "indication_only": terrain.accuracy.indication_only,
        "without_heights": [{"at_m": _at(hole.at), "area_m2": hole.area} for hole in terrain.holes],
    }


def _downspout(site: Site, answer: DownspoutAnswer) -> dict[str, Any]:
    return {
        "name": answer.name,
        "start_m": _at(answer.start),
        "roof_area_m2": answer.roof_area_m2,
        "roof_volume_m3": answer.roof_volume_m3,
        "path_m": [[round(float(x), 4), round(float(y), 4)] for x, y in answer.path],
        "length_m": answer.length_m,
        "length_within_5_ft_m": answer.length_within_near_m,
        "length_within_10_ft_m": answer.length_within_reach_m,
        "returns_to_foundation": answer.returns,
        "end": {
            "kind": answer.end.kind,
            "name": answer.end.name,
            "beyond": answer.end.neighbor,
            "at_m": [answer.end.x, answer.end.y],
        },
        "low_spots_on_the_way": [
            {
                "name": spot.name,
                "holds_m3": spot.holds_m3,
                "storm_volume_m3": spot.storm_volume_m3,
                "overflows": spot.overflows,
                "perhaps": spot.perhaps,
            }
            for spot in answer.on_the_way
        ],
        "may_fill": list(answer.may_fill),
        "crosses": [{"kind": each.kind, "name": each.name} for each in answer.crosses],
        "sentence": downspout_sentence(site, answer),
    }


def _at_the_wall(findings: Findings) -> dict[str, Any]:
    found, cell_area = findings.at_the_wall, findings.terrain.grid.cell_area
    return {
        "headlines": list(findings.headlines),
        "openings": [_opening(findings.site, opening) for opening in found.openings],
        "wall_runs": [_wall_run(findings.site, run) for run in found.runs],
        "standing_water": [_standing(findings.site, water) for water in found.standing],
        "safe_discharge_area": _safe_area(found.safe_area, cell_area),
        "soil_wedges": [_wedge(findings.site, wedge) for wedge in found.wedges],
    }


def _opening(site: Site, opening: OpeningFinding) -> dict[str, Any]:
    return {
        "name": opening.name,
        "kind": opening.kind,
        "building": opening.building,
        "wall": opening.wall_name,
        "at_m": _at(opening.at),
        "edge_height_m": _number(opening.edge_m),
        "rain_to_reach_m": _number(opening.rain_to_reach_m),
        "freeboard_m": _number(opening.freeboard_m),
        "reached": opening.reached,
        "comes_from": inflow_words(opening.inflow),
        "sentence": opening_sentence(site, opening),
    }


def _wall_run(site: Site, run: WallRun) -> dict[str, Any]:
    return {
        **_place_of(run),
        "verdict": run.verdict,
        "indication_only": run.indication,
        "height_sigma_m": run.sigma_m,
        "worst_station": _station(run.worst),
        "stations": len(run.stations),
        "stations_by_verdict": dict(Counter(station.verdict for station in run.stations)),
        "settle": settle_words(site, run),
        "remarks": [remark_words(remark) for remark in run.remarks],
    }


def _place_of(run: WallRun) -> dict[str, Any]:
    return {
        "building": run.building,
        "wall": run.wall_name,
        "wall_number": run.wall,
        "start_m": run.start_m,
        "end_m": run.end_m,
    }


def _station(station: Station) -> dict[str, Any]:
    return {
        "along_m": station.along_m,
        "foot_m": _at(station.foot),
        "outward_degrees": _number(_bearing(station.outward)),
        "reach_m": _number(station.reach_m),
        "cut_short_by": station.cut_by or None,
        "fall_m": _number(station.fall_m),
        "required_fall_m": _number(station.required_m),
        "paved_m": _number(station.paved_m),
        "rise_m": _number(station.rise_m),
        "back_slope_m_per_m": _number(station.back_slope),
        "back_slope_at_m": _number(station.back_at_m),
        "verdict": station.verdict,
    }


def _standing(site: Site, water: StandingWater) -> dict[str, Any]:
    return {
        "low_spot": water.low_spot,
        "building": water.building,
        "wall_distance_m": water.distance_m,
        "depth_m": water.depth_m,
        "volume_m3": water.volume_m3,
        "area_m2": water.area_m2,
        "storm_depth_m": water.storm_depth_m,
        "storm_volume_m3": water.storm_volume_m3,
        "wetted_wall_m": water.wetted_m,
        "wetted_walls": [_wetted(wall) for wall in water.walls],
        "rain_to_fill_m": _number(water.rain_to_fill_m),
        "fed_by_m3": dict(water.feeds_m3),
        "spills_to": spill_words(water.spills_to),
        "sentence": standing_sentence(site, water),
    }


def _wetted(wall: WettedWall) -> dict[str, Any]:
    return {
        "building": wall.building,
        "wall": wall.wall_name,
        "wall_number": wall.wall,
        "length_m": wall.length_m,
    }


def _safe_area(area: SafeArea, cell_area: float) -> dict[str, Any]:
    counts = np.bincount(area.code.ravel(), minlength=len(REASONS))
    by_reason = {
        reason: int(count) * cell_area for reason, count in zip(REASONS, counts, strict=True)
    }
    return {"safe_m2": by_reason.pop("safe"), "not_safe_m2": by_reason}


def _wedge(site: Site, wedge: SoilWedge) -> dict[str, Any]:
    return {
        **_place_of(wedge.run),
        "compacted_m3": _number(wedge.compacted_m3),
        "loose_m3": _number(wedge.loose_m3),
        "height_at_wall_m": _number(wedge.height_m),
        "out_from_wall_m": _number(wedge.out_m),
        "short_by_m": _number(wedge.short_by_m),
        "refused": refusal_of(site, wedge) or None,
        "sentence": soil_sentence(site, wedge),
    }


def _low_spot(spot: LowSpot) -> dict[str, Any]:
    return {
        "name": spot.name,
        "lowest_m": _at(spot.lowest),
        "pour_point_m": _at(spot.pour_point),
        "spill_height_m": _number(spot.spill_height_m),
        "depth_m": spot.depth_m,
        "volume_m3": spot.volume_m3,
        "area_m2": spot.area_m2,
        "rain_to_fill_m": _number(spot.rain_to_fill_m),
        "undecided_downspouts": list(spot.undecided),
        "rain_to_fill_otherwise_m": _number(spot.rain_otherwise_m) if spot.undecided else None,
        "storm_depth_m": spot.storm_depth_m,
        "storm_volume_m3": spot.storm_volume_m3,
        "overflows": spot.overflows,
        "terminal_basin": spot.terminal,
        "wall_distance_m": spot.wall_distance_m,
        "nearest_building": spot.building,
        "on_lot": spot.on_lot,
        "in_doubt": spot.in_doubt,
        "question": spot.question,
    }


def _suspect(site: Site, suspect: Suspect) -> dict[str, Any]:
    return {
        "name": suspect.name,
        "at_m": [suspect.x, suspect.y],
        "height_m": suspect.z,
        "predicted_m": suspect.predicted,
        "misfit_m": suspect.misfit,
        "reason": suspect_reason(site, suspect),
        "code": suspect.looks_like,
        "with_it": list(suspect.with_it),
    }


def _balance(balance: WaterBalance) -> dict[str, Any]:
    return {
        "rain_m3": balance.rain_m3,
        "roofs_m3": balance.roofs_m3,
        "eaves_m3": balance.eaves_m3,
        "sumps_m3": balance.sumps_m3,
        "standing_m3": balance.standing_m3,
        "left_m3": {
            "over the survey's edge": balance.over_edge_m3,
            **{f"down the drain '{name}'": left for name, left in balance.drained_m3.items()},
        },
        "error_m3": balance.error,
    }


def _engines(comparison: EngineComparison) -> dict[str, Any]:
    return {
        "greatest_difference_m": comparison.greatest_difference_m,
        "our_volume_m3": comparison.our_volume_m3,
        "second_volume_m3": comparison.their_volume_m3,
        "depth_difference_m": comparison.depth_difference_m,
        "standing_m3": comparison.standing_m3,
        "agrees": comparison.agrees,
        "note": engines_note(comparison),
        "code": comparison.not_compared or ("agrees" if comparison.agrees else "differs"),
    }


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
# The key of each design, null where the way is another, and its kind.
_DESIGNS: dict[str, WayKind] = {
    "extension": "extension",
    "swale": "swale",
    "line": "buried line",
    "pit": "seepage pit",
}


def _design_if(kind: WayKind, site: Site, way: Option) -> Any:
    return as_data(site, way.design) if way.design and way.design.kind == kind else None


def _soil_warnings(site: Site, rate: DesignRate, warnings: Iterable[SoilWarning]) -> list[str]:
    return [soil_warning(Shown.of(site), rate, each) for each in warnings]


# Fields that are told in words: the keys in their place, and what writes them.
_TOLD: Mapping[tuple[str, str], Mapping[str, Callable[[Site, Any], Any]]] = {
    ("Option", "way"): {"kind": lambda _, way: way.kind},
    ("Option", "reason"): {
        "reason": way_reason,
        "code": lambda _, way: None if way.reason is None else way.reason.code,
    },
    ("Option", "asks"): {
        "asks": lambda _, way: ask_words(way.asks),
        "ask_codes": lambda _, way: list(way.asks),
    },
    ("Recommendation", "chosen"): {
        "chosen": lambda site, one: as_data(site, one.chosen),
        "why": why_chosen,
    },
    ("DesignRate", "warnings"): {
        "warnings": lambda site, rate: _soil_warnings(site, rate, rate.warnings),
        "warning_codes": lambda _, rate: [each.code for each in rate.warnings],
    },
    ("DesignRate", "soil"): {
        "soil": lambda site, rate: {
            "rate_m_per_s": rate.soil.rate_m_per_s,
            "basis": soil_basis(rate.soil),
            "code": rate.soil.basis,
            "warnings": _soil_warnings(site, rate, rate.soil.warnings),
        }
    },
    ("SeepagePit", "clearances"): {
        "clearances": lambda _, pit: [
            {
                "from": clearance_name(each),
                "code": each.of,
                "distance_m": each.far_m,
                "least_m": each.least_m,
            }
            for each in pit.clearances
        ]
    },
    ("Option", "design"): {key: partial(_design_if, kind) for key, kind in _DESIGNS.items()},
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
    ("RoofPart", "allowance"): {"allowance": lambda _, part: ALLOWANCES[part.allowance]},
    ("GutterAtFlow", "choice"): {"remedy": lambda site, one: remedy_words(Shown.of(site), one)},
    ("OutletAtFlow", "larger"): {"remedy": lambda site, one: remedy_words(Shown.of(site), one)},
    ("LeaderAtFlow", "larger"): {"remedy": lambda site, one: remedy_words(Shown.of(site), one)},
    ("LeaderAtFlow", "leader"): {
        "leader": lambda site, one: as_data(site, one.leader),
        "name": lambda site, one: leader_name(one.leader, system_of(site.units)),
    },
    **{
        (part, "assumptions"): {
            "assumptions": lambda site, one: [
                assumption_words(Shown.of(site), each) for each in one.assumptions
            ]
        }
        for part in ("GutterAtFlow", "OutletAtFlow", "LeaderAtFlow", "RoofDrainage")
    },
    ("GutterTakeOff", "lap_m"): {"laps": lambda site, one: laps_words(Shown.of(site), one)},
    ("RunTakeOff", "end_assumed"): {"assumptions": lambda _, one: end_words(one)},
    ("RunTakeOff", "fall_asked_m"): {"fall_note": fall_note},
    ("SoilWedge", "refused"): {"refused": refusal_of, "sentence": soil_sentence},
    ("Failure", "kind"): {"what": lambda _, failure: what_fails(failure)},
    ("Failure", "reached"): {"reaches_foundation": lambda _, failure: failure.reaches_foundation},
    ("Failure", "end"): {"sentence": failure_sentence},
    ("Failure", "relief"): {"relief": relief_sentence},
}
_LEFT_OUT = {
    ("Option", "graded"),
    ("Extension", "reaches_over"),
    ("Extension", "fitting_m"),
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
    ("GutterTakeOff", "outlet_end"),
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
            "trouble": [
                {
                    "downspout": one.downspout,
                    "reason": trouble_words(site, one),
                    "code": one.code,
                }
                for one in plan.proof.trouble
            ],
            "wetter": [wetter_words(site, one) for one in plan.proof.wetter],
            "wetter_walls": [as_data(site, one) for one in plan.proof.wetter],
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
    >>> from runoff.discharge.line.record import Fitting
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
        return _corrected_run(record)
    data: dict[str, Any] = {}
    for field in fields(record):
        if (kind, field.name) in _LEFT_OUT:
            continue
        if told := _TOLD.get((kind, field.name)):
            data.update({key: write(site, record) for key, write in told.items()})
            continue
        value = getattr(record, field.name)
        key = _OTHERS.get((kind, field.name), field.name)
        if field.name in _PLACES and key == field.name:
            key = _PLACES[field.name]
        data[key] = as_data(site, value)
    for name in _PROPERTIES.get(kind, ()):
        data[name] = as_data(site, getattr(record, name))
    return data


def _corrected_run(run: WallRun) -> dict[str, Any]:
    """Which run of wall, without its stations: the findings hold them."""
    return {
        "building": run.building,
        "wall": run.wall_name,
        "start_m": float(run.start_m),
        "end_m": float(run.end_m),
        "verdict": run.verdict,
    }
