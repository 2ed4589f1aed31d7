"""The lot of the benchmarks: the sample on a grid of about as many cells as 400 x 400."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from runoff.flow import (
    DownspoutAnswer,
    LetGo,
    LotFlow,
    LowSpot,
    answer_downspouts,
    foot_of,
    low_spots_of,
    prepare_flow,
    roof_water,
    run_storm,
)
from runoff.sample import sample_folder
from runoff.site import Downspout, Site, read_site
from runoff.terrain import Terrain, build_terrain


@cache
def lot(cells: int) -> tuple[Site, Terrain]:
    """The sample lot and its terrain on about so many cells."""
    site = read_site(sample_folder() / "site.toml")
    grid = build_terrain(site).grid
    size = grid.cell_size * (grid.rows * grid.cols / cells) ** 0.5
    site = replace(site, cell_size=size)
    return site, build_terrain(site)


def moved_downspout(site: Site) -> Downspout:
    """The site's first downspout, a foot further along x."""
    first = site.downspouts[0]
    return replace(first, x=first.x + 0.3048)


def other_water(site: Site, flow: LotFlow) -> list[LetGo]:
    """What the site's other downspouts let go."""
    return [LetGo(foot_of(d, flow.terrain), roof_water(site, d, 1.0)) for d in site.downspouts[1:]]


def answers_and_spots(
    site: Site, flow: LotFlow
) -> tuple[tuple[DownspoutAnswer, ...], dict[int, LowSpot]]:
    """Run the storm on ground made ready; answer every downspout, and name the low spots."""
    let_go = [LetGo(foot_of(d, flow.terrain), roof_water(site, d, 1.0)) for d in site.downspouts]
    run = run_storm(site, flow)
    spots, _ = low_spots_of(
        *(site, flow.grid, run.ponding, run.ponding.depth()),
        lambda rain: flow.run_as(run, rain, let_go),
    )
    return answer_downspouts(site, flow, run, spots), spots


def answers_from_heights(site: Site, terrain: Terrain) -> tuple[DownspoutAnswer, ...]:
    """From a grid of heights to the answers, the second engine left out."""
    return answers_and_spots(site, prepare_flow(site, terrain))[0]
