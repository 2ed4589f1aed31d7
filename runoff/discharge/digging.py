"""The dig table: at each station, how deep to dig and what the level rod reads there.

In: a line's profile and the height of the instrument, metres. Out: rows to dig by.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from runoff.discharge.checks import positive
from runoff.discharge.profile import LineProfile


@dataclass(frozen=True)
class DigRow:
    """One station of a line, all in metres; the rod readings are None without an instrument.

    `cut_m` is the depth from the ground to the trench's bottom.
    """

    station_m: float
    ground_m: float
    invert_m: float
    bottom_m: float
    cut_m: float
    cover_m: float
    rod_at_invert_m: float | None
    rod_at_bottom_m: float | None


def instrument_height(benchmark_m: float, backsight_m: float) -> float:
    """Height of the level's line of sight: the benchmark's height and the rod read on it.

    Raises
    ------
    ValueError
        Where a number is not finite.

    Examples
    --------
    >>> round(instrument_height(820.00, 8.42), 2)
    828.42
    """
    if not np.isfinite([benchmark_m, backsight_m]).all():
        raise ValueError(f"benchmark {benchmark_m!r} or backsight {backsight_m!r} m is not finite")
    return benchmark_m + backsight_m


def dig_table(
    profile: LineProfile,
    spacing_m: float,
    instrument_m: float | None = None,
    also_at_m: Iterable[float] = (),
) -> tuple[DigRow, ...]:
    """Rows at every spacing, both ends, every grade break, the deepest place, and where asked.

    Parameters
    ----------
    profile : LineProfile
    spacing_m : float, metres between rows (5 ft or 2 m)
    instrument_m : float, height of the line of sight in the heights of the ground; optional
    also_at_m : stations of bends and fittings, metres

    Raises
    ------
    ValueError
        Where the spacing is not above 0, a station is not on the line, or the instrument stands
        below a point whose rod it must read.

    Examples
    --------
    >>> from runoff.discharge import design_profile, line_limits, pipe_of
    >>> line = design_profile([0, 30], [0, -0.9], pipe_of(4, "smooth"), line_limits())
    >>> rows = dig_table(line, 2.0, instrument_m=1.5)
    >>> len(rows), round(rows[0].cut_m, 3), round(rows[0].rod_at_bottom_m, 3)
    (12, 0.521, 2.021)
    >>> humped = design_profile([0, 7, 30], [0, 0.2, -0.9], line.pipe, line_limits())
    >>> float(humped.cut_m.max() - max(row.cut_m for row in dig_table(humped, 2.0)))
    0.0
    """
    positive(spacing_m, "spacing of the dig table", "m")
    first, last = profile.stations_m[0], profile.stations_m[-1]
    marks = [*profile.breaks_m, *also_at_m, first, last]
    if profile.exempt_from_m is not None:
        marks.append(profile.exempt_from_m)
    for mark in marks:
        if not first <= mark <= last:
            raise ValueError(f"station {mark!r} m is not on the line, {first:g} to {last:g} m")
    regular = np.arange(first, last, spacing_m)
    deepest = profile.stations_m[int(np.argmax(profile.cut_m))]
    # A row within a millimetre of another is the same stake in the ground.
    marks += [deepest] if min(abs(deepest - mark) for mark in marks) > 1e-3 else []
    kept = [s for s in regular if min(abs(s - mark) for mark in marks) > 1e-3]
    return tuple(_row(profile, float(s), instrument_m) for s in sorted({*marks, *kept}))


def _row(profile: LineProfile, station: float, instrument_m: float | None) -> DigRow:
    def at(values: np.ndarray) -> float:
        return float(np.interp(station, profile.stations_m, values))

    invert, bottom = at(profile.invert_m), at(profile.bottom_m)
    if instrument_m is not None and not instrument_m >= invert:
        raise ValueError(
            f"the instrument at {instrument_m!r} m stands below the invert at station "
            f"{station:.2f} m, {invert:.3f} m: set it up higher"
        )
    return DigRow(
        station,
        at(profile.ground_m),
        invert,
        bottom,
        at(profile.cut_m),
        at(profile.cover_m),
        None if instrument_m is None else instrument_m - invert,
        None if instrument_m is None else instrument_m - bottom,
    )
