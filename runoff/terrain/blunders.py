"""Spot heights that their neighbors do not bear out: named, never dropped."""

from __future__ import annotations

from runoff.site.model import Site, Units
from runoff.terrain.lines import Strand
from runoff.terrain.model import Suspect
from runoff.terrain.neighbors import Obstacles
from runoff.terrain.survey import Survey


def double_suspects(survey: Survey, units: Units) -> list[Suspect]:
    """The shots that stand at the position of another with another height."""
    return []


def find_blunders(
    site: Site, survey: Survey, lines: list[Strand], obstacles: Obstacles
) -> list[Suspect]:
    """The shots that stand far from what their neighbors say."""
    return []
