"""Placing the soil of all the walls together, and which of them undo each other.

In: what the runs of wall ask for. Out: the soil laid on the terrain's cells, and the stations
whose soil can never be made right beside another's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from runoff.foundation.grade import ROUNDING
from runoff.foundation.model import Refusal
from runoff.foundation.stations import Array
from runoff.foundation.wedge_fill import Soil, measure_all
from runoff.foundation.wedge_limits import Said
from runoff.foundation.wedge_parts import Ask, spread
from runoff.terrain.model import Terrain

ALONE = Refusal("never passes")
AGAINST_EACH_OTHER = Refusal("undoes another wall")

_MOST_SWEEPS = 20
_MOST_LIFTS = 10
_SOON = 6
"""Sweeps after which soil that still asks for much more each time asks for it without end."""
_MUCH = 0.01
"""Metres; what walls that can be made right together still lack by then is far less."""
_FACING = -0.5
"""Cosine between the outward directions of two walls that face each other, at most."""


def place_together(terrain: Terrain, asked: Sequence[Ask], reach: float) -> dict[int, list[Said]]:
    """Place all the soil, each on the ground that the others leave, until every run passes.

    Parameters
    ----------
    terrain : Terrain
    asked : sequence of Ask
        Those that may be placed.
    reach : float, metres

    Returns
    -------
    dict
        Empty where all pass. Otherwise, by number of an ask, why its soil cannot be placed before
        each of its stations, None where it can.
    """
    after = replace(terrain, ground=terrain.ground.copy())
    soils = [ask.soil for ask in asked]
    for soil in soils:
        soil.start_again()
    undone = [np.zeros(len(soil.members)) for soil in soils]
    waiting = set(range(len(soils)))
    made = [soil.before for soil in soils]
    for sweep in range(_MOST_SWEEPS):
        failing, most = [], 0.0
        for number, profiles in zip(sorted(waiting), made, strict=True):
            lacks = soils[number].wanting(profiles)
            if lacks.any():
                soils[number].ask(after, profiles)
                failing.append(soils[number])
                if sweep:
                    undone[number] += lacks
                    most = max(most, float(lacks.max()))
        if sweep >= _SOON and most > _MUCH:
            break
        _raise(after, failing, reach)
        waiting = {k for k, soil in enumerate(soils) if any(soil.meets(s) for s in failing)}
        if not waiting:
            return {}
        made = measure_all(after, [soils[k].members for k in sorted(waiting)], reach)
    return _in_conflict(soils, undone)


def _raise(terrain: Terrain, soils: Sequence[Soil], reach: float) -> None:
    """Raise the ground by what is asked for, and by the little that the grid then lacks."""
    wanting = list(soils)
    for _ in range(_MOST_LIFTS):
        for soil in wanting:
            soil.place(terrain)
        made = measure_all(terrain, [soil.members for soil in wanting], reach)
        lacks = [
            (soil, soil.wanting(profiles, soil.spare))
            for soil, profiles in zip(wanting, made, strict=True)
        ]
        wanting = [soil for soil, lack in lacks if lack.any()]
        for soil, lack in lacks:
            soil.lift_by(lack)
        if not wanting:
            return


def _in_conflict(soils: Sequence[Soil], undone: Sequence[Array]) -> dict[int, list[Said]]:
    """Of the run that was undone most, and of those that face it, the stations that conflict."""
    worst = int(np.argmax([lacks.max() for lacks in undone]))
    soil, others = soils[worst], {k: each for k, each in enumerate(soils) if k != worst}
    met = {k: each for k, each in others.items() if soil.meets(each)}
    at = np.flatnonzero(undone[worst] > ROUNDING)
    ever = np.zeros(len(soil.members), dtype=bool)
    ever[at.min(initial=len(ever)) : at.max(initial=-1) + 1] = True
    facing = {k: each for k, each in met.items() if _cosine(soil, each) < _FACING}
    before_them = [soil.reaches(each, each.run.start, each.run.end) for each in facing.values()]
    mine = ever & np.any([np.zeros_like(ever), *before_them], axis=0)
    if not mine.any():
        return {worst: _told(soil, ever, AGAINST_EACH_OTHER if met else ALONE)}
    along = soil.stations.along[mine]
    found = {worst: _told(soil, mine, AGAINST_EACH_OTHER)}
    for number, each in facing.items():
        theirs = each.reaches(soil, float(along.min()), float(along.max()))
        if theirs.any():
            found[number] = _told(each, theirs, AGAINST_EACH_OTHER)
    return found


def _told(soil: Soil, which: NDArray[np.bool_], why: Refusal) -> list[Said]:
    return spread(soil, [why if yes else None for yes in which])


def _cosine(soil: Soil, other: Soil) -> float:
    return float(soil.stations.outward[0] @ other.stations.outward[0])
