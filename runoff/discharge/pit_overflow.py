"""Where a seepage pit's water runs when it is full, and why that may not be.

In: the lot's ground, a downspout, and the lowest place over its pit. Out: the failure, with the
path of the whole storm let go there, or `NotPossible`: a larger storm will come.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from shapely import distance as distances
from shapely import points, union_all

from runoff.discharge.lot import LotGround
from runoff.discharge.safety import reaches_foundation, reaches_neighbor
from runoff.discharge.ways import Caution, Failure, NotPossible
from runoff.discharge.wording import reached_words
from runoff.flow.model import DownspoutAnswer
from runoff.flow.sentences import over_sidewalk
from runoff.flow.storm import LetGo, roof_water
from runoff.quantities import format_length, system_of
from runoff.site.model import Downspout
from runoff.terrain.model import call_margin

FLAT = "too flat to leave"
# Standing water that grows by less than this, metres, has not grown.
_ROUNDING = 1e-6
_WHY = {
    "too near a foundation": "come out too near a foundation",
    "comes back to a foundation": "come back to a foundation",
    "stands near a foundation": "stand near a foundation",
    "onto a neighbor": "run onto the neighbor's ground",
    "over a public sidewalk": "run over a public sidewalk, which city codes commonly forbid",
    "leaves the survey": "leave the surveyed ground, and where it goes from there is not known",
}


@dataclass(frozen=True)
class Overflow:
    """The failure of a full pit, and what to warn of."""

    failure: Failure
    warnings: tuple[Caution, ...]


def overflow_of(ground: LotGround, downspout: Downspout, at: tuple[float, float]) -> Overflow:
    """Let the whole storm go over a full pit, and say where it runs.

    On ground too flat to lead it away the water spreads and stands: the storm is run with it, and
    nowhere near a foundation may the water stand higher than it does without it. There its path is
    a mere drift, so that a neighbor beyond is warned of, and a foundation counts where the ground
    falls to it by more than the survey can tell; where it runs, either refuses the pit.

    Parameters
    ----------
    at : (x, y)
        The lowest place over the pit, plan metres.

    Raises
    ------
    NotPossible
        Where it comes to a foundation, onto a neighbor, or nobody knows where.
    """
    answer = ground.answer_at(downspout, *at)
    reason = ground.reason_against(*at)
    drifts = reason == FLAT and answer.returns and not _falls_back(ground, answer)
    reached = reaches_foundation(ground, replace(answer, returns=False) if drifts else answer)
    if reached:
        why = reached_words(ground.site, reached)
        raise NotPossible(f"when the pit is full its water reaches a foundation: {why}")
    if refused := refused_at(ground, at):
        raise NotPossible(refused)
    if reason != FLAT and (sidewalk := over_sidewalk(answer.crosses)):
        raise NotPossible(f"when the pit is full its water would run {sidewalk}")
    if reason == FLAT and _grows_at_foundations(ground, downspout, at):
        limit = ground.site.rules["pond_foundation_distance"]
        shown = format_length(limit, system_of(ground.site.units), 1)
        raise NotPossible(
            "when the pit is full its water spreads over flat ground and stands higher within "
            f"{shown} of a foundation"
        )
    return _overflow(answer, at, spreads=reason == FLAT)


def refused_at(ground: LotGround, at: tuple[float, float]) -> str:
    """Why no pit may overflow here by the map of safe ground alone; empty where it may."""
    reason = ground.reason_against(*at)
    if reason in ("safe", FLAT):
        return ""
    return f"when the pit is full its water would {_WHY.get(reason, reason)}"


def _falls_back(ground: LotGround, answer: DownspoutAnswer) -> bool:
    """Whether the ground falls to where a path comes back, by more than the survey can tell."""
    walls = union_all([building.outline for building in ground.site.buildings])
    near = distances(points(answer.path), walls) < ground.site.rules["near_foundation"]
    heights = [ground.height(x, y) for x, y in answer.path[near]]
    told_apart = call_margin(ground.site.height_accuracy.sigma)
    return bool(ground.height(*answer.start) - np.nanmin(heights, initial=np.inf) > told_apart)


def _overflow(answer: DownspoutAnswer, at: tuple[float, float], spreads: bool) -> Overflow:
    failure = Failure(
        kind="pit full",
        at=at,
        path=answer.path,
        reached=None,
        onto_neighbor=reaches_neighbor(answer) and not spreads,
        end=answer.end,
        comes_out="observation pipe",
        crosses=() if spreads else answer.crosses,
        spreads=spreads,
    )
    drifts = spreads and reaches_neighbor(answer)
    return Overflow(failure, (Caution("overflow may drift"),) if drifts else ())


def _grows_at_foundations(ground: LotGround, downspout: Downspout, at: tuple[float, float]) -> bool:
    """Whether the water let go here stands anywhere near a foundation, beyond what does anyway."""
    if not ground.site.buildings:
        return False
    cell, water = ground.flow.grid.cell(*at), roof_water(ground.site, downspout, 1.0)
    here = LetGo(cell, water, place=at)
    with_it, without = (
        ground.run_with({downspout.name: let_go}).ponding.depth() for let_go in (here, None)
    )
    rows, cols = np.nonzero(with_it > without + _ROUNDING)
    x, y = ground.flow.grid.centers()
    walls = union_all([building.outline for building in ground.site.buildings])
    away = distances(points(x[cols], y[rows]), walls)
    return bool((away < ground.site.rules["pond_foundation_distance"]).any())
