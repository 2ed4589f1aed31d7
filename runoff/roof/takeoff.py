"""The take-off of a gutter run: what to buy, how to cut it, and how it hangs.

In: the length of an eave, its outlet ends and the stock lengths. Out: one `GutterTakeOff`.
All of it is common practice of the trade; no published source is known.

In: a site with its gutters. Out: one `RunTakeOff` for each gutter whose eave is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import Literal

from runoff.quantities import format_length, system_of
from runoff.quantities.numbers import positive
from runoff.quantities.reading import FOOT
from runoff.roof.drainage import section_of
from runoff.rules import Rules
from runoff.site.model import GutterRun, Site
from runoff.site.problems import InputError, Problem

End = Literal["left", "right", "both ends"]
STOCK_M = (10 * float(FOOT), 16 * float(FOOT))
STOCK_METRIC_M = (3.0, 4.0)
# Far below what a tape can read; keeps rounding in binary from asking for one more piece.
_NOTHING_M = 1e-9
_MOST_PIECES = 40


@dataclass(frozen=True)
class GutterTakeOff:
    """What one straight run of gutter takes; lengths and heights in metres.

    Parameters
    ----------
    length_m : float
        The gutter, end cap to end cap.
    stock_m, cut_m : tuple of float
        The pieces to buy and the length each is cut to, from the outlet up; with outlets at both
        ends the pieces of the left half-run, then those of the right.
    fall_m : float
        Fall over the run; with outlets at both ends over each half of it.
    high_end_m : float
        Height of the high end, or of the middle where both ends are low, over the mark that the
        outlet end's height is measured from.
    hangers : int
        Evenly spaced, one at each end.
    outlets : int
        Outlets to buy.
    end_caps_left, end_caps_right : int
        End caps, as seen from the ground facing the wall.
    lap_seams : int
        Seams between pieces.
    sealant_seams : int
        All that is sealed: laps, end caps and outlets.
    lap_m : float
        By which a piece goes into the next one downstream.
    outlet_end : {"left", "right", "both ends"}
    """

    length_m: float
    stock_m: tuple[float, ...]
    cut_m: tuple[float, ...]
    fall_m: float
    high_end_m: float
    hangers: int
    outlets: int
    end_caps_left: int
    end_caps_right: int
    lap_seams: int
    sealant_seams: int
    lap_m: float
    outlet_end: End


def take_off(
    eave_m: float,
    outlet_end: End,
    outlet_height_m: float = 0.0,
    stock_m: Sequence[float] | None = None,
    rules: Rules | None = None,
    system: str = "us",
) -> GutterTakeOff:
    """Take off one straight run of gutter with an outlet at one end or at both.

    The run has the fewest seams that the stock allows, as seams are what leaks; among the ways to
    buy that many pieces it takes the one with the least waste. With outlets at both ends it is two
    half-runs that fall both ways from the middle: a straight piece cannot, so they lap there.

    Parameters
    ----------
    eave_m : float
        Length of the edge of the shingles in metres.
    outlet_end : {"left", "right", "both ends"}
        The low end or ends, as seen from the ground facing the wall.
    outlet_height_m : float
        Height of the gutter at the low end over the user's mark, metres.
    stock_m : sequence of float, optional
        Lengths that the shop sells, metres; where not given `STOCK_M`, metric `STOCK_METRIC_M`.
    rules : Rules, optional
        Overhang, fall, lap and hanger spacing; the table's own where not given.
    system : {"us", "metric"}
        Which stock is taken.

    Returns
    -------
    GutterTakeOff

    Raises
    ------
    ValueError
        Where a length is not above 0, no stock is longer than the lap, the end is none of those, or
        more than 40 pieces are needed.

    Examples
    --------
    >>> run = take_off(26 * 0.3048 + 4 * 0.0254, "right")
    >>> [format_length(piece) for piece in run.cut_m], format_length(run.length_m)
    (['16 ft', '10 ft 8 in'], '26 ft 5 in')
    """
    if outlet_end not in ("left", "right", "both ends"):
        raise ValueError(f'outlet_end is "{outlet_end}"; expected "left", "right" or "both ends"')
    if not math.isfinite(outlet_height_m):
        raise ValueError(f"outlet_height_m is {outlet_height_m:g}; expected a finite number")
    limits = rules or Rules()
    length = positive(eave_m, "eave_m") + 2 * limits["gutter_overhang"]
    lap = limits["gutter_lap"]
    spacing = positive(limits["gutter_hanger_spacing"], "gutter_hanger_spacing")
    if stock_m is None:
        stock_m = STOCK_M if system == "us" else STOCK_METRIC_M
    sold = [positive(piece, "stock_m") for piece in stock_m]
    halves = 2 if outlet_end == "both ends" else 1
    # Each half-run reaches over the middle by half of the lap that joins them.
    made = length if halves == 1 else (length + lap) / 2
    stock = _buy(made, lap, sold)
    fall = length / halves * limits["gutter_run_fall"]
    seams = halves * len(stock) - 1
    return GutterTakeOff(
        length_m=length,
        stock_m=stock * halves,
        cut_m=_cut(made, lap, stock, least=spacing) * halves,
        fall_m=fall,
        high_end_m=outlet_height_m + fall,
        hangers=halves * math.ceil(length / halves / spacing - _NOTHING_M) + 1,
        outlets=halves,
        end_caps_left=1,
        end_caps_right=1,
        lap_seams=seams,
        sealant_seams=seams + 2 + halves,
        lap_m=lap,
        outlet_end=outlet_end,
    )


def _buy(length: float, lap: float, sold: Sequence[float]) -> tuple[float, ...]:
    """The fewest pieces that make the length, long ones first; of those the least in all."""
    longest = max(sold, default=0.0)
    if longest <= lap:
        raise ValueError(f"stock_m has no piece longer than the lap of {lap:g} m")
    count = max(1, math.ceil((length - lap) / (longest - lap) - _NOTHING_M))
    if count > _MOST_PIECES:
        raise ValueError(f"the run takes {count} pieces; expected {_MOST_PIECES} at most")
    needed = length + (count - 1) * lap - _NOTHING_M
    ways = combinations_with_replacement(sorted(set(sold), reverse=True), count)
    return min((way for way in ways if sum(way) >= needed), key=sum)


def _cut(length: float, lap: float, stock: tuple[float, ...], least: float) -> tuple[float, ...]:
    """Whole pieces and one that is cut; one too short to hang takes from the piece beside it."""
    *whole, last = stock
    rest = length + len(whole) * lap - sum(whole)
    if whole and rest < least <= last:
        whole[-1] -= least - rest
        rest = least
    return (*whole, min(rest, last))


_USUAL_EAVE_M = 8.0264


@dataclass(frozen=True)
class RunTakeOff:
    """What one gutter of a site takes.

    Parameters
    ----------
    run : GutterRun
    name : str
        The gutter as it is sold, such as ``5 in ogee``.
    take_off : GutterTakeOff
    end_assumed : bool
        Whether nobody said at which end its outlet is.
    fall_asked_m : float
        What the rule `gutter_fall` asks the run to fall, metres.
    """

    run: GutterRun
    name: str
    take_off: GutterTakeOff
    end_assumed: bool
    fall_asked_m: float


def gutter_take_offs(site: Site) -> tuple[RunTakeOff, ...]:
    """Take off every gutter run whose eave is known, in the site's order.

    Heights count from the gutter at its outlet. Pieces are of the usual stock lengths.

    Parameters
    ----------
    site : Site

    Returns
    -------
    tuple of RunTakeOff

    Raises
    ------
    InputError
        Where an eave is too long for one run, or a rule has been overridden to what no gutter can
        be hung by.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from runoff import read_site
    >>> from runoff.sample import sample_folder
    >>> from runoff.site.model import Written
    >>> site = read_site(sample_folder() / "site.toml")
    >>> where = Written("site.toml", 1, "gutter 'front'")
    >>> run = GutterRun("front", "main", "ogee", "5 in", 7.0, "both ends", None, where)
    >>> (found,) = gutter_take_offs(replace(site, gutters=(run,)))
    >>> found.name, found.take_off.outlets, found.take_off.lap_seams
    ('5 in ogee', 2, 1)
    """
    found, problems = [], []
    for run in site.gutters:
        if run.eave is None:
            continue
        end = _outlet_end(site, run) if run.outlet_ends is None else run.outlet_ends
        try:
            taken = take_off(run.eave, end, rules=site.rules, system=system_of(site.units))
        except ValueError as error:
            problems.append(_problem(site, run, str(error)))
            continue
        asked = taken.length_m / taken.outlets * site.rules["gutter_fall"]
        name = section_of(run).name
        found.append(RunTakeOff(run, name, taken, run.outlet_ends is None, asked))
    if problems:
        raise InputError(problems)
    return tuple(found)


def _outlet_end(site: Site, run: GutterRun) -> End:
    """Which end is likely low, where that is not written, by the downspouts of the roof."""
    spouts = [spout for spout in site.downspouts if run.roof in dict(spout.roofs)]
    alone = [other for other in site.gutters if other.roof == run.roof] == [run]
    return "both ends" if alone and len(spouts) == 2 else "right"


def _problem(site: Site, run: GutterRun, why: str) -> Problem:
    return Problem(
        run.written.file,
        run.written.line,
        f"{run.written.entry} . eave",
        format_length(run.eave or 0.0, system_of(site.units)),
        "one straight run that the rules allow to hang, such as "
        f'"{format_length(_USUAL_EAVE_M, system_of(site.units))}" ({why})',
    )
