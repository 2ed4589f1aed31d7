"""The files of a plan: JSON, text, map, shopping list, and each downspout's dig table and figures.

In: a plan and a folder. Out: files, all of them or none, each with the tool's mark. What an earlier
plan left in the folder and this one does not write is taken away, so that nobody digs by an old
table.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import assert_never

from runoff.data import as_text
from runoff.discharge.ways import AsItIs, BuriedLine, Extension, Option, SeepagePit, Swale
from runoff.planning import Plan
from runoff.report.files import TEXT_MARK, whole_folder, write_text
from runoff.report.names import csv_note, csv_text
from runoff.report.plan_attention import ROUGH
from runoff.report.plan_full import CSV_MARK, lot_notes, plan_text, shopping_csv
from runoff.site.model import Site
from runoff.words.dig_sheet import DIG_COLUMNS, Style, dig_cells, dig_figures, dig_notes

JSON_NAME, TEXT_NAME, MAP_NAME, SHOPPING_NAME = "plan.json", "plan.txt", "plan.png", "shopping.csv"

# The files of one downspout, in the order of `DownspoutFiles`.
_NAMED = ("dig_{}.csv", "profile_{}.png", "pit_{}.png", "swale_{}.png")
_LONGEST_STEM = 60


@dataclass(frozen=True)
class DownspoutFiles:
    """Where the files of one downspout go, whether or not its way has them."""

    dig: Path
    profile: Path
    pit: Path
    swale: Path

    @property
    def every(self) -> tuple[Path, ...]:
        """All four."""
        return self.dig, self.profile, self.pit, self.swale


@dataclass(frozen=True)
class PlanFiles:
    """Where the files of a plan go; `downspouts` in the order of the site's."""

    folder: Path
    downspouts: tuple[DownspoutFiles, ...]

    @property
    def common(self) -> tuple[Path, ...]:
        """The files that every plan has."""
        names = (JSON_NAME, TEXT_NAME, MAP_NAME, SHOPPING_NAME)
        return tuple(self.folder / name for name in names)

    @property
    def every(self) -> tuple[Path, ...]:
        """Every file that a plan of these downspouts may have."""
        return (*self.common, *(path for one in self.downspouts for path in one.every))


def stems(names: Iterable[str]) -> tuple[str, ...]:
    """Names of downspouts as parts of file names, no two alike.

    Letters and figures of any script stay, all else becomes one underscore.

    Examples
    --------
    >>> stems(["front left", "Front/Left", "../etc", "?"])
    ('front_left', 'front_left_2', 'etc', 'downspout')
    """
    found: list[str] = []
    for name in names:
        kept = "".join(c if c.isalnum() else " " for c in name.lower()).split()
        stem = "_".join(kept)[:_LONGEST_STEM] or "downspout"
        number, own = 2, stem
        while own in found:
            own, number = f"{stem}_{number}", number + 1
        found.append(own)
    return tuple(found)


def plan_files(folder: Path, downspouts: Iterable[str]) -> PlanFiles:
    """Where the files of a plan go.

    Examples
    --------
    >>> files = plan_files(Path("out"), ["front left"])
    >>> files.downspouts[0].dig.name, len(files.every)
    ('dig_front_left.csv', 8)
    """
    return PlanFiles(
        folder,
        tuple(
            DownspoutFiles(*(folder / pattern.format(stem) for pattern in _NAMED))
            for stem in stems(downspouts)
        ),
    )


def write_plan(plan: Plan, folder: Path, style: Style | None = None) -> list[Path]:
    """Write all files of a plan.

    Parameters
    ----------
    plan : Plan
    folder : Path
        Made where it is missing.
    style : {"tape", "tenths", "mm", "cm"}, optional
        How dig tables are written, as `runoff.words.dig_sheet.dig_sheet` takes it.

    Returns
    -------
    list of Path
        Those written.
    """
    from runoff.report.maps.lot_map import draw_map

    names = [each.downspout for each in plan.recommendations]
    with whole_folder(folder, files_of_plans(folder)) as there:
        files = plan_files(there, names)
        data, text, drawn, shopping = files.common
        write_text(data, as_text(plan.to_dict()))
        write_text(text, f"{TEXT_MARK}\n\n{plan_text(plan, style)}")
        draw_map(plan.findings, drawn, plan)
        write_text(shopping, shopping_csv(plan))
        written = list(files.common)
        for each, own in zip(plan.recommendations, files.downspouts, strict=True):
            written += _of_downspout(plan, each.downspout, each.chosen, own, style)
    return [folder / path.name for path in written]


def files_of_plans(folder: Path) -> list[Path]:
    """What plans have written in a folder, under whatever names its downspouts had then."""
    common = plan_files(folder, ()).common
    named = (path for pattern in _NAMED for path in folder.glob(pattern.format("*")))
    return [*common, *named]


def dig_csv(line: BuriedLine, site: Site, downspout: str, style: Style | None = None) -> str:
    """A dig table as CSV: what it is of and rests on behind ``#``, the columns, a row a station.

    Lengths stand as they are printed, since a tape and a rod are read so, and behind these as
    numbers in one unit, to reckon with.
    """
    page = io.StringIO()
    page.write(f"{CSV_MARK}\n")
    if site.height_accuracy.indication_only:
        page.write(f"# {ROUGH}\n")
    for note in (*lot_notes(site, downspout), *dig_notes(line, site.units, style)):
        page.write(f"{csv_note(note)}\n")
    columns, figures = dig_figures(line, site.units, style)
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow((*DIG_COLUMNS, *columns))
    for cells, row in zip(dig_cells(line, site.units, style), figures, strict=True):
        writer.writerow((*cells[:-1], csv_text(cells[-1]), *row))
    return page.getvalue()


def _of_downspout(
    plan: Plan, name: str, chosen: Option, own: DownspoutFiles, style: Style | None
) -> list[Path]:
    from runoff.report.sections.line import draw_profile
    from runoff.report.sections.pit import draw_pit
    from runoff.report.sections.swale import draw_swale

    written = []
    if chosen.line is not None:
        write_text(own.dig, dig_csv(chosen.line, plan.site, name, style))
        written += [own.dig, draw_profile(chosen.line, plan.site, name, own.profile)]
    match chosen.design:
        case SeepagePit() as pit:
            written.append(draw_pit(pit, plan.site, name, own.pit))
        case Swale() as swale:
            written.append(draw_swale(swale, plan.site, name, own.swale))
        case AsItIs() | Extension() | BuriedLine() | None:
            pass
        case unknown:
            assert_never(unknown)
    return written
