"""A sheet a job, for the one who digs; and behind them why each downspout's way was taken.

In: the plan and its drawings. Out: blocks, a page of its own a job: where it lies with the tapes to
stake it out by, its profile or section, the table to dig by, what to buy, what to mind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from runoff.discharge.ways import BuriedLine, Extension, Option, Recommendation, SeepagePit, Swale
from runoff.foundation.model import SoilWedge
from runoff.planning import Plan
from runoff.quantities import Shown
from runoff.report.blocks import (
    Beside,
    Block,
    Figure,
    Heading,
    LeftOver,
    Notice,
    OnePage,
    Paragraph,
    Step,
    Steps,
    Strong,
    section,
    table,
    titled_table,
)
from runoff.report.drawings.all import WIDE, is_job, soil_jobs
from runoff.report.drawings.sheets import Drawing
from runoff.report.drawings.staking import Stake, stakes_of
from runoff.report.names import stop, way_words
from runoff.report.plan_attention import ROUGH
from runoff.report.plan_designs import (
    extension_parts,
    line_words,
    pit_alternative_shapes,
    pit_basis_lines,
    pit_checks,
    pit_lines,
    swale_parts,
)
from runoff.report.plan_full import everything, quantity_words, water_lines, ways
from runoff.report.sections.line import crossings_listed, fittings_listed
from runoff.site.model import Building, Site
from runoff.words.choices import ask_words, why_chosen
from runoff.words.designs import failure_words, line_cautions, pit_warnings, way_reason
from runoff.words.dig_sheet import DIG_COLUMNS, Style, dig_cells, dig_notes
from runoff.words.walls import clearance_caution, soil_sentence
from runoff.words.water import downspout_sentence

_RODS = ("rod at invert", "rod at bottom")
SHOPPING = ("what", "how much", "for")
BEFORE_DIGGING = (
    "Have buried utilities marked before you dig (in the US, dial 811); no one enters a trench "
    'that could cave in. All cautions: see "Method, limits and rules".'
)
_TAPES = (
    "Tapes level, each from the corner of its letter, to the nearest {step}: they give a point to "
    "within {within}."
)
_NO_CORNER = "No building is given, so these are places on the plan (x, y)."
_FINDING = {"us": ("inch", "3 in"), "metric": ("centimeter", "30 mm")}
_WORST_WALLS = 2


class Drawn:
    """Drawings by their names; the ground off a wall is placed once.

    Parameters
    ----------
    drawings : sequence of Drawing
    """

    def __init__(self, drawings: Sequence[Drawing]) -> None:
        self._drawings = drawings
        self._numbers = {one.name: number for number, one in enumerate(drawings)}
        self._walls = [one for one in drawings if one.building]

    @property
    def pictures(self) -> dict[str, bytes]:
        """The files to set beside the template."""
        return {_file(number): one.svg for number, one in enumerate(self._drawings)}

    def show(self, name: str, captioned: bool = False) -> list[Block]:
        """The drawing of a name where there is one, whether it is placed elsewhere or not."""
        number = self._numbers.get(name)
        if number is None:
            return []
        one = self._drawings[number]
        scale = f" Scale {one.scale}." if one.scale and one.scale not in one.caption else ""
        caption = one.caption + scale if captioned else ""
        return [Figure(_file(number), (one.width_mm, one.height_mm), caption, one.alternative)]

    def walls(self, building: str = "", most: int | None = None) -> list[Block]:
        """The ground off walls, of one building or of all, two abreast; those not placed yet."""
        chosen = [one for one in self._walls if building in ("", one.building)][:most]
        self._walls = [one for one in self._walls if one not in chosen]
        told: list[Block] = []
        for first, second in zip_longest(chosen[::2], chosen[1::2]):
            if second is not None:
                told.append(Beside(self.show(first.name, True), self.show(second.name, True)))
            else:
                told.append(Beside(self.show(first.name), [Paragraph(first.caption)]))
        return told


def _file(number: int) -> str:
    return f"drawing-{number}.svg"


def job_numbers(plan: Plan) -> tuple[dict[str, int], dict[str, int]]:
    """The numbers of jobs: of downspouts, as on the plans, and of the buildings that get soil."""
    downspouts = {each.downspout: k for k, each in enumerate(plan.recommendations, start=1)}
    after = len(downspouts) + 1
    soil = {building.name: k for k, (building, _) in enumerate(soil_jobs(plan), start=after)}
    return downspouts, soil


def job_sheets(plan: Plan, drawn: Drawn, style: Style | None) -> list[Block]:
    """A page for each downspout at which something is built, and each building that gets soil."""
    downspouts, soil = job_numbers(plan)
    sheets = [
        OnePage(
            [_sheet(plan, downspouts[each.downspout], each, drawn, style)],
            why_blocks(plan, each),
            each.downspout,
        )
        for each in plan.recommendations
        if is_job(each)
    ]
    sheets += [
        OnePage([_soil_sheet(plan, soil[building.name], building, wedges, drawn)])
        for building, wedges in soil_jobs(plan)
    ]
    return list(sheets)


def _sheet(
    plan: Plan, number: int, each: Recommendation, drawn: Drawn, style: Style | None
) -> list[Block]:
    chosen, site, name = each.chosen, plan.site, each.downspout
    stakes = stakes_of(site, chosen)
    line, design = chosen.line, chosen.design
    wedges = () if chosen.correction is None else chosen.correction.wedges
    soil = [soil_sentence(site, wedge) for wedge in wedges]
    shown = Shown.of(site)
    figures = drawn.show(f"place of '{name}'")
    beside = _staking(site, stakes)
    if isinstance(design, BuriedLine):
        figures += drawn.show(f"profile of '{name}'")
        figures += [Paragraph(stop("; ".join(fittings_listed(design, shown))))]
    if isinstance(design, SeepagePit):
        figures += drawn.show(f"pit of '{name}'")
        beside += section("The pit, for roof water only", pit_lines(site, design))
    if isinstance(design, Swale):
        figures += drawn.show(f"swale of '{name}' along its line")
        figures += drawn.show(f"swale of '{name}' in section")
        beside += swale_parts(design, shown)
    beside += _to_buy("To buy for this job", chosen)
    mind, fails = _mind(plan, each, line), _fails(plan, each)
    if isinstance(design, SeepagePit):
        figures, fails = [*figures, *fails], []
    short = isinstance(design, BuriedLine)
    return [
        Heading(f"Job {number}  {name}: {way_words(chosen)}", 1),
        *_rough(site),
        Strong(stop(way_reason(site, chosen))),
        Beside(figures, [*beside, *(mind if short else [])], WIDE),
        *section("The soil at the wall", soil),
        *(extension_parts(design, site) if isinstance(design, Extension) else []),
        *(_line(site, line, style) if line is not None else []),
        *(fails if short else [Beside(mind, fails)] if fails else mind),
    ]


def _to_buy(title: str, chosen: Option) -> list[Block]:
    bought = [(item.name, quantity_words(item), item.use) for item in chosen.shopping]
    return titled_table(title, SHOPPING, bought)


def _rough(site: Site) -> list[Block]:
    return [Notice(ROUGH)] if site.height_accuracy.indication_only else []


def _staking(site: Site, stakes: Sequence[Stake]) -> list[Block]:
    """Two tapes for every point, and which corners they are held at."""
    shown = Shown.of(site)
    rows = [
        (str(number), stake.name, *stake.words(shown))
        for number, stake in enumerate(stakes, start=1)
    ]
    corners = {corner.letter: corner for stake in stakes for corner, _ in stake.tapes}
    step, within = _FINDING[shown.system]
    legend = [f"{corners[letter].words}." for letter in sorted(corners)]
    told = _TAPES.format(step=step, within=within) if corners else _NO_CORNER
    return [
        *titled_table("To stake it out", ("", "point", "first tape", "second tape"), rows),
        Paragraph(" ".join([*legend, told])),
    ]


def _line(site: Site, line: BuriedLine, style: Style | None) -> list[Block]:
    """What is laid, what to do on the way, and the table to dig by.

    Stretches of less than the least cover are left to what is to mind.
    """
    passed = [one for one in line.crossings if one.kind != "less than least cover"]
    told = line_words(line, site, beside_a_plan=True)
    told += [
        stop(w) for w in crossings_listed(replace(line, crossings=tuple(passed)), Shown.of(site))
    ]
    return [*section("The line", told), *_dig_table(line, site, style)]


def _dig_table(line: BuriedLine, site: Site, style: Style | None) -> list[Block]:
    """The rows to dig by; without a level there are no rod readings."""
    left_out = _RODS if line.instrument_m is None else ()
    kept = [k for k, name in enumerate(DIG_COLUMNS) if name not in left_out]
    columns = [DIG_COLUMNS[k] for k in kept]
    rows = [[cells[k] for k in kept] for cells in dig_cells(line, site.units, style)]
    notes = " ".join(stop(note) for note in dig_notes(line, site.units, style))
    return [
        Heading("Dig table", 3),
        Paragraph(notes),
        *table(columns, rows, columns[:-1]),
    ]


def _mind(plan: Plan, each: Recommendation, line: BuriedLine | None) -> list[Block]:
    """The cautions of a job, with those that save lives in short."""
    shown = Shown.of(plan.site)
    told = [stop(caution) for caution in line_cautions(shown, line)] if line is not None else []
    if isinstance(each.chosen.design, SeepagePit):
        told += [stop(warning) for warning in pit_warnings(shown, each.chosen.design)]
    return section("Mind", [BEFORE_DIGGING, *told])


def _fails(plan: Plan, each: Recommendation) -> list[Block]:
    """Where the water runs when a way fails, and whom to ask before it is built."""
    chosen = each.chosen
    failing = list(chosen.failures)
    if isinstance(chosen.design, SeepagePit) and chosen.design.overflow not in failing:
        failing.append(chosen.design.overflow)
    return [
        *section("When it fails", [failure_words(plan.site, one) for one in failing]),
        *section("Ask first", [stop(who) for who in ask_words(chosen.asks)]),
    ]


def _soil_sheet(
    plan: Plan, number: int, building: Building, wedges: Sequence[SoilWedge], drawn: Drawn
) -> list[Block]:
    site, shown = plan.site, Shown.of(plan.site)
    loose, compacted = (
        sum(getattr(wedge, kind) for wedge in wedges) for kind in ("loose_m3", "compacted_m3")
    )
    name = building.name
    steps = [Step("", [soil_sentence(site, wedge, "Clearance not known.")]) for wedge in wedges]
    told = [
        Strong(
            f"In all {shown.found_volume(loose)} of soil, loose "
            f"({shown.found_volume(compacted)} compacted)."
        ),
        *section("Mind", [BEFORE_DIGGING, clearance_caution(site)]),
    ]
    return [
        Heading(f"Job {number}  {name}: soil along its walls", 1),
        *_rough(site),
        Beside(drawn.show(f"soil at '{name}'"), told, WIDE),
        Heading("Stretch by stretch, by the numbers on the plan", 3),
        Steps(steps),
        *drawn.walls(name, _WORST_WALLS),
    ]


def shopping_blocks(plan: Plan) -> list[Block]:
    """All that is to be bought, two rows abreast."""
    rows = [(item.name, quantity_words(item), item.use) for item in everything(plan)]
    title = Heading("Shopping list, all of it", 1)
    if not rows:
        return [title, Paragraph("Nothing is to be bought.")]
    half = -(-len(rows) // 2)
    return [title, Beside(table(SHOPPING, rows[:half]), table(SHOPPING, rows[half:]))]


def choices(plan: Plan) -> list[Block]:
    """Why each downspout's way was taken, where its own sheet had no room for it."""
    if not plan.recommendations:
        return []
    told: list[Block] = [Heading("Why these ways", 1)]
    if any(is_job(each) for each in plan.recommendations):
        told.append(Paragraph("Where a job's own sheet had room for it, it stands there."))
    for number, each in enumerate(plan.recommendations, start=1):
        why = [
            Heading(f"{number}  {each.downspout}: {way_words(each.chosen)}"),
            *why_blocks(plan, each),
        ]
        if is_job(each):
            told.append(LeftOver(why, each.downspout))
        else:
            told += [*why, *_fails(plan, each), *_to_buy("To buy", each.chosen)]
    return told


def why_blocks(plan: Plan, each: Recommendation) -> list[Block]:
    """Why this way, the ways side by side, why the others cannot be, the water, a pit's checks."""
    answer = next(one for one in plan.findings.downspouts if one.name == each.downspout)
    told = [
        *section("Why this way", [stop(why_chosen(plan.site, each))]),
        *ways(plan, each),
        *section(
            "Its water", [stop(downspout_sentence(plan.site, answer)), *water_lines(plan, each)]
        ),
    ]
    pit = each.chosen.design
    if not isinstance(pit, SeepagePit):
        return told
    return [
        *told,
        *section("The pit", pit_basis_lines(plan.site, pit)),
        *pit_checks(pit, Shown.of(plan.site)),
        *pit_alternative_shapes(plan.site, each.water, pit),
    ]
