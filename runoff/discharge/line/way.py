"""A buried line as one of the ways: what it takes, how it fails, where it lets the water go.

In: a site in SI and the line. Out: m3 dug and left over, parts to buy, failures. docs/lines.md.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from runoff.discharge.line.apron import apron_m3, end_parts
from runoff.discharge.line.design import buried_line
from runoff.discharge.line.parts import with_overflow_fitting
from runoff.discharge.line.record import BuriedLine
from runoff.discharge.model import Part, Way
from runoff.discharge.wording import fitting_name
from runoff.quantities import Shown
from runoff.rules import Rules
from runoff.site.model import Site


def pipe_length(line: BuriedLine) -> float:
    """Length of the pipe itself, along its fall, metres."""
    run = np.diff(line.profile.stations_m)
    return float(np.hypot(run, np.diff(line.profile.invert_m)).sum())


def trench_m3(line: BuriedLine) -> float:
    """Soil dug for a line's trench: its width times the cut, summed along it, m3."""
    return line.trench_width_m * float(np.trapezoid(line.profile.cut_m, line.profile.stations_m))


def trench_spoil_m3(line: BuriedLine, rules: Rules) -> float:
    """Loose soil left over once a trench is filled again: what pipe and bedding take of it.

    Times `soil_bulking`, as a pit's; the apron's is not counted here.
    """
    pipe = line.profile.pipe
    section = line.trench_width_m * line.profile.limits.bedding_m
    section += math.pi / 4 * pipe.outside_m**2
    return min(section * pipe_length(line), trench_m3(line)) * rules["soil_bulking"]


def dug_m3(line: BuriedLine) -> float:
    """Soil dug for its trench and the apron at its end."""
    return trench_m3(line) + apron_m3(line.apron)


def left_over_m3(site: Site, line: BuriedLine) -> float:
    """Loose soil left over of its trench and its apron."""
    apron = apron_m3(line.apron) * site.rules["soil_bulking"]
    return trench_spoil_m3(line, site.rules) + apron


def pipe_parts(site: Site, line: BuriedLine) -> Iterator[Part]:
    """Pipe, bedding and fittings."""
    pipe, limits = line.profile.pipe, line.profile.limits
    length = pipe_length(line)
    wall = "" if pipe.wall == "unknown" else f"{pipe.wall} "
    yield Part(f"{pipe.size} {wall}pipe", "pipe", length, "solid, not perforated")
    bedding = line.trench_width_m * limits.bedding_m * length
    yield Part("gravel for bedding", "stone", bedding, "under the pipe")
    counted: Counter[tuple[str, str]] = Counter()
    for fitting in line.fittings:
        # A turn of several bends is bought bend by bend.
        singly = [replace(fitting, bends=(bend,)) for bend in fitting.bends] or [fitting]
        key = "cleanout" if fitting.kind == "cleanout" else "fitting"
        counted.update((fitting_name(Shown.of(site), each), key) for each in singly)
    for (name, key), count in counted.items():
        yield Part(name, key, count, "on the line")


def _parts(site: Site, line: BuriedLine) -> Iterator[Part]:
    yield from pipe_parts(site, line)
    yield from end_parts(site, line.apron)


BURIED_LINE = Way[BuriedLine](
    kind=BuriedLine.kind,
    design=lambda task: buried_line(task.ground, task.downspout, task.water),
    parts=_parts,
    fails=lambda failing, line: (failing.blocked("line blocked", "overflow gap", line.route),),
    lets_go=lambda _, line: line.end,
    digs=True,
    dug_m3=dug_m3,
    spoil_m3=left_over_m3,
    line=lambda line: line,
    with_fitting=with_overflow_fitting,
)
