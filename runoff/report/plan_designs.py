"""The numbers to build by: an extension, a swale, a buried line, a seepage pit.

In: the records of a plan. Out: blocks; nothing is computed anew.
"""

from __future__ import annotations

from collections.abc import Sequence

from runoff.discharge.line.way import trench_m3, trench_spoil_m3
from runoff.discharge.model import WaterToMove
from runoff.discharge.pit.size import PitCheck, pit_alternatives
from runoff.discharge.pit.way import dig_m3, spoil_m3
from runoff.discharge.ways import BuriedLine, Extension, SeepagePit, Swale
from runoff.discharge.wording import fitting_name
from runoff.quantities import Shown
from runoff.report.blocks import Block, Heading, Pairs, Table, paired, section, titled_table
from runoff.report.names import stop
from runoff.report.plan_attention import ROUGH
from runoff.site.model import Site
from runoff.words.designs import (
    crossing_action,
    crossing_words,
    extension_ends,
    extension_protection,
    extension_way,
    failure_words,
    fitting_why,
    line_cautions,
    line_ends,
    line_protection,
    pit_basis,
    pit_warnings,
    soil_basis,
    swale_cautions,
    swale_ends,
)
from runoff.words.dig_sheet import DIG_COLUMNS, Style, dig_cells, dig_notes
from runoff.words.reasons import clearance_name

_NOTHING_M = 1e-6
_NO_SOIL_M = 0.005
_TWO_METHODS = (
    "The pit is built by the first. The second is shown beside it: it lets nothing soak away while "
    "it rains, so it asks for more."
)


def extension_parts(extension: Extension, site: Site) -> list[Block]:
    """Length, direction, fall, end and its protection."""
    shown = Shown.of(site)
    lines = [
        f"{shown.far(extension.length_m)} long, laid {extension_way(site, extension)}, "
        f"falling {shown.height(extension.fall_m)} from the leader's end "
        f"({shown.height(extension.outlet_m)} over {_ground_at(extension, shown)}).",
        f"Bearing {extension.bearing:.0f} degrees clockwise from the plan's up, to the point "
        f"{shown.place(*extension.end)} of the plan.",
        _props(extension, shown),
        f"From its end the water {extension_ends(extension.ends)}.",
        stop(f"At its end: {extension_protection(extension)}"),
    ]
    return section("The extension", [line for line in lines if line])


def _ground_at(extension: Extension, shown: Shown) -> str:
    if extension.soil_m < _NO_SOIL_M:
        return "the ground"
    return f"the new ground, {shown.height(extension.soil_m)} of soil counted"


def _props(extension: Extension, shown: Shown) -> str:
    if not extension.props:
        return ""
    blocks = "one block" if extension.props == 1 else f"{extension.props} blocks"
    return f"Prop it on {blocks}: up to {shown.height(extension.gap_m)} of air is under it."


def swale_parts(swale: Swale, shown: Shown) -> list[Block]:
    """Line, section, and what it carries beside what it must."""
    section_, flow = swale.section, swale.flow
    top = section_.bottom_m + 2 * section_.side_run * section_.depth_m
    verdict = "within" if flow.velocity_m_per_s <= swale.greatest_velocity_m_per_s else "OVER"
    lines = [
        f"{shown.far(float(swale.stations_m[-1]))} long, its bottom falling "
        f"{shown.height(float(swale.bottom_m[0] - swale.bottom_m[-1]))}, nowhere flatter than "
        f"{shown.slope(swale.slope)}; {shown.height(section_.bottom_m)} wide at the bottom, "
        f"{shown.height(section_.depth_m)} deep, sides {section_.side_run:g} across to 1 up, "
        f"{shown.height(top)} wide at the brim.",
        f"It must carry {shown.flow(swale.design_flow_m3_per_s)} and can carry "
        f"{shown.flow(swale.capacity_m3_per_s)} with its freeboard: the water stands "
        f"{shown.height(flow.water_m)} deep, {shown.height(flow.freeboard_m)} below the brim.",
        f"Velocity {shown.velocity(flow.velocity_m_per_s)}, {verdict} what its grass bears "
        f"({shown.velocity(swale.greatest_velocity_m_per_s)}).",
        f"Where it is cut deepest, {shown.far(float(swale.stations_m[swale.deepest]))} from the "
        f"downspout, it is {shown.height(swale.greatest_cut_m)} deep and "
        f"{shown.far(swale.greatest_width_m)} wide from bank to bank.",
        f"To be cut: {shown.found_volume(swale.dig_m3)}, and all of it to be taken away or spread "
        "where it dams no water.",
        stop(swale_ends(swale.ends)),
        *(stop(caution) for caution in swale_cautions(shown, swale)),
    ]
    return section("The swale", lines)


