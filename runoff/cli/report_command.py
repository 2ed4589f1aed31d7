"""The command that prints the report, and writes map layers beside it."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from runoff.cli.outputs import check_file, check_folder, writing
from runoff.cli.plan_outputs import dig_style
from runoff.cli.progress import step
from runoff.cli.status import FINE, NEEDS_ATTENTION, Refusal
from runoff.cli.steps import inspect_site, plan_site, read
from runoff.site.problems import printable

if TYPE_CHECKING:
    from runoff.inspection import Findings
    from runoff.planning import Plan
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
        from runoff.report.layers import layer_files

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
        from runoff.report.layers import write_layers

        written = write_layers(folder, findings, plan, style, force)
    for path in written:
        typer.echo(printable(str(path)))


def register(app: typer.Typer, statuses: str) -> None:
    """Add the command to the program's own."""
    app.command(epilog=statuses, short_help="Print the report of a lot as a PDF.")(report)
