"""Rain by duration and return period: a table read from a file, and the depths between its rows.

In: a CSV file or the text of NOAA Atlas 14 point estimates. Out: depths in metres, intensities in
metres a second, never beyond the table.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runoff.quantities import format_duration
from runoff.site.files import read_text
from runoff.site.problems import InputError
from runoff.site.rain.formats import Rows, is_atlas_text, read_atlas, read_csv


@dataclass(frozen=True, eq=False)
class RainTable:
    """Depths of rain.

    Parameters
    ----------
    durations : tuple of float
        Seconds, rising.
    return_periods : tuple of float
        Years, rising; of annual maxima, one over the chance in a year.
    depth : ndarray, shape (durations, return periods)
        Metres.
    basis : str
        Where the table is from and of which series, to be stated with every figure from it.
    """

    durations: tuple[float, ...]
    return_periods: tuple[float, ...]
    depth: NDArray[np.float64]
    basis: str


def read_rain_table(path: str | Path, shown: str = "") -> RainTable:
    """Read a rain table from a CSV file or from the text of NOAA Atlas 14 point estimates.

    Which of the two it is shows in the first line. A CSV file has the columns ``duration``,
    ``unit`` (in, mm, in/h or mm/h) and one for each return period, headed by its years.

    Parameters
    ----------
    path : str or Path
        The file.
    shown : str
        Its name to show, the path itself where none is given.

    Returns
    -------
    RainTable

    Raises
    ------
    InputError
        With one problem for each mistake, naming its line.
    """
    shown = shown or str(path)
    text = read_text(Path(path), shown, "a rain table as CSV or NOAA Atlas 14 text, in UTF-8")
    found = Rows(shown)
    (read_atlas if is_atlas_text(text) else read_csv)(text, found)
    found.check()
    if found.problems:
        raise InputError(found.problems)
    depths = np.array([row.depths() for row in found.rows], dtype=np.float64)
    durations = tuple(row.duration for row in found.rows)
    return RainTable(durations, found.return_periods, depths, found.basis)


def depth(table: RainTable, duration_s: float, return_years: float) -> float:
    """The depth of the rain of a duration and return period.

    Between listed durations the logarithm of depth is linear in the logarithm of duration. Return
    periods are not interpolated, and nothing is taken from beyond the table: both would be a guess
    at the very storm that matters.

    Parameters
    ----------
    table : RainTable
        The table.
    duration_s : float
        Duration in seconds, from the table's shortest to its longest.
    return_years : float
        One of the table's return periods.

    Returns
    -------
    float
        Depth in metres.

    Raises
    ------
    ValueError
        Where the table does not hold the duration or the return period.

    Examples
    --------
    >>> table = RainTable((300.0, 1200.0), (10.0,), np.array([[0.01], [0.02]]), "invented")
    >>> round(depth(table, 600.0, 10), 6)
    0.014142
    """
    column = _column(table, return_years)
    durations = table.durations
    if not durations[0] <= duration_s <= durations[-1]:
        raise ValueError(
            f"the rain table goes from {format_duration(durations[0])} to "
            f"{format_duration(durations[-1])} and has no rain of {duration_s:g} s"
        )
    row = bisect_left(durations, duration_s)
    depths = table.depth[:, column]
    if durations[row] == duration_s:
        return float(depths[row])
    part = math.log(duration_s / durations[row - 1]) / math.log(durations[row] / durations[row - 1])
    return float(depths[row - 1] * (depths[row] / depths[row - 1]) ** part)


def intensity(table: RainTable, duration_s: float, return_years: float) -> float:
    """The mean intensity in metres a second: `depth` over its duration.

    Raises
    ------
    ValueError
        As of `depth`.

    Examples
    --------
    >>> table = RainTable((300.0, 1200.0), (10.0,), np.array([[0.01], [0.02]]), "invented")
    >>> round(intensity(table, 300.0, 10) * 3.6e6)
    120
    """
    return depth(table, duration_s, return_years) / duration_s


def rains_of(table: RainTable, return_years: float) -> tuple[tuple[float, float], ...]:
    """All durations of a return period: (seconds, metres) of each.

    Raises
    ------
    ValueError
        Where the table does not hold the return period.

    Examples
    --------
    >>> table = RainTable((300.0, 1200.0), (10.0,), np.array([[0.01], [0.02]]), "invented")
    >>> rains_of(table, 10)
    ((300.0, 0.01), (1200.0, 0.02))
    """
    depths = table.depth[:, _column(table, return_years)]
    return tuple(zip(table.durations, map(float, depths), strict=True))


def holds_years(table: RainTable, return_years: float) -> bool:
    """Whether a return period is one of the table's."""
    return any(math.isclose(years, return_years) for years in table.return_periods)


def _column(table: RainTable, return_years: float) -> int:
    for column, years in enumerate(table.return_periods):
        if math.isclose(years, return_years):
            return column
    listed = ", ".join(f"{years:g}" for years in table.return_periods)
    raise ValueError(
        f"the rain table has no return period of {return_years:g} years; it lists {listed}"
    )
