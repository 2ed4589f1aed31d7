"""From a site file to a `Site`: the steps of reading, in order.

In: the path of a site file, or of the folder that holds one. Out: the site in SI with every
reference resolved, or `InputError` with everything that is wrong.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from shapely.geometry.base import BaseGeometry

from runoff.rules import Rules
from runoff.site.elevation.placing import north_of, place_on_map, read_elevation, refuse_far_off
from runoff.site.files import read_text
from runoff.site.ground import GroundReader
from runoff.site.implausible import question_heights, question_places
from runoff.site.lot import LotReader, apart, is_group, off_the_lot, rest_of_file
from runoff.site.model import (
    Building,
    DesignRains,
    HeightAccuracy,
    Lot,
    Photograph,
    Site,
    SpotHeight,
    Storm,
)
from runoff.site.notices import Notice
from runoff.site.problems import Complaints, InputError, Problem, readable, shorten
from runoff.site.rain.site_rains import read_rains
from runoff.site.roof_water import WaterReader
from runoff.site.settings import (
    benchmark_record,
    photograph_record,
    pipe_record,
    prices_record,
    read_accuracy,
    read_rules,
)
from runoff.site.shapes import Shapes, VectorFiles
from runoff.site.soil.sheets import read_soil
from runoff.site.survey.levels import LevelTable
from runoff.site.survey.points import Survey
from runoff.site.survey.spots import SpotRow
from runoff.site.survey.ties import NamedPoints
from runoff.site.wall_places import OpeningReader
from runoff.site.written.entry_lines import Positions
from runoff.site.written.fields import METRES_PER_UNIT
from runoff.site.written.tables import Tables, check_tables, each, names, units_of

SITE_FILE = "site.toml"


def read_site(path: str | Path) -> Site:
    """Read a site file with all it refers to.

    Parameters
    ----------
    path : str or Path
        A site file, or a folder with a ``site.toml`` in it.

    Returns
    -------
    Site

    Raises
    ------
    InputError
        With one problem for each mistake, naming file, line, entry, what was written and what is
        expected.

    Examples
    --------
    >>> read_site("no such folder/site.toml")
    Traceback (most recent call last):
    ...
    runoff.site.problems.InputError: no such folder/site.toml: expected a site file in TOML, but \
there is no such file
    """
    try:
        return _read(path)
    except InputError as error:
        raise InputError(map(readable, error.problems)) from None


def _read(path: str | Path) -> Site:
    file, shown = _site_file(path)
    text = read_text(file, shown, "a site file in TOML")
    raw = _parse(text.replace("\r\n", "\n"), shown)
    complaints = Complaints(shown, raw, Positions(text))
    site = _SiteReader(file, complaints).read()
    if site is None or complaints.problems:
        raise InputError(_in_order(complaints.problems, shown))
    return site


def _site_file(path: str | Path) -> tuple[Path, str]:
    """The site file, and its name to show."""
    file = Path(path)
    try:
        if file.is_dir():
            file = file / SITE_FILE
    except (OSError, ValueError):
        pass
    return file, str(file)


def _parse(text: str, shown: str) -> dict[str, Any]:
    """What tomllib makes of the text, its errors as one problem with line and column."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise InputError(
            [Problem(shown, None, "", "", "lists and tables that are not nested so deeply")]
        ) from None
    except ValueError as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        reason = str(error).split(" (at ")[0]
        lines = text.split("\n")
        line = int(found[1]) if found else len(lines)
        column = int(found[2]) if found else None
        written = shorten(lines[min(line, len(lines)) - 1].strip())
        expected = f'TOML, such as name = "north lot" or [site] ({reason})'
        raise InputError([Problem(shown, line, "", written, expected, column)]) from None


def _in_order(problems: list[Problem], shown: str) -> list[Problem]:
    """Each problem once: the site file's first, by line."""
    return sorted(dict.fromkeys(problems), key=lambda p: (p.file != shown, p.file, p.line or 0))


