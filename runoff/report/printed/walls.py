"""Walls and openings in a plan's report: what was found there, and the soil that they need.

In: the plan. Out: blocks.
"""

from __future__ import annotations

from runoff.planning import Plan
from runoff.report.blocks import Block, Heading
from runoff.report.findings_full import house, low_spots, wall_tables
from runoff.report.plan_full import at_the_walls, proof
from runoff.report.printed.drawn import Drawn
from runoff.words.attention import headlines_of


def wall_blocks(plan: Plan, drawn: Drawn) -> list[Block]:
    """Headlines, tables, what the walls need, and the storm run again with all of it built."""
    found = plan.findings
    return [
        Heading("Walls and openings", 1),
        *house(found),
        *wall_tables(found, headlines_of(found)),
        *low_spots(found),
        *at_the_walls(plan),
        *drawn.walls(),
        *proof(plan),
    ]
