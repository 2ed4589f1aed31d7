"""What the user should know of what was read and of the ground made of it: codes and figures.

`runoff.words.notices` makes sentences of them. What is wrong in what was written is a problem
(`problems.py`), and never a notice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

SiteCode = Literal[
    "read from elsewhere",
    "no photograph",
    "heights_by assumed",
    "no sides",
    "lot line through a building",
    "buildings overlap",
    "buildings of a file",
    "off the lot",
    "outline touches itself",
    "runs closed",
    "line goes on past spots",
    "line without spots",
    "roof carried in part",
    "edge not given",
    "ties miss each other",
    "ties meet sharply",
    "ties adjusted",
    "spots without height",
    "levels without place",
    "elevation shifted",
    "unit overridden",
    "map system taken",
    "worked in another system",
    "tied to the map",
    "north apart",
]
SheetCode = Literal[
    "semicolons",
    "decimal commas",
    "blank rows",
    "column reckoned anew",
    "loose feet",
    "nothing sighted",
    "no reading",
    "sights without length",
    "levels not closed",
    "first height assumed",
    "level line assumed",
    "level's own error",
    "not reversed",
    "next day",
    "past noon",
    "filled up between",
]
SoilCode = Literal[
    "falls used",
    "one fall used",
    "few falls",
    "never steadied",
    "ran dry",
    "no fall seen",
    "pit filled unalike",
    "filling from too low",
    "filling not watched",
    "filling carried on",
    "filling rough",
    "few fillings",
    "fillings slow down",
]
TerrainCode = Literal[
    "inside a building",
    "line inside a wall",
    "line cut at a building",
    "line in a building",
    "stray shots",
    "cells of a large survey",
    "cells for a gap",
    "gap too narrow",
    "tile off the lot",
    "tiles step",
    "data too coarse",
    "data interpolated",
    "data resampled",
    "data ends short",
    "data with holes",
    "buildings not drawn",
    "data moved to spots",
    "data blended",
    "spots cover walls",
    "spots leave walls",
]
StormCode = Literal[
    "storm",
    "yard cover",
    "drain full",
    "drain shut",
    "roof not carried",
    "downspout without roof",
    "run-on not counted",
    "pond at the limit",
]
NoticeCode = SiteCode | SheetCode | SoilCode | TerrainCode | StormCode
QuestionCode = Literal["heights shuffled", "rows slipped"]
Notation = Literal["", "us", "us decimal", "metric"]


@dataclass(frozen=True)
class Notice:
    """One thing that was taken for granted, left out or not counted, or one to ask about.

    Parameters
    ----------
    code : NoticeCode or QuestionCode
        What it is; `runoff.words.notices` says which names and figures each has.
    names : tuple of str
        Of what it is, as the user named it.
    figures : mapping
        SI values, each name ending in its unit.
    file, line : str, int or None
        The field sheet it was found in; empty where it is no sheet's.
    text : str
        What was written there.
    notation : str
        How that sheet is written; empty where the site's own units serve.

    Examples
    --------
    >>> Notice("gap too narrow", figures={"gap_m": 0.5})["gap_m"]
    0.5
    """

    code: NoticeCode | QuestionCode
    names: tuple[str, ...] = ()
    figures: Mapping[str, float | tuple[float, ...]] = field(default_factory=dict, hash=False)
    file: str = ""
    line: int | None = None
    text: str = ""
    notation: Notation = ""

    def __getitem__(self, figure: str) -> Any:
        """A figure, or several of one kind, by its name."""
        return self.figures[figure]
