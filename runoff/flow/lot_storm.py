"""The site's own storm on its ground: made ready once, run with all that lets water go.

In: a site and its terrain. Out: a lot made ready for storms, and its storm run.
"""

from __future__ import annotations

from runoff.flow.sources import sources_of
from runoff.flow.storm import LetGo, LotFlow, StormRun
from runoff.flow.yard import curve_numbers, curve_numbers_at
from runoff.site.model import Site
from runoff.terrain.model import Terrain


def prepare_flow(site: Site, terrain: Terrain) -> LotFlow:
    """Make the ground ready for storms: its curve numbers, and a hierarchy kept once found."""
    return LotFlow(
        terrain,
        curve_numbers(site, terrain),
        site.storm.duration,
        lambda places: curve_numbers_at(site, places),
    )


def run_storm(site: Site, flow: LotFlow) -> StormRun:
    """Let the storm fall on the yard, and let the water of roofs and sumps go where it does."""
    return flow.run(site.storm.depth, all_let_go(site, flow.terrain))


def all_let_go(site: Site, terrain: Terrain) -> list[LetGo]:
    """The water of every source of the lot, at the cells where it is let go."""
    return [each for source in sources_of(site, terrain) for each in source.let_go]
