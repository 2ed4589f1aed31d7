"""The files that `start` makes from answers: the site file, sheets to fill in, where to measure.

In: the answers. Out: the text of each file by its name; nothing is written here.
"""

from __future__ import annotations

import csv
import io
import json
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from runoff.quantities import format_length, system_of
from runoff.site.model import Site
from runoff.site.reading import read_site
from runoff.site.survey.field_points import FIRST, MORE, GroundLine, SurveyPoint, points_to_survey
from runoff.site.written.document import WELLS
from runoff.site.written.tables import site_schema
from runoff.start.site_text import (
    LEVELS_FILE,
    PERCOLATION_FILE,
    SCHEMA_FILE,
    SPOTS_FILE,
    TRIAL_PIT_FILE,
    plain_figure,
    site_text,
)

SITE_FILE = "site.toml"
LIST_FILE = "where_to_measure.txt"
FILES = (
    SITE_FILE,
    SPOTS_FILE,
    LEVELS_FILE,
    TRIAL_PIT_FILE,
    PERCOLATION_FILE,
    LIST_FILE,
    SCHEMA_FILE,
)
_MADE_UP = (("P1", 0.0, 0.0), ("P2", 1.0, 0.0), ("P3", 0.0, 1.0))
BENCHMARK = "benchmark"
_FILLINGS, _READINGS = 3, 8
_MOST_NAMED = 60


@dataclass(frozen=True)
class Started:
    """What `start` makes: files by name, and the points to take heights at."""

    files: Mapping[str, str]
    points: tuple[SurveyPoint, ...]


def make_files(draft: Mapping[str, Any]) -> Started:
    """Make the files of a lot from the answers about it.

    The site file is read back before it is given out, with heights of zero filled in, so that what
    `start` writes is what `inspect` reads.

    Parameters
    ----------
    draft : mapping
        The answers, as `runoff.start.interview.interview` gives them.

    Returns
    -------
    Started
    """
    units = str(draft.get("units", "ft"))
    without_lines = {**draft, "swales": []}
    site = _read_back(site_text(without_lines, ()), _spots_sheet(_MADE_UP_POINTS, units, "0"))
    lines = [GroundLine(s.name, np.array(s.points)) for s in draft.get("swales", [])]
    parts = (site.own_buildings, site.lot, site.downspouts, site.openings)
    wanted = points_to_survey(*parts, lines, most=_MOST_NAMED, units=site.units)
    points, others = wanted[: FIRST + MORE], wanted[FIRST + MORE :]
    text = site_text(draft, points)
    _read_back(text, _spots_sheet(points, units, "0"))
    files = {
        SITE_FILE: text,
        SPOTS_FILE: _spots_sheet(points, units, ""),
        LEVELS_FILE: _levels_sheet(points, str(draft.get("heights", "string level")), units),
        TRIAL_PIT_FILE: _trial_pit_sheet(),
        PERCOLATION_FILE: _percolation_sheet(),
        LIST_FILE: list_text(points, units, others) + _sills_text(draft),
        SCHEMA_FILE: json.dumps(site_schema(), indent=2) + "\n",
    }
    return Started(files, points)


_MADE_UP_POINTS = tuple(SurveyPoint(*point, ("made up",), True) for point in _MADE_UP)


