"""The commands that a user types."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from runoff.cli import field_commands
from runoff.cli.encoding import print_json
from runoff.cli.outputs import Outputs, check_file, check_folder, dig_style, findings_json, writing
from runoff.cli.progress import inspect_site, plan_site, read, step
from runoff.cli.status import FINE, NEEDS_ATTENTION, Refusal
from runoff.site.problems import printable

if TYPE_CHECKING:
    from rich.console import RenderableType

    from runoff.inspection import Findings
    from runoff.planning import Plan
    from runoff.report.blocks import Block
    from runoff.words.dig_sheet import Style


class Form(StrEnum):
    """What is printed."""

    plan = "plan"
    inspection = "inspection"


class Paper(StrEnum):
    """What it is printed on."""

    letter = "letter"
    a4 = "a4"


def report(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="The site file, such as site.toml.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="The report, a .pdf file.")
    ] = Path("report.pdf"),
    form: Annotated[
        Form,
        typer.Option(
            "--form",
            help="plan: what to build and how; inspection: what was found and what it implies, "
            "without a design.",
        ),
    ] = Form.plan,
    paper: Annotated[
        Paper | None,
        typer.Option("--paper", help="The size of its pages: letter, or a4 on metric sites."),
    ] = None,
    layers: Annotated[
        Path | None,
        typer.Option("--layers", metavar="DIR", help="Write map layers into this folder as well."),
    ] = None,
    tenths: Annotated[
        bool,
        typer.Option(
            "--tenths", help="Dig tables in feet with tenths and hundredths, not in inches."
        ),
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Write over files that runoff did not write.")
    ] = False,
) -> int:
    """Print the report of a lot as a PDF: for the homeowner, the trench, or an inspector's file.

    The report is written whole or not at all.
    """
    _check(output, layers, force)
    lot = read(site)
    style = dig_style(lot, tenths)
    if form is Form.plan:
        plan = plan_site(lot)
        _write(output, plan.findings, plan, paper, style)
        _write_layers(layers, plan.findings, plan, style, force)
        from runoff.report.plan_attention import plan_attention

        attention = bool(plan_attention(plan))
    else:
        findings = inspect_site(lot)
        _write(output, findings, None, paper, style)
        _write_layers(layers, findings, None, style, force)
        attention = findings.needs_attention
    return NEEDS_ATTENTION if attention else FINE


def _check(output: Path, layers: Path | None, force: bool) -> None:
    """Refuse what cannot be written before any work is done."""
    from runoff.report.files import check_free

    if output.suffix.lower() != ".pdf":
        raise Refusal(f'--output: "{output}" is written; expected a .pdf file, such as report.pdf')
    check_file(output)
    check_free([output], force)
    if layers is not None:
        from runoff.report.layers.write import layer_files

        check_folder(layers)
        check_free(layer_files(layers), force)


def _write(
    output: Path, findings: Findings, plan: Plan | None, paper: Paper | None, style: Style | None
) -> None:
    with step("printing the report"), writing(output):
        from runoff.report.printed.report import write_report

        printed: Literal["plan", "inspection"] = "inspection" if plan is None else "plan"
        usual = Paper.letter if findings.site.units == "ft" else Paper.a4
        write_report(output, findings, plan, printed, (paper or usual).value, style)
    typer.echo(printable(str(output)))


def _write_layers(
    folder: Path | None, findings: Findings, plan: Plan | None, style: Style | None, force: bool
) -> None:
    if folder is None:
        return
    with step("writing map layers"), writing(folder):
        from runoff.report.layers.write import write_layers

        written = write_layers(folder, findings, plan, style, force)
    for path in written:
        typer.echo(printable(str(path)))


def register(app: typer.Typer, statuses: str) -> None:
    """Add the command to the program's own."""
    app.command(epilog=statuses, short_help="Print the report of a lot as a PDF.")(report)


STATUSES = (
    "Exit status: 0 fine, 1 findings that need attention, 2 bad input (nothing is written), "
    "3 internal failure (one line names the file with its details), 130 stopped by Ctrl-C."
)

app = typer.Typer(
    name="runoff",
    help="Where each downspout's water goes on this lot.",
    epilog=STATUSES,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Full = Annotated[
    bool, typer.Option("--full", help="Print every figure, table and notice, not the answer alone.")
]
Only = Annotated[
    str | None,
    typer.Option(
        "--only", metavar="NAME", help="Print all of one downspout, wall, opening or low spot."
    ),
]
Force = Annotated[bool, typer.Option("--force", help="Write over files that runoff did not write.")]


def _print_version(wanted: bool) -> None:
    if wanted:
        import runoff

        typer.echo(f"runoff {runoff.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Where each downspout's water goes on this lot."""


@app.command(epilog=STATUSES, short_help="Say where each downspout's water goes on a lot.")
def inspect(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="The site file, such as site.toml.")],
    json: Annotated[
        bool, typer.Option("--json", help="Print the findings as JSON, in SI, and nothing else.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Write findings.json, map.png and summary.txt into this folder.",
        ),
    ] = None,
    map_file: Annotated[
        Path | None,
        typer.Option("--map", metavar="FILE", help="Draw the map: a .png, .svg or .pdf file."),
    ] = None,
    full: Full = False,
    only: Only = None,
    force: Force = False,
) -> int:
    """Say where each downspout's water goes on a lot, and where water stands.

    The answer stands on one screen. Without --out or --map nothing is written.
    """
    outputs = Outputs(out, map_file)
    outputs.check(force)
    findings = inspect_site(read(site))
    outputs.write(findings)
    if json:
        print_json(findings_json(findings))
    else:
        _print(_told(findings, site, full, only), outputs.paths)
    return NEEDS_ATTENTION if findings.needs_attention else FINE