class _SiteReader:
    """Reads one site, collecting notices and complaints on the way."""

    def __init__(self, file: Path, complaints: Complaints) -> None:
        self.file = file
        self.complaints = complaints
        self.notices: list[Notice] = []
        self.not_taken: set[str] = set()
        self.tables: Tables = check_tables(complaints.raw, complaints)
        self.units = units_of(complaints.raw)

    def read(self) -> Site | None:
        rules = read_rules(self.complaints)
        if self.complaints.elsewhere:
            named = tuple(dict.fromkeys(self.complaints.elsewhere))
            self.notices.append(Notice("read from elsewhere", named))
        survey = self._survey(rules)
        rows = None if survey is None else survey.rows()
        elevation = read_elevation(
            self.tables.terrain,
            self.tables.site,
            self.file.parent,
            self.complaints,
            self.notices,
        )
        frame = place_on_map(
            self.tables.site, elevation, rows, self.units, self.complaints, self.notices
        )
        if frame is None:
            return None
        points = self._points(rules)
        shapes = Shapes(self.file.parent, frame, self.complaints, VectorFiles(frame), points)
        lot = LotReader(shapes, self.complaints, self.notices)
        boundary = None if self.tables.lot is None else lot.lot(self.tables.lot)
        buildings = self._buildings(lot, boundary, points)
        levels = None if survey is None else survey.levels(rows, self._benchmark())
        spots = None
        if survey is not None:
            spots = survey.placed(
                rows,
                levels,
                buildings,
                points,
                lambda typed: shapes.point(typed, ("terrain", "spot_heights")),
            )
        self.not_taken = set() if survey is None else survey.not_taken
        parts = self._parts(shapes, spots, lot, boundary, buildings)
        refuse_far_off(
            self._places(boundary, parts), spots or (), elevation, frame, self.complaints
        )
        questions: list[Notice] = []
        if not self.complaints.problems:
            questions = self._question(boundary, parts, spots or [], rules, shapes.system)
        heights = self._accuracy(survey, levels, rows, rules)
        if questions and heights is not None:
            heights = replace(heights, indication_only=True)
        rains = self._rains(rules)
        soil = read_soil(
            self.tables.soil,
            self.file.parent,
            self.units,
            rules,
            self.complaints,
            self.notices,
        )
        described = self.tables.site
        terrain = self.tables.terrain
        if self.complaints.problems or described is None or terrain is None or heights is None:
            return None
        if rains is None:
            return None
        return Site(
            path=self.file,
            name=described.name,
            units=described.units,
            height_accuracy=heights,
            storm=rains[0],
            rains=rains[1],
            rules=rules,
            address=described.address,
            date=described.date,
            observer=described.observer,
            weather=described.weather,
            hidden=described.hidden,
            notes=described.notes,
            north_degrees=north_of(described, frame, self.notices),
            georeference=frame.georeference,
            elevation=None if elevation is None else elevation.source,
            cell_size=terrain.cell_size,
            spot_heights=tuple(spots or ()),
            soil=soil,
            pipe=pipe_record(self.tables.pipe),
            benchmark=benchmark_record(described.benchmark),
            prices=prices_record(self.tables.prices),
            photographs=self._photographs(),
            questions=tuple(questions),
            notices=tuple(self.notices + points.notices + shapes.files.notices),
            **parts,
        )

    def _question(
        self,
        boundary: Lot | None,
        parts: dict[str, Any],
        spots: list[SpotHeight],
        rules: Rules,
        system: str,
    ) -> list[Notice]:
        """Ask about heights and places that cannot be a yard's, before anything rests on them."""
        numbers = {
            key: {table.name: number for number, table in getattr(self.tables, key)}
            for key in ("building", "downspout", "outlet")
        }
        stated = {table.name for _, table in self.tables.building if table.neighbor is not None}
        self.notices += question_places(
            boundary, parts, numbers, stated, rules, system, self.complaints
        )
        unit = METRES_PER_UNIT[self.units]
        held = next(iter(self._benchmark().values()), None)
        return question_heights(spots, held, rules, unit, self.complaints)

    def _places(
        self, boundary: Lot | None, parts: dict[str, Any]
    ) -> list[tuple[tuple[str | int, ...], BaseGeometry]]:
        """Every outline of the lot with its entry."""
        found: list[tuple[tuple[str | int, ...], BaseGeometry]] = []
        if boundary is not None:
            found.append((("lot",), boundary.boundary))
        for key, kind, shape in (
            ("building", "buildings", "outline"),
            ("paving", "paving", "outline"),
            ("keep_out", "keep_outs", "area"),
            ("easement", "easements", "area"),
            ("outlet", "outlets", "place"),
        ):
            numbers = {table.name: number for number, table in getattr(self.tables, key)}
            found += [
                ((key, numbers[each.name]), getattr(each, shape))
                for each in parts[kind]
                if each.name in numbers
            ]
        return found

    def _rains(self, rules: Rules) -> tuple[Storm, DesignRains] | None:
        """The rains; None where ``[rain]`` does not pass, which is told already."""
        if self.tables.rain is None and "rain" in self.complaints.raw:
            return None
        return read_rains(self.tables.rain, self.file.parent, rules, self.complaints)

    def _photographs(self) -> tuple[Photograph, ...]:
        return each(
            self.tables.photograph,
            lambda number, table: photograph_record(
                number, table, self.file.parent, self.complaints, self.notices
            ),
        )

    def _survey(self, rules: Rules) -> Survey | None:
        """The field sheets; None where ``[terrain]`` does not pass, which is told already."""
        terrain = self.tables.terrain
        if terrain is None:
            return None
        folder = self.file.parent
        return Survey(terrain, folder, self.units, rules, self.complaints, self.notices)

    def _points(self, rules: Rules) -> NamedPoints:
        system = "metric" if self.units == "m" else "us"
        return NamedPoints(system, rules["tape_misfit"], rules["outline_misclosure"])

    def _benchmark(self) -> dict[str, float]:
        """The benchmark's height by its name."""
        held = None if self.tables.site is None else self.tables.site.benchmark
        return {} if held is None else {held.name: held.height}

    def _buildings(
        self, lot: LotReader, boundary: Lot | None, points: NamedPoints
    ) -> tuple[Building, ...]:
        groups = [pair for pair in self.tables.building if is_group(pair[1], lot.shapes)]
        single = [pair for pair in self.tables.building if pair not in groups]
        buildings = each(single, lot.building)
        numbers = {table.name: number for number, table in single}
        buildings = apart(buildings, numbers, self.complaints, self.notices, lot.shapes.system)
        points.add_corners(buildings)
        for number, table in groups:
            rest = rest_of_file(number, table, buildings, boundary, lot.shapes, self.notices)
            buildings = (*buildings, *rest)
        return buildings

    def _accuracy(
        self,
        survey: Survey | None,
        levels: LevelTable | None,
        rows: list[SpotRow] | None,
        rules: Rules,
    ) -> HeightAccuracy | None:
        said: list[Notice] = []
        stated = read_accuracy(self.tables.terrain, rules, self.complaints, said)
        if survey is None or stated is None:
            self.notices += said
            return stated
        return survey.accuracy(levels, stated, rows, said)

    def _parts(
        self,
        shapes: Shapes,
        spots: list[SpotHeight] | None,
        lot: LotReader,
        boundary: Lot | None,
        buildings: tuple[Building, ...],
    ) -> dict[str, Any]:
        """What stands on the lot, by the names of `Site`'s fields."""
        tables, complaints, raw = self.tables, self.complaints, self.complaints.raw
        known = None if spots is None else {spot.name: spot for spot in spots}
        ground = GroundReader(shapes, complaints, known, self.not_taken, self.notices)
        water = WaterReader(
            shapes, complaints, buildings, names(raw, "building"), names(raw, "roof")
        )
        downspouts = each(tables.downspout, water.downspout)
        roofs = each(tables.roof, water.roof)
        water.check_onto(roofs, {table.name: number for number, table in tables.roof})
        self.notices += water.check_shares(
            downspouts,
            {table.name: number for number, table in tables.downspout},
            {roof.name for roof in roofs if roof.onto or roof.eave is not None},
        )
        openings = OpeningReader(shapes, buildings, names(raw, "building"), self.notices)
        opened = each(tables.opening, openings.opening)
        used = {downspout.building for downspout in downspouts} | {o.building for o in opened}
        stated = {table.name for _, table in tables.building if table.neighbor is not None}
        buildings = off_the_lot(buildings, boundary, used | stated, self.notices)
        return {
            "break_lines": each(tables.break_line, ground.break_line),
            "barriers": each(tables.barrier, ground.barrier),
            "drains": each(tables.drain, ground.drain),
            "buildings": buildings,
            "lot": boundary,
            "paving": each(tables.paving, lot.paving),
            "keep_outs": each(tables.keep_out, lot.keep_out),
            "easements": each(tables.easement, lot.easement),
            "outlets": each(tables.outlet, lot.outlet),
            "roofs": roofs,
            "downspouts": downspouts,
            "openings": opened,
            "sumps": each(tables.sump, water.sump),
            "gutters": each(
                tables.gutter, lambda number, table: water.gutter(number, table, roofs)
            ),
        }
