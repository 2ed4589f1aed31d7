"""A seepage pit as one of the ways: stone, fabric and soil that it takes, and how it fails.

In: a site in SI and the pit with its line. Out: m3 and m2, parts to buy, failures. docs/pits.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from runoff.discharge.line.parts import with_overflow_fitting
from runoff.discharge.line.way import left_over_m3, pipe_parts, trench_m3
from runoff.discharge.model import Part, Task, Way
from runoff.discharge.pit.place import seepage_pit
from runoff.discharge.pit.size import SeepagePit, height_over_inlet_m
from runoff.rules import Rules
from runoff.site.model import Site


def stone_height_m(pit: SeepagePit, rules: Rules) -> float:
    """From the pit's bottom to the top of its stone, a little over the pipe that comes in."""
    return pit.governing.pit.depth_m + height_over_inlet_m(pit.line.profile.pipe.bore_m, rules)


def stone_m3(pit: SeepagePit, rules: Rules) -> float:
    """Clean stone, up to its top over the inlet; what lies above the invert stores nothing.

    Around chambers it is what they leave of the pit: chambers have no stone in them, so the stone's
    own voids and the chamber's v give (1 - v) / (1 - voids of stone) of the volume.
    """
    body = pit.governing.pit
    volume = body.plan_area_m2 * stone_height_m(pit, rules)
    if body.kind != "chamber":
        return volume
    return volume * min((1 - body.voids) / (1 - rules["stone_voids"]), 1.0)


def fabric_m2(pit: SeepagePit, rules: Rules) -> float:
    """Filter fabric on the sides and the top of the stone, with its laps; none on the bottom."""
    body = pit.governing.pit
    wrapped = body.perimeter_m * stone_height_m(pit, rules) + body.plan_area_m2
    return wrapped * (1 + rules["pit_fabric_lap"])


def dig_m3(pit: SeepagePit) -> float:
    """Soil dug for the pit, as it lies in the ground."""
    return pit.governing.pit.plan_area_m2 * pit.dig_depth_m


def spoil_m3(pit: SeepagePit, rules: Rules) -> float:
    """Loose soil left over once the ground over the stone is filled again."""
    filled = pit.governing.pit.plan_area_m2 * stone_height_m(pit, rules)
    return min(filled, dig_m3(pit)) * rules["soil_bulking"]


def _design(task: Task) -> SeepagePit:
    pits = [each for each in task.before if isinstance(each, SeepagePit)]
    return seepage_pit(task.ground, task.downspout, task.water, pits)


def _parts(site: Site, pit: SeepagePit) -> Iterator[Part]:
    yield from pipe_parts(site, pit.line)
    yield Part("clean stone, no fines", "stone", stone_m3(pit, site.rules), "in the seepage pit")
    fabric = fabric_m2(pit, site.rules)
    yield Part("filter fabric", "fabric", fabric, "sides and top of the stone, laps included")
    yield Part("silt trap", "silt_trap", 1, "before the pit")
    yield Part("observation pipe", "pipe", pit.dig_depth_m, "to the bottom of the pit")
    yield Part("grated cap", "fitting", 1, "on the observation pipe")


SEEPAGE_PIT = Way[SeepagePit](
    kind=SeepagePit.kind,
    design=_design,
    parts=_parts,
    fails=lambda failing, pit: (
        pit.overflow,
        failing.blocked("line to pit blocked", "overflow gap", pit.line.route),
    ),
    lets_go=lambda *_: None,
    digs=True,
    dug_m3=lambda pit: trench_m3(pit.line) + dig_m3(pit),
    spoil_m3=lambda site, pit: left_over_m3(site, pit.line) + spoil_m3(pit, site.rules),
    line=lambda pit: pit.line,
    with_fitting=lambda site, pit, station: replace(
        pit, line=with_overflow_fitting(site, pit.line, station)
    ),
)
