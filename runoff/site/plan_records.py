"""Pipe, benchmark, prices, photographs: the tables of the site file to records of the model."""

from __future__ import annotations

from pathlib import Path

from runoff.site.complaints import Complaints, printable
from runoff.site.ground import written
from runoff.site.model import Benchmark, Photograph, PipeChoice, Prices
from runoff.site.plan_tables import BenchmarkTable, PhotographTable, PipeTable, PricesTable


def pipe_record(table: PipeTable | None) -> PipeChoice:
    """The pipe that the user means to lay."""
    return PipeChoice() if table is None else PipeChoice(table.wall, table.size)


def benchmark_record(table: BenchmarkTable | None) -> Benchmark | None:
    """The point to level from."""
    if table is None:
        return None
    return Benchmark(table.name, table.height, table.backsight, table.map_height)


def prices_record(table: PricesTable | None) -> Prices | None:
    """The prices that were given, by item.

    Examples
    --------
    >>> prices = prices_record(PricesTable(currency="USD", pipe="3.048 per ft", fitting="6 each"))
    >>> {item: round(price, 6) for item, price in prices.by_item.items()}
    {'pipe': 10.0, 'fitting': 6.0}
    """
    if table is None:
        return None
    found = table.model_dump(exclude={"currency"}, exclude_none=True)
    return Prices(table.currency, found)


def photograph_record(
    number: int,
    table: PhotographTable,
    folder: Path,
    complaints: Complaints,
    notices: list[str],
) -> Photograph:
    """A photograph; a notice where its file is not there."""
    file = folder / table.file
    if not _is_file(file):
        notices.append(
            f"photograph, number {number + 1}: there is no file {printable(table.file)}; it is "
            "left out of the report"
        )
    return Photograph(file, table.caption, written(complaints, ("photograph", number)))


def _is_file(file: Path) -> bool:
    try:
        return file.is_file()
    except (OSError, ValueError):
        return False