def line_parts(
    line: BuriedLine, site: Site, style: Style | None, title: str = "The buried line"
) -> list[Block]:
    """Pipe, trench, end; the dig table; fittings, crossings and what to mind."""
    return [
        *section(title, line_words(line, site)),
        *_dig_table(line, site, style),
        *paired(
            "Fittings",
            [(at, f"{name}: {why}") for at, name, why in fitting_rows(line, Shown.of(site))],
        ),
        *paired(
            "On the way",
            [
                (f"{start} to {end}", f"{what}: {action}")
                for start, end, what, action in crossing_rows(line, Shown.of(site))
            ],
        ),
        *section(
            "Mind on this line", [stop(caution) for caution in line_cautions(Shown.of(site), line)]
        ),
    ]


def line_words(line: BuriedLine, site: Site, beside_a_plan: bool = False) -> list[str]:
    """Pipe, flow, trench and end of a line, a sentence each.

    Where they stand `beside_a_plan` and what to mind, its place and shallow end are left to those.
    """
    shown, profile, flow = Shown.of(site), line.profile, line.flow
    pipe = profile.pipe
    wall = "wall not known, taken as corrugated" if pipe.wall == "unknown" else f"{pipe.wall} wall"
    lines = [
        f"{shown.far(line.length_m)} of {pipe.size} pipe ({wall}), "
        f"{'along the drawn route' if line.drawn else 'straight'}; {line_ends(line.ends)}.",
        *([] if beside_a_plan else [f"On the plan (x, y) it runs {_route_words(line, shown)}."]),
        f"At its least slope of {shown.slope(flow.slope)} it carries "
        f"{shown.flow(flow.full_flow_m3_per_s)} full; the design flow of "
        f"{shown.flow(flow.flow_m3_per_s)} fills it to {100 * flow.depth_ratio:.0f} % of its bore.",
        f"Trench {shown.height(line.trench_width_m)} wide, up to "
        f"{shown.height(line.greatest_cut_m)} deep, with {shown.height(profile.limits.bedding_m)} "
        "of bedding under the pipe.",
        f"Dig out {shown.found_volume(trench_m3(line))}; once the trench is filled again, "
        f"{shown.found_volume(trench_spoil_m3(line, site.rules))} of soil, loose, is left to take "
        "away.",
    ]
    if profile.exempt_length_m > _NOTHING_M and not beside_a_plan:
        lines.append(
            f"The last {shown.far(profile.exempt_length_m)} lies below the least cover of "
            f"{shown.height(profile.limits.cover_m)}: protect it."
        )
    if line.head_m is not None:
        lines.append(
            "With its outlet under water, the water in the line stands at a height of "
            f"{shown.height(line.head_m)} at the leader's foot."
        )
    if line.protection:
        lines.append(stop(f"Where it comes out: {line_protection(shown, line)}"))
    return lines


def _route_words(line: BuriedLine, shown: Shown) -> str:
    """The corners of a line on the plan, by which it is set out."""
    first, *others = (shown.place(float(x), float(y)) for x, y in line.route)
    return " to ".join((f"from {first}", *others))


def _dig_table(line: BuriedLine, site: Site, style: Style | None) -> list[Block]:
    """The rows to dig by, what is at them by number, and the rod readings where there are any."""
    rows = [
        dict(zip(DIG_COLUMNS, cells, strict=True)) for cells in dig_cells(line, site.units, style)
    ]
    rough = [ROUGH] if site.height_accuracy.indication_only else []
    marks = [row["what is here"] for row in rows if row["what is here"]]
    for row in rows:
        what = row["what is here"]
        row["note"] = str(marks.index(what) + 1) if what else ""
    parts: list[Block] = [
        *section("Dig table", [*rough, *dig_notes(line, site.units, style)]),
        _numbers(("station", "ground", "invert", "dig", "cover", "note"), rows),
    ]
    if marks:
        parts.append(Pairs([(f"note {number}", what) for number, what in enumerate(marks, 1)]))
    if line.instrument_m is not None:
        columns = ("station", "rod at invert", "rod at bottom", "dig")
        parts += [Heading("Rod readings", 3), _numbers(columns, rows)]
    return parts


def _numbers(columns: Sequence[str], rows: Sequence[dict[str, str]]) -> Table:
    """Columns of numbers, each flush right."""
    return Table(columns, [[row[name] for name in columns] for row in rows], frozenset(columns))


def fitting_rows(line: BuriedLine, shown: Shown) -> list[tuple[str, str, str]]:
    """Where each fitting lies, what it is, and why it is there."""
    return [
        (shown.far(one.station_m), fitting_name(shown, one), fitting_why(one))
        for one in line.fittings
    ]


def crossing_rows(line: BuriedLine, shown: Shown) -> list[tuple[str, str, str, str]]:
    """What a line passes: from, to, its name, what to do there."""
    return [
        (
            shown.far(one.start_m),
            shown.far(one.end_m),
            crossing_words(one),
            crossing_action(shown, one),
        )
        for one in line.crossings
    ]


