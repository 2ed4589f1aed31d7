"""What was taken for granted, left out or not counted, a sentence each, and what is asked about.

In: a site and a notice. Out: its sentence, in the site's own units or those of the field sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from runoff.quantities import Shown, system_of
from runoff.site.elevation.files import unit_name
from runoff.site.model import Site
from runoff.site.notices import Notice
from runoff.site.problems import printable
from runoff.site.soil.tests import why_left_out
from runoff.words.rains import storm_basis

_MOST_PAIRS = 3
_MOST_SPOTS = 8
_MOST_NOT_REVERSED = 6
_MOST_PLACES = 5
_MOST_WALLS = 8
_SHARPEST_M = 1e3
_EIGHTH_M = 0.0254 / 8.0


def notice_words(site: Site, notice: Notice) -> str:
    """One notice, or one question, in the user's words and units.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> notice_words(SimpleNamespace(units="m"), Notice("tile off the lot", ("b.tif",)))
    'b.tif does not reach the lot.'
    """
    said = WORDS[notice.code](_Told(site, notice))
    if not notice.file:
        return said
    return printable(f"{notice.file}: {said}")


def notices_in_words(site: Site, notices: Iterable[Notice]) -> list[str]:
    """Each notice in words."""
    return [notice_words(site, notice) for notice in notices]


class _Told:
    """A notice with its quantities as its site or its sheet writes them."""

    def __init__(self, site: Site, notice: Notice) -> None:
        self.site, self.notice = site, notice
        self.system = notice.notation or system_of(site.units)
        self.name = notice.names[0] if notice.names else ""
        self.names = notice.names

    def __getitem__(self, figure: str) -> float:
        return float(self.notice[figure])

    def length(self, figure: str, denominator: int = 16) -> str:
        return self.shown(self[figure], denominator)

    def shown(self, metres: float, denominator: int = 16) -> str:
        in_tenths = self.system == "us decimal"
        return Shown(self.system).length(abs(metres), 100 if in_tenths else denominator)

    def half(self, figure: str) -> str:
        """A length to half an inch, or metric."""
        return self.length(figure, 2)

    def place(self, x: float, y: float) -> str:
        if self.site.units == "m":
            return f"x {x:.2f} m, y {y:.2f} m"
        return f"x {Shown('us').length(x, 2)}, y {Shown('us').length(y, 2)}"

    def quoted(self, first: int = 0) -> str:
        return ", ".join(f"'{name}'" for name in self.names[first:])

    def reprs(self, first: int = 0) -> str:
        return ", ".join(map(repr, self.names[first:]))

    def first_of(self, most: int) -> str:
        return ", ".join(self.names[:most]) + (" ..." if len(self.names) > most else "")

    @property
    def row(self) -> str:
        return f"line {self.notice.line}"


def _overlap(n: _Told) -> str:
    areas = n.notice["areas_m2"]
    pairs = [
        f"{one!r} and {other!r} ({Shown(n.system).area(area)})"
        for one, other, area in zip(n.names[::2], n.names[1::2], areas, strict=True)
    ]
    more = len(pairs) - _MOST_PAIRS
    listed = ", ".join(pairs[:_MOST_PAIRS]) + (f" and {more} more pairs" if more > 0 else "")
    return (
        f"Outlines of buildings overlap: {listed}. That ground is cut from one of the two, and "
        "walls inside the other count as shared, not as outside walls; correct the outlines where "
        "it matters."
    )


def _of_a_file(n: _Told) -> str:
    left_out = (
        f"; {n['unusable']:.0f} of its features enclose no ground and are left out"
        if n["unusable"]
        else ""
    )
    return (
        f"{n.name}: {n['count']:.0f} buildings within {n['within_m']:.0f} m that no other "
        f"[[building]] names count as neighbors'{left_out}."
    )


def _adjusted(n: _Told) -> str:
    residuals = n.notice["residuals_m"]
    off = ", ".join(
        f"{point!r} {'+' if residual >= 0 else '-'}{n.shown(residual)}"
        for point, residual in zip(n.names[1:], residuals, strict=True)
    )
    return (
        f"{n.name}: its {len(residuals)} ties are adjusted by least squares; taped less computed: "
        f"{off}"
    )


def _tied(n: _Told) -> str:
    way = "counterclockwise" if n["turned_degrees"] >= 0 else "clockwise"
    return (
        f"tie_points: the plan is turned {abs(n['turned_degrees']):.1f} degrees {way} onto the "
        f"map; the common points fit to {n.length('misfit_m')}, and distances on the map are "
        f"{n['scale']:.4f} times those on the plan"
    )


def _few_falls(n: _Told) -> str:
    falls = "one fall" if n["falls"] == 1 else f"{n['falls']:.0f} falls"
    return (
        f"the percolation test has {falls} of the water, {n['asked']:.0f} that agree are asked "
        "for: it is not known to have steadied, and the slowest is used, "
        f"{Shown(n.system).rate(n['rate_m_per_s'])}"
    )


def _never_steadied(n: _Told) -> str:
    rates = ", ".join(Shown(n.system).rate(rate) for rate in n.notice["rates_m_per_s"])
    return (
        f"the percolation test never steadied: its last rates, {rates}, differ by more than "
        f"{100 * n['share']:.3g} %; the slowest of them is used, and more readings are needed"
    )


def _unalike(n: _Told) -> str:
    low, high = n.length("least_m"), n.length("most_m")
    return (
        f"the trial pit was filled to between {low} and {high}: {low} is taken as the effective "
        "depth; fill it to the same mark each time"
    )


def _few_fillings(n: _Told) -> str:
    times = "once" if n["fillings"] == 1 else f"{n['fillings']:.0f} times"
    return (
        f"the trial pit was filled {times}, {n['asked']:.0f} are asked for: the rate may be too "
        "high"
    )


def _left_out(n: _Told) -> str:
    return f"filling {n.name} of the trial pit {why_left_out(n.notice)}; it is left out"


def _not_drawn(n: _Told) -> str:
    places = list(zip(n.notice["x_m"], n.notice["y_m"], strict=True))
    buildings = "1 building" if len(places) == 1 else f"{len(places)} buildings"
    told = "; ".join(n.place(x, y) for x, y in places[:_MOST_PLACES])
    return (
        f"The point cloud shows {buildings} near the lot that the site does not draw, middle "
        f"at {told}{', and more' if len(places) > _MOST_PLACES else ''}. Draw those that water may "
        "meet."
    )


def _resampled(n: _Told) -> str:
    unit = 0.3048 if n.site.units == "ft" else 1.0
    return (
        f"{n.name} is smoother than its cells of {n.half('cell_m')}: it looks like a model with "
        f"cells of about {n['detail_m'] / unit:.0f} {n.site.units}, resampled. What is smaller "
        "than that, such as the grade at a wall, a shallow swale or a curb, is not in it; take "
        "spot heights there."
    )


def _moved(n: _Told) -> str:
    shots = "spot height" if n["spots"] == 1 else "spot heights"
    where, way = ("above", "lowered") if n["bias_m"] < 0 else ("below", "raised")
    return (
        f"The elevation data stands {n.half('bias_m')} {where} your {n['spots']:.0f} "
        f"{shots} (the median difference); it is {way} by that."
    )


def _walls_left(n: _Told) -> str:
    walls, more = ", ".join(n.names[:_MOST_WALLS]), len(n.names) - _MOST_WALLS
    return (
        f"Your own points do not cover the ground within {n.half('reach_m')} of these walls: "
        f"{walls}{f' and {more} more' if more > 0 else ''}. So what is said of any wall is an "
        "indication. Take more spot heights there."
    )


def _yard(n: _Told) -> str:
    # What is said before water is followed, as by a check, needs no flow engine.
    from runoff.flow.storm import yard_cover

    cover = yard_cover(n.site)
    return (
        f"Rain on the yard: lawn of curve number {cover.lawn_curve_number:g} (soil group "
        f"{cover.group}, {group_words(n.site)}; {cover.lawn} grass), paving "
        f"{cover.paving_curve_number:g}."
    )


def group_words(site: Site) -> str:
    """Where the hydrologic soil group of the yard comes from.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from runoff.rules import Rules
    >>> from runoff.site.model import Soil
    >>> group_words(SimpleNamespace(soil=Soil(texture="loam"), rules=Rules()))
    'of loam'
    """
    from runoff.flow.storm import yard_cover

    return {
        "given": "given",
        "texture": f"of {site.soil.texture}",
        "assumed": "the wettest, as no texture is given",
    }[yard_cover(site).group_from]


def _at_the_limit(n: _Told) -> str:
    spot, building = n.names
    return (
        f"{spot[0].upper()}{spot[1:]} comes within {n.length('distance_m', 1)} of '{building}' "
        f"when it is full, where {n.length('asked_m', 1)} is asked: so little decides whether "
        "water may be let go on the ground that drains to it."
    )


def _side(n: _Told) -> str:
    sides = () if n.site.lot is None else n.site.lot.sides
    return next(side.words for side in sides if side.name == n.name)


def _level_error(n: _Told) -> str:
    off = n.shown(n["slope_m_per_m"] * 10.0 * 0.3048)
    return (
        f"the level's own error is {off} in 10 ft ({n['slope_m_per_m']:+.4f}), by half the "
        "differences of reversed readings; it is taken out"
    )


WORDS: dict[str, Callable[[_Told], str]] = {
    # The site file.
    "read from elsewhere": lambda n: (
        f"Read from outside the site file's folder, as it allows: {', '.join(n.names)}."
    ),
    "no photograph": lambda n: (
        f"photograph, number {n['number']:.0f}: there is no file {n.name}; it is left out of the "
        "report"
    ),
    "heights_by assumed": lambda n: (
        f"[terrain]: heights_by is not given; heights are taken to be as good as by {n.name}"
    ),
    "no sides": lambda n: (
        "[lot]: no sides are given, so each side counts as a neighbor's; give sides = "
        '[{neighbor = "street"}, ...] to say where water may leave'
    ),
    "lot line through a building": lambda n: (
        f"The lot line runs through building {n.name!r}: {n['share_off']:.0%} of it lies off "
        f"the lot, up to {n.length('off_m', 1)}; check both."
    ),
    "buildings overlap": _overlap,
    "buildings of a file": _of_a_file,
    "off the lot": lambda n: (
        f"Off the lot, and so not judged: {n.reprs()}; give neighbor = false to have a building "
        "judged all the same."
    ),
    "outline touches itself": lambda n: (
        f"An outline in {n.name} touches itself; it is read as the ground it encloses."
    ),
    "runs closed": lambda n: (
        f"{n.name}: its runs miss their start by {n.length('misclosure_m')} in "
        f"{n.length('length_m')}; the corners are adjusted by the compass rule"
    ),
    "line goes on past spots": lambda n: (
        f"break line {n.name!r} goes on past {n.reprs(1)} without a height"
    ),
    "line without spots": lambda n: (
        f"break line {n.name!r} is left out, with {n.reprs(1)} without a height"
    ),
    "roof carried in part": lambda n: (
        f"roof {n.name!r}: downspouts carry {n['share']:g} of it; the rest is left out"
    ),
    "edge not given": lambda n: (
        f"opening {n.name!r}: its {n.names[1]} is not given, so it cannot be told how high water "
        "may stand before it gets in"
    ),
    "ties miss each other": lambda n: (
        f"{n.name}: the ties miss each other by {n.length('off_m')}; the point is put on the line "
        f"through {n.names[1]!r} and {n.names[2]!r}"
    ),
    "ties meet sharply": lambda n: (
        f"{n.name}: its ties meet at a sharp angle, so that 1/8 in in each moves it by as much as "
        f"{n.shown(min(n['spread_m_per_m'], _SHARPEST_M) * _EIGHTH_M)}"
    ),
    "ties adjusted": _adjusted,
    "spots without height": lambda n: (
        f"passed over, for no height is written: {n.first_of(_MOST_SPOTS)}"
    ),
    "levels without place": lambda n: (
        f"leveled but nowhere placed, so no spot height: {n.first_of(_MOST_SPOTS)}"
    ),
    "elevation shifted": lambda n: (
        f"the elevation data is {'lowered' if n['shift_m'] < 0 else 'raised'} by "
        f"{n.length('shift_m')}, so that the benchmark {n.name!r} has its height in the survey"
    ),
    "unit overridden": lambda n: (
        f"{n.name} says that its heights are in {unit_name(n['unit_said_m'])}; they are read in "
        f"{unit_name(n['unit_read_m'])}, as vertical_unit says"
    ),
    "map system taken": lambda n: (
        f"{n.name} names no map system; it is read in {n.names[1]}, the crs of [site]"
    ),
    "worked in another system": lambda n: (
        f"positions are worked in {n.name}, as {n.names[1]} does not keep lengths"
    ),
    "tied to the map": _tied,
    "north apart": lambda n: (
        f"[site] north is {n['north_degrees']:.0f} degrees, but by tie_points it is "
        f"{n['tied_degrees']:.0f}"
    ),
    # Field sheets.
    "semicolons": lambda n: "read with semicolons between the columns",
    "decimal commas": lambda n: "commas in figures are read as decimal points",
    "blank rows": lambda n: (
        f"{n['rows']:.0f} blank {'row' if n['rows'] == 1 else 'rows'} passed over"
    ),
    "column reckoned anew": lambda n: (
        f'the column "{n.notice.text}" is passed over; it is reckoned anew'
    ),
    "loose feet": lambda n: (
        f'{n.row}: "{n.notice.text}" is read as {Shown("us").fine(n["length_m"])}'
    ),
    "nothing sighted": lambda n: (
        f"{n.row}: nothing is sighted after the backsight on {n.name!r}; it is left out"
    ),
    "no reading": lambda n: f"{n.row}: no reading on {n.name!r}; it is passed over",
    "sights without length": lambda n: (
        "the rule level_misclosure goes by the length of the run, and not every sight's distance "
        "is noted: level_per_reading holds instead"
    ),
    "levels not closed": lambda n: (
        "the levels end on no point of known height, so that a foot misread would not show; sight "
        "the first point again at the end"
    ),
    "first height assumed": lambda n: (
        f"no height is given for {n.name!r}, where the levels start; it is taken as "
        f"{n.length('height_m')}"
    ),
    "level line assumed": lambda n: (
        f"no height is known; {n.name!r} is taken as {'100 ft' if n['height_m'] < 100 else '100 m'}"
    ),
    "level's own error": _level_error,
    "not reversed": lambda n: (
        "not read with the level reversed, so that its own error remains: "
        f"{n.first_of(_MOST_NOT_REVERSED)}"
    ),
    "next day": lambda n: f"{n.row}: {n.notice.text} is taken as the next day",
    "past noon": lambda n: f"{n.row}: {n.notice.text} is taken as past twelve o'clock",
    "filled up between": lambda n: "by the falls noted, the hole was filled up after readings",
    # Soil tests.
    "falls used": lambda n: (
        f"of {n['falls']:.0f} falls of the water the last {n['used']:.0f}, which agree, are used"
    ),
    "one fall used": lambda n: (
        f"of {n['falls']:.0f} falls of the water the one with the least rate is used"
    ),
    "few falls": _few_falls,
    "never steadied": _never_steadied,
    "ran dry": lambda n: (
        "the hole of the percolation test ran dry between two readings: the rate is at least what "
        "is reckoned; refill sooner"
    ),
    "no fall seen": lambda n: (
        "the water of the percolation test was not seen to fall at the end: the rate is at most "
        "that of a fall too small to be read"
    ),
    "pit filled unalike": _unalike,
    "filling from too low": _left_out,
    "filling not watched": _left_out,
    "filling carried on": lambda n: (
        f"filling {n.name} of the trial pit never reached 25 %: it was read last at "
        f"{100.0 * n['share']:.0f} %, and its time is carried on from there; water slows as soil "
        "gets wet, so the rate may be too high"
    ),
    "filling rough": lambda n: (
        f"filling {n.name} of the trial pit has no reading between 75 % and 25 % of the effective "
        "depth: its time is rough"
    ),
    "few fillings": _few_fillings,
    "fillings slow down": lambda n: (
        f"filling {n.name} of the trial pit took {100.0 * n['longer_share']:.0f} % longer than "
        "the one before: the soil was not wetted through; fill it again until two agree"
    ),
    # The ground.
    "inside a building": lambda n: (
        f"Left out, because they lie inside a building: spot heights {n.quoted()}."
    ),
    "line inside a wall": lambda n: (
        f"Break line '{n.name}' runs up to {n.half('deepest_m')} inside a wall; its heights are "
        "taken at the wall."
    ),
    "line cut at a building": lambda n: (
        f"Break line '{n.name}' runs through a building; the part outside is used."
    ),
    "line in a building": lambda n: (
        f"Break line '{n.name}' runs through a building; it is left out."
    ),
    "stray shots": lambda n: (
        f"Too far from the other shots to say what lies between: {n.quoted()}; add shots between "
        "them, or the ground there stays unknown."
    ),
    "cells of a large survey": lambda n: (
        f"The survey is so large that cells of {n.half('used_m')} are used instead of "
        f"{n.half('wanted_m')}; state a cell_size for others."
    ),
    "cells for a gap": lambda n: (
        f"Cells are {n.half('used_m')} instead of {n.half('wanted_m')} so that the narrowest gap "
        "between buildings stays open."
    ),
    "gap too narrow": lambda n: (
        f"The narrowest gap between buildings, {n.half('gap_m')}, is narrower than the cells can "
        "show; water may seem held back there. A smaller cell_size shows it."
    ),
    "tile off the lot": lambda n: f"{n.name} does not reach the lot.",
    "tiles step": lambda n: (
        f"{n.name} stands {n.half('step_m')} above {n.names[1]} where they meet: a step that may "
        "not be on the ground."
    ),
    "data too coarse": lambda n: (
        f"The elevation data has cells of {n['cell_m']:.1f} m: too coarse to say anything about "
        "the grade at a wall."
    ),
    "data interpolated": lambda n: (
        f"The elevation data's cells of {n['data_cell_m']:.2f} m are interpolated to "
        f"{n['cell_m']:.2f} m."
    ),
    "data resampled": _resampled,
    "data ends short": lambda n: (
        f"The elevation data ends less than {n['margin_m']:.0f} m from what is drawn; water that "
        "reaches its edge is not followed."
    ),
    "data with holes": lambda n: (
        f"The elevation data has no heights on {n['area_m2']:.0f} m2 of the ground within "
        f"{n.half('reach_m')} of the walls; nothing is said there. Take spot heights to fill it."
    ),
    "buildings not drawn": _not_drawn,
    "data moved to spots": _moved,
    "data blended": lambda n: (
        f"After that the two differ by {n.half('middle_m')} at half of the spot heights and by "
        f"{n.half('worst_m')} at the worst. Your own points give the ground between them and "
        f"{n.half('reach_m')} around them; the difference is blended out over the next "
        f"{n.half('blend_m')}."
    ),
    "spots cover walls": lambda n: (
        f"Your own points cover the ground within {n.half('reach_m')} of all walls, so grade is "
        "judged by their accuracy."
    ),
    "spots leave walls": _walls_left,
    # The storm.
    "storm": lambda n: f"Storm: {storm_basis(n.site)}.",
    "yard cover": _yard,
    "drain full": lambda n: (
        f"The drain '{n.name}' takes all it can in {n['duration_s'] / 3600:g} h; the rest of the "
        "water runs on over it."
    ),
    "drain shut": lambda n: (
        f"The drain '{n.name}' is counted as shut: in this storm its water would come back to its "
        "own inlet."
    ),
    "roof not carried": lambda n: (
        f"No downspout carries {n.reprs()}: that roof's water is not counted."
    ),
    "downspout without roof": lambda n: (
        f"No roof is given for {n.reprs()}: the path is shown, but it carries no water in the "
        "storm."
    ),
    "run-on not counted": lambda n: (
        f"run-on over {_side(n)} not counted: the survey stops at the lot line"
    ),
    "pond at the limit": _at_the_limit,
    # Questions.
    "heights shuffled": lambda n: (
        "The heights differ from shot to next shot as much as if they were shuffled: check the "
        "order of the rows and which column is which before you trust what is said of the ground."
    ),
    "rows slipped": lambda n: (
        f"The heights fit their positions better moved one row {'down' if n['rows'] > 0 else 'up'} "
        f"({n['share']:.0%} of what neighbors differ by now): check whether a row slipped before "
        "you trust what is said of the ground."
    ),
}
