"""Findings as plain data for JSON: SI values, the unit in every key, null where there is none."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from runoff.flow.model import DownspoutAnswer, EngineComparison, LowSpot, WaterBalance
from runoff.site.model import Site
from runoff.terrain.model import Suspect, Terrain

if TYPE_CHECKING:
    from runoff.inspection import Findings


def findings_to_dict(findings: Findings) -> dict[str, Any]:
    """All of the findings but the grids, which go into figures and map layers."""
    return {
        "written_by": "runoff",
        "site": _site(findings.site),
        "terrain": _terrain(findings.terrain),
        "attention": list(findings.attention),
        "downspouts": [_downspout(answer) for answer in findings.downspouts],
        "low_spots": [_low_spot(spot) for spot in findings.low_spots],
        "suspect_heights": [_suspect(suspect) for suspect in findings.terrain.suspects],
        "water_balance": _balance(findings.balance),
        "second_engine": _engines(findings.second_engine),
        "notices": list(findings.notices),
    }


def _number(value: float) -> float | None:
    """JSON has no infinity and no NaN."""
    return float(value) if math.isfinite(value) else None


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
        "storm_basis": site.storm.basis,
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
    }


def _downspout(answer: DownspoutAnswer) -> dict[str, Any]:
    return {
        "name": answer.name,
        "start_m": _at(answer.start),
        "roof_area_m2": answer.roof_area,
        "roof_volume_m3": answer.roof_volume,
        "path_m": [[round(float(x), 4), round(float(y), 4)] for x, y in answer.path],
        "length_m": answer.length,
        "length_within_5_ft_m": answer.length_within_5_ft,
        "length_within_10_ft_m": answer.length_within_10_ft,
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
                "holds_m3": spot.holds,
                "storm_volume_m3": spot.storm_volume,
                "overflows": spot.overflows,
            }
            for spot in answer.on_the_way
        ],
        "sentence": answer.sentence,
    }


def _low_spot(spot: LowSpot) -> dict[str, Any]:
    return {
        "name": spot.name,
        "lowest_m": _at(spot.lowest),
        "pour_point_m": _at(spot.pour_point),
        "spill_height_m": _number(spot.spill_height),
        "depth_m": spot.depth,
        "volume_m3": spot.volume,
        "area_m2": spot.area,
        "rain_to_fill_m": _number(spot.rain_to_fill),
        "storm_depth_m": spot.storm_depth,
        "storm_volume_m3": spot.storm_volume,
        "overflows": spot.overflows,
        "terminal_basin": spot.terminal,
        "wall_distance_m": spot.wall_distance,
        "nearest_building": spot.building,
        "on_lot": spot.on_lot,
    }


def _suspect(suspect: Suspect) -> dict[str, Any]:
    return {
        "name": suspect.name,
        "at_m": [suspect.x, suspect.y],
        "height_m": suspect.z,
        "predicted_m": suspect.predicted,
        "misfit_m": suspect.misfit,
        "reason": suspect.reason,
    }


def _balance(balance: WaterBalance) -> dict[str, Any]:
    return {
        "rain_m3": balance.rain,
        "roofs_m3": balance.roofs,
        "standing_m3": balance.standing,
        "left_m3": dict(balance.left),
        "error_m3": balance.error,
    }


def _engines(comparison: EngineComparison) -> dict[str, Any]:
    return {
        "greatest_difference_m": comparison.greatest_difference,
        "our_volume_m3": comparison.our_volume,
        "second_volume_m3": comparison.their_volume,
        "agrees": comparison.agrees,
        "note": comparison.note,
    }
