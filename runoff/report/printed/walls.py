"""Walls and openings in a plan's report: what was found there, and the soil that they need.

In: the plan. Out: blocks.
"""

from __future__ import annotations

from runoff.planning import Plan
from runoff.report.plan_first import at_the_walls, proof
from runoff.report.printed.blocks import Block, heading
from runoff.report.printed.drawn import Drawn
from runoff.report.printed.from_terminal import blocks_of
from runoff.report.summary import low_spots
from runoff.report.summary_walls import house, wall_tables

_NUMBERS = ("asked", "height of edge")


def wall_blocks(plan: Plan, drawn: Drawn) -> list[Block]:
    """Headlines, tables, what the walls need, and the storm run again with all of it built."""
    found = plan.findings
    return [
        heading("Walls and openings", 1),
        *blocks_of(house(found)),
        *blocks_of(wall_tables(found), _NUMBERS),
        *blocks_of(low_spots(found)),
        *blocks_of(at_the_walls(plan)),
        *drawn.walls(),
        *blocks_of(proof(plan)),
    ]