def _read_back(text: str, spots: str) -> Site:
    """The site that a text makes with some heights."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / SITE_FILE).write_text(text, encoding="utf-8")
        (Path(folder) / SPOTS_FILE).write_text(spots, encoding="utf-8")
        return read_site(folder)


def list_text(points: Sequence[SurveyPoint], units: str, others: Sequence[SurveyPoint] = ()) -> str:
    """Where to take heights, in words.

    Parameters
    ----------
    points : sequence of SurveyPoint
    units : {"ft", "m"}
    others : sequence of SurveyPoint
        What is worth taking too and has no row on the sheets.

    Returns
    -------
    str
    """
    first = [point for point in points if point.first]
    more = [point for point in points if not point.first]
    lines = [
        "Where to take heights on this lot. Right is along the front of the house, back is toward",
        "the rear of the lot, both from the front left corner of the house.",
        "",
        f"The {len(first)} points that matter most",
        *(_line(point, units) for point in first),
    ]
    if more:
        lines += ["", f"Then {len(more)} more", *(_line(point, units) for point in more)]
    if others:
        lines += [
            "",
            f"Then {len(others)} without a row in {SPOTS_FILE}: where none is taken the ground may",
            "stay unknown, and with it where water goes; add a row for each that you take",
            *(_line(point, units) for point in others),
        ]
    lines += [
        "",
        "Take more wherever the ground bends: at the top and the foot of a bank or a curb, along a",
        "swale, at the edge of a drive. At a wall hold the rod on the ground, not on a step or a",
        "stone.",
    ]
    return "\n".join(lines) + "\n"


def _sills_text(draft: Mapping[str, Any]) -> str:
    """What is to be measured beside the ground: sills and the wells' rims, by name."""
    openings = [one for one in draft.get("openings", []) if one.sill is None]
    if not openings:
        return ""
    lines = [
        "",
        f"And the heights that let water in, with the same level; they go into {SITE_FILE}",
        *(
            f"  {one.name}: {'its rim where that is lowest' if one.kind in WELLS else 'its sill'}"
            for one in openings
        ),
    ]
    return "\n".join(lines) + "\n"


def _line(point: SurveyPoint, units: str) -> str:
    right = _way(point.x, "right", "left", units)
    back = _way(point.y, "back", "front", units)
    return f"  {point.name:<4}{right + ', ' + back:<34} {point.reason}"


def _way(metres: float, ahead: str, behind: str, units: str) -> str:
    if round(metres, 3) == 0.0:
        return f"0 {ahead}"
    shown = format_length(abs(metres), system_of(units), 1)
    return f"{shown} {ahead if metres >= 0.0 else behind}"


def _spots_sheet(points: Iterable[SurveyPoint], units: str, height: str) -> str:
    rows = (
        (p.name, plain_figure(p.x, units), plain_figure(p.y, units), height, p.reason)
        for p in points
    )
    return _csv([("name", "x", "y", "z", "remark"), *rows])


def _levels_sheet(points: Iterable[SurveyPoint], method: str, units: str) -> str:
    """Rows for rod readings, or for what is measured down from a string or a water level."""
    bench = "100" if units == "ft" else "30"
    where = "a point that stays, such as the door sill"
    if method in ("string level", "water level"):
        lines = [("line", "point", "down", "reversed", "distance", "height", "remark")]
        lines.append(("1", BENCHMARK, "", "", "", bench, where))
        lines += [("1", p.name, "", "", "", "", p.reason) for p in points]
        return _csv(lines)
    notes = [("point", "backsight", "intermediate", "foresight", "height", "remark")]
    notes.append((BENCHMARK, "", "", "", bench, where))
    notes += [(p.name, "", "", "", "", p.reason) for p in points]
    notes.append((BENCHMARK, "", "", "", "", "closes the run: the foresight"))
    return _csv(notes)


def _trial_pit_sheet() -> str:
    header = ("fill", "time_75_to_25", "effective_depth", "length", "width", "remark")
    return _csv([header, *((str(fill), "", "", "", "", "") for fill in range(1, _FILLINGS + 1))])


def _percolation_sheet() -> str:
    header = ("time", "down", "refill", "diameter", "bottom", "remark")
    rows = [("", "", "", "", "", f"reading {k}") for k in range(1, _READINGS + 1)]
    return _csv([header, *rows])


def _csv(rows: Iterable[Sequence[str]]) -> str:
    page = io.StringIO()
    csv.writer(page, lineterminator="\n").writerows(rows)
    return page.getvalue()
