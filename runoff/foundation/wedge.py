"""Correcting the grade: the wedge of soil that makes a failing run of wall pass.

In: a site, its terrain, the runs of wall and the storm's water. Out: `SoilWedge` records.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from runoff.foundation.grade import ROUNDING
from runoff.foundation.model import Refusal, SoilWedge, Verdict, WallRun
from runoff.foundation.stations import Array
from runoff.foundation.wedge_fill import Soil, measure_all, soil_along
from runoff.foundation.wedge_parts import NOWHERE, Ask, Place, asks_of
from runoff.foundation.wedge_together import place_together
from runoff.site.model import Site
from runoff.terrain.model import Terrain

FAILING: tuple[Verdict, ...] = ("too flat", "slopes back", "holds water")


def soil_wedges(
    site: Site,
    terrain: Terrain,
    runs: Sequence[WallRun],
    standing_depth: Array,
    refused: Mapping[Place, Refusal] = NOWHERE,
) -> tuple[SoilWedge, ...]:
    """The soil that would make each failing run of wall pass, or why soil cannot.

    Along each profile the ground is raised to the plane that falls at the required grade from the
    wall and meets the existing ground within the profile's reach; where the ground beyond rises
    against the wall, the low place is filled too. Where the soil of two walls meets, each is made
    on the ground that the other leaves, in turn, until all pass. Part of a run where soil would
    bury paving or dam an easement, or undo what a wall that faces it needs, has a record of its
    own. Where the plane would bury paving or stand higher than the wall allows, the least soil that
    passes is looked for before it is refused. The volumes are those of the soil on the terrain's
    cells, its ends with it; a cell that several runs cover counts for one of them.

    Parameters
    ----------
    site : Site
    terrain : Terrain
    runs : sequence of WallRun
    standing_depth : (rows, cols) float64, metres
    refused : mapping, optional
        Stations where no soil may be placed beforehand, and why.

    Returns
    -------
    tuple of SoilWedge, for runs that are too flat, slope back or hold water
        None where the heights give an indication only.
    """
    failing = [
        (run, [s for s in run.stations if s.reach > ROUNDING and np.isfinite(s.required)])
        for run in runs
        if run.verdict in FAILING and not run.indication
    ]
    failing = [(run, members) for run, members in failing if members]
    reach = site.rules["foundation_reach"]
    measured = measure_all(terrain, [members for _, members in failing], reach)
    asked = [
        ask
        for (run, members), before in zip(failing, measured, strict=True)
        for ask in asks_of(
            site,
            terrain,
            standing_depth,
            soil_along(site, terrain, run, members, before),
            refused,
        )
    ]
    while any(ask.may_be_placed for ask in asked):
        placed = [ask for ask in asked if ask.may_be_placed]
        conflict = place_together(terrain, placed, reach)
        if conflict:
            said = {id(placed[number]): why for number, why in conflict.items()}
            asked = [
                part
                for ask in asked
                for part in (ask.in_parts(said[id(ask)]) if id(ask) in said else [ask])
            ]
            continue
        leans = [ask.soil.lean for ask in placed]
        after = _with_soil(terrain, [ask.soil for ask in placed])
        made = measure_all(after, [ask.soil.members for ask in placed], reach)
        lies = {id(ask): each for ask, each in zip(placed, made, strict=True)}
        asked = [
            part
            for ask in asked
            for part in (ask.look_again(lies[id(ask)]) if id(ask) in lies else [ask])
        ]
        again = [ask for ask in asked if ask.may_be_placed]
        same = all(ask is before for ask, before in zip(again, placed, strict=False))
        if (
            len(again) == len(placed)
            and same
            and all(ask.soil.lean is lean for ask, lean in zip(again, leans, strict=True))
        ):
            break
    return tuple(_wedges(site, terrain, asked))


def _with_soil(terrain: Terrain, soils: Sequence[Soil]) -> Terrain:
    """The ground with all this soil on it."""
    after = replace(terrain, ground=terrain.ground.copy())
    for soil in soils:
        cells, raised = soil.cells()
        rows, cols = cells.T
        there = after.ground[rows, cols]
        after.ground[rows, cols] = np.maximum(there, terrain.ground[rows, cols] + raised)
    return after


def apply_wedge(terrain: Terrain, wedge: SoilWedge) -> Terrain:
    """The terrain with one wedge of soil placed on it."""
    return apply_wedges(terrain, (wedge,))


def apply_wedges(terrain: Terrain, wedges: Iterable[SoilWedge]) -> Terrain:
    """The terrain with wedges of soil placed on it.

    A cell that several of them cover is raised by the most that any of them asks for.

    Parameters
    ----------
    terrain : Terrain
        The one that the wedges were made for.
    wedges : iterable of SoilWedge

    Returns
    -------
    Terrain
    """
    raised = np.zeros(terrain.ground.shape)
    for wedge in wedges:
        rows, cols = wedge.cells.T
        raised[rows, cols] = np.maximum(raised[rows, cols], wedge.raised)
    return replace(terrain, ground=terrain.ground + raised, surface=terrain.surface + raised)


def _wedges(site: Site, terrain: Terrain, asked: Sequence[Ask]) -> Iterator[SoilWedge]:
    volumes = _volumes(terrain, [ask.soil for ask in asked if ask.may_be_placed])
    for ask in asked:
        wedge = SoilWedge(
            run=ask.soil.run,
            compacted=0.0,
            loose=0.0,
            height=ask.height,
            out=ask.out,
            short_by=ask.short_by,
            refused=ask.refused,
        )
        if ask.may_be_placed:
            compacted = next(volumes)
            cells, raised = ask.soil.cells()
            wedge = replace(
                wedge,
                compacted=compacted,
                loose=compacted * site.rules["soil_bulking"],
                cells=cells,
                raised=raised,
            )
        yield wedge


def _volumes(terrain: Terrain, soils: Sequence[Soil]) -> Iterator[float]:
    """The soil on the ground, m3, by the run that it counts for.

    A cell counts for the run that it lies before, past the ends of the others; where that is no
    run or several, for the one that raises it most.
    """
    owner = np.zeros(terrain.ground.shape, dtype=np.int64)
    raised = np.zeros((2, *terrain.ground.shape))
    for number, soil in enumerate(soils, start=1):
        cells, depth = soil.cells()
        rows, cols = cells.T
        before = soil.before_the_run().astype(np.int64)
        # What lies past an end counts only where nothing lies before a run.
        higher = depth > raised[before, rows, cols]
        mine = higher & ((before == 1) | (raised[1, rows, cols] == 0))
        owner[rows[mine], cols[mine]] = number
        raised[before[higher], rows[higher], cols[higher]] = depth[higher]
    for number, soil in enumerate(soils, start=1):
        rows, cols = soil.cells()[0].T
        own = owner[rows, cols] == number
        yield float(raised[:, rows[own], cols[own]].max(axis=0).sum()) * terrain.grid.cell_area