@app.command(epilog=STATUSES, short_help="Say what to build at each downspout of a lot.")
def plan(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="The site file, such as site.toml.")],
    json: Annotated[
        bool, typer.Option("--json", help="Print the plan as JSON, in SI, and nothing else.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Write plan.json, plan.txt, plan.png (the map), shopping.csv, and the dig tables "
            "and figures of each downspout into this folder.",
        ),
    ] = None,
    tenths: Annotated[
        bool,
        typer.Option(
            "--tenths", help="Dig tables in feet with tenths and hundredths, not in inches."
        ),
    ] = False,
    full: Full = False,
    only: Only = None,
    force: Force = False,
) -> int:
    """Say what to build so that each downspout's water leaves for good, and what it takes.

    The answer stands on one screen. Without --out nothing is written.
    """
    from runoff.cli.outputs import PlanOutputs, dig_style, plan_json

    lot = read(site)
    style = dig_style(lot, tenths)
    outputs = PlanOutputs.in_folder(out, lot)
    outputs.check(force)
    found = plan_site(lot)
    written = outputs.write(found, style)
    if json:
        print_json(plan_json(found))
    else:
        _print(_planned(found, site, style, full, only), written)
    from runoff.report.plan_attention import plan_attention

    return NEEDS_ATTENTION if plan_attention(found) else FINE


@app.command(epilog=STATUSES, short_help="Copy the sample lot, and inspect it.")
def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to put it.")] = Path(
        "runoff-demo"
    ),
    force: Force = False,
) -> int:
    """Copy the sample lot, an invented one, into a folder and inspect it there.

    The map and the findings are written beside it. Its findings are meant to be seen, so the exit
    status is 0.
    """
    from runoff.sample import copy_sample

    outputs = Outputs(folder)
    outputs.check(force)
    with writing(folder):
        copy_sample(folder, overwrite=force)
    findings = inspect_site(read(folder / "site.toml"))
    outputs.write(findings)
    site = folder / "site.toml"
    _print(_told(findings, site, False, None), [site, *outputs.paths])
    return FINE


@app.command(short_help="Show the default limits and their sources.")
def rules() -> int:
    """Show the default limits: value, what each governs, and its source."""
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    from runoff.rules import RULES

    console = Console(highlight=False)
    for rule in RULES.values():
        source = f"Source: {rule.source} ({rule.standing})"
        console.print(Text.assemble((rule.name, "bold"), f"  {rule.written}"))
        console.print(Padding(Text(f"{rule.governs}\n{source}"), (0, 0, 0, 4)))
    typer.echo(
        "\nA site file overrides a rule by its name under [rules]. The local code and a licensed "
        "professional decide."
    )
    return FINE


@app.command(short_help="Print the JSON schema of the site file.")
def schema() -> int:
    """Print the JSON schema of the site file, for an editor's completion."""
    import json

    from runoff.site import site_schema

    typer.echo(json.dumps(site_schema(), indent=2))
    return FINE


def _told(findings: Findings, site: Path, full: bool, name: str | None) -> RenderableType:
    """What an inspection prints: the answer, all of it, or what goes by one name."""
    from rich.console import Group

    from runoff.report.answer import inspection_answer
    from runoff.report.findings_full import summary
    from runoff.report.only import named_findings
    from runoff.report.terminal import on_screen, on_terminal

    if name is not None:
        return on_terminal(_only(named_findings(findings), name))
    if full:
        return on_terminal(summary(findings))
    return Group(*on_screen(inspection_answer(findings, printable(str(site)))))


def _planned(
    plan: Plan, site: Path, style: Style | None, full: bool, name: str | None
) -> RenderableType:
    """What a plan prints: the answer, all of it, or what goes by one name."""
    from rich.console import Group

    from runoff.report.only import named_plan
    from runoff.report.plan_answer import plan_answer
    from runoff.report.plan_full import plan_summary
    from runoff.report.terminal import on_screen, on_terminal

    if name is not None:
        return on_terminal(_only(named_plan(plan, style), name))
    if full:
        return on_terminal(plan_summary(plan, style))
    return Group(*on_screen(plan_answer(plan, printable(str(site)))))


def _only(named: dict[str, list[Block]], name: str) -> list[Block]:
    from runoff.report.only import NotNamed, only

    try:
        return only(named, name)
    except NotNamed as none:
        names = ", ".join(printable(each) for each in none.names)
        raise typer.BadParameter(
            f"nothing on this lot is called {printable(name)!r}; there are: {names}",
            param_hint="--only",
        ) from none


def _print(summary: RenderableType, written: list[Path]) -> None:
    from rich.console import Console

    Console(highlight=False).print(summary)
    if written:
        typer.echo("\nFiles")
        for path in written:
            typer.echo(f"  {printable(str(path))}")


field_commands.register(app, STATUSES)
register(app, STATUSES)
# Help lists the commands as a person comes to need them.
_ORDER = ("demo", "start", "sheets", "check", "inspect", "plan", "report", "rules", "schema")
app.registered_commands.sort(
    key=lambda command: _ORDER.index(command.callback.__name__ if command.callback else "")
)