def pit_parts(site: Site, water: WaterToMove, pit: SeepagePit, style: Style | None) -> list[Block]:
    """The pit's size by both methods, setbacks, overflow, equals of other shapes, and its line."""
    return [
        *pit_body_parts(site, water, pit),
        *line_parts(pit.line, site, style, "The line to the pit"),
    ]


def pit_body_parts(site: Site, water: WaterToMove, pit: SeepagePit) -> list[Block]:
    """The pit without its line."""
    shown = Shown.of(site)
    return [
        *section(
            "The seepage pit (dry well), roof water only",
            [*pit_lines(site, pit), *pit_basis_lines(site, pit)],
        ),
        *pit_checks(pit, shown),
        *section("When it is full", [failure_words(site, pit.overflow)]),
        *pit_alternative_shapes(site, water, pit),
        *section("Mind at this pit", [stop(warning) for warning in pit_warnings(shown, pit)]),
    ]


def pit_checks(pit: SeepagePit, shown: Shown) -> list[Block]:
    """Whether it is large enough by both methods, and what it keeps away from."""
    return [
        *titled_table(
            "Is it large enough, does it empty in time",
            ("method", "must hold", "holds", "empties in", "at most", "enough?"),
            check_rows(pit, shown),
        ),
        *section("Why they differ", [_TWO_METHODS] if pit.by_durations is not None else []),
        *titled_table(
            "How far it keeps away",
            ("from", "it is", "it must be"),
            [
                (clearance_name(each), shown.far(each.far_m), shown.far(each.least_m))
                for each in pit.clearances
            ],
        ),
    ]


def pit_alternative_shapes(site: Site, water: WaterToMove, pit: SeepagePit) -> list[Block]:
    """Other shapes that do the same, as a table."""
    shown = Shown.of(site)
    return [
        *titled_table(
            "Other shapes that do the same",
            ("shape", "plan", "depth below the inlet", "holds"),
            [
                (
                    body.kind,
                    plan_words(other, shown),
                    shown.far(body.depth_m),
                    shown.volume(body.stored_m3),
                )
                for other in pit_alternatives(site, water, pit)
                for body in (other.pit,)
            ],
        ),
    ]


def plan_words(check: PitCheck, shown: Shown) -> str:
    """The plan of a pit: across, or length by width."""
    body = check.pit
    if body.kind == "cylinder":
        return f"{shown.far(body.length_m)} across"
    return f"{shown.far(body.length_m)} by {shown.far(body.width_m)}"


def pit_lines(site: Site, pit: SeepagePit) -> list[str]:
    """Its size, place and inlet, what goes in and what is dug out, a sentence each."""
    shown, body = Shown.of(site), pit.governing.pit
    return [
        f"A {body.kind} {plan_words(pit.governing, shown)}, {shown.height(body.depth_m)} deep "
        f"below the inlet's invert and {shown.height(pit.dig_depth_m)} below the ground.",
        f"Its center lies at {shown.place(*pit.center)} on the plan (x, y).",
        f"The inlet's invert lies {shown.height(pit.ground_m - pit.inlet_m)} below the ground at "
        "the pit; nothing above it counts.",
        "A silt trap before it, filter fabric around it, an observation pipe in it with a grated "
        "cap.",
        f"Dig out {shown.found_volume(dig_m3(pit))}; once the ground over the stone is filled "
        f"again, {shown.found_volume(spoil_m3(pit, site.rules))} of soil, loose, is left to take "
        "away.",
    ]


def pit_basis_lines(site: Site, pit: SeepagePit) -> list[str]:
    """What it holds, in what soil, and what its size rests on, a sentence each."""
    shown, body = Shown.of(site), pit.governing.pit
    return [
        f"Voids of {100 * body.voids:.0f} %: {shown.volume(body.stone_m3)} below the inlet hold "
        f"{shown.volume(body.stored_m3)} of water.",
        f"Soil: {shown.rate(pit.rate.rate_m_per_s)} after a factor of safety of "
        f"{pit.rate.safety_factor:g}; {soil_basis(pit.rate.soil)}.",
        stop(f"Built by the {pit_basis(site, pit)}"),
    ]


def check_rows(pit: SeepagePit, shown: Shown) -> list[tuple[str, ...]]:
    checks = [pit.by_durations, pit.by_whole_storm]
    return [
        (
            check.method + (" (built by this)" if check.method == pit.governing.method else ""),
            shown.volume(check.required_m3),
            shown.volume(check.pit.stored_m3),
            f"{shown.duration(check.emptying_s)}, full {shown.duration(check.emptying_full_s)}",
            shown.duration(check.emptying_limit_s),
            "yes" if check.sufficient else "NO",
        )
        for check in checks
        if check is not None
    ]
