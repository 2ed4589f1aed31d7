"""The commands that a user types."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from runoff.cli import field_commands, report_command
from runoff.cli.encoding import print_json
from runoff.cli.outputs import Outputs, findings_json, writing
from runoff.cli.status import FINE, NEEDS_ATTENTION
from runoff.cli.steps import inspect_site, plan_site, read
from runoff.site.problems import printable

if TYPE_CHECKING:
    from rich.console import RenderableType

    from runoff.inspection import Findings
    from runoff.planning import Plan
    from runoff.report.blocks import Block
    from runoff.words.dig_sheet import Style

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
    from runoff.cli.plan_outputs import PlanOutputs, dig_style, plan_json

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
    from runoff.report.answer import inspection_answer
    from runoff.report.only import named_findings
    from runoff.report.summary import summary
    from runoff.report.terminal import on_terminal

    if name is not None:
        return on_terminal(_only(named_findings(findings), name))
    if full:
        return on_terminal(summary(findings))
    return _lines(inspection_answer(findings, printable(str(site))))


def _planned(
    plan: Plan, site: Path, style: Style | None, full: bool, name: str | None
) -> RenderableType:
    """What a plan prints: the answer, all of it, or what goes by one name."""
    from runoff.report.only import named_plan
    from runoff.report.plan_answer import plan_answer
    from runoff.report.plan_summary import plan_summary
    from runoff.report.terminal import on_terminal

    if name is not None:
        return on_terminal(_only(named_plan(plan, style), name))
    if full:
        return on_terminal(plan_summary(plan, style))
    return _lines(plan_answer(plan, printable(str(site))))


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


def _lines(lines: list[str]) -> RenderableType:
    """Lines as they are, headings, which do not start with a space, in bold."""
    from rich.console import Group
    from rich.text import Text

    return Group(*(Text(line, style="" if line.startswith(" ") else "bold") for line in lines))


def _print(summary: RenderableType, written: list[Path]) -> None:
    from rich.console import Console

    Console(highlight=False).print(summary)
    if written:
        typer.echo("\nFiles")
        for path in written:
            typer.echo(f"  {printable(str(path))}")


field_commands.register(app, STATUSES)
report_command.register(app, STATUSES)
# Help lists the commands as a person comes to need them.
_ORDER = ("demo", "start", "sheets", "check", "inspect", "plan", "report", "rules", "schema")
app.registered_commands.sort(
    key=lambda command: _ORDER.index(command.callback.__name__ if command.callback else "")
)
