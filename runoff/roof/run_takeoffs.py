"""The take-off of every gutter run that a site names.

In: a site with its gutters. Out: one `RunTakeOff` for each gutter whose eave is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from runoff.quantities import format_length, system_of
from runoff.roof.drainage_parts import section_of
from runoff.roof.takeoff import End, GutterTakeOff, take_off
from runoff.site.model import GutterRun, Site
from runoff.site.problems import InputError, Problem

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
    assumptions : tuple of str
        What was taken for want of better, a sentence each.
    fall_note : str
        Where the rule `gutter_fall` asks for more fall than the run is hung to, how much; empty
        where it does not.
    """

    run: GutterRun
    name: str
    take_off: GutterTakeOff
    assumptions: tuple[str, ...]
    fall_note: str


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
        end, said = _outlet_end(site, run)
        try:
            taken = take_off(run.eave, end, rules=site.rules, system=system_of(site.units))
        except ValueError as error:
            problems.append(_problem(site, run, str(error)))
            continue
        note = _fall_note(site, taken)
        found.append(RunTakeOff(run, section_of(run).name, taken, said, note))
    if problems:
        raise InputError(problems)
    return tuple(found)


def _outlet_end(site: Site, run: GutterRun) -> tuple[End, tuple[str, ...]]:
    """Which end is low; where that is not written, what the downspouts of the roof suggest."""
    if run.outlet_ends is not None:
        return run.outlet_ends, ()
    spouts = [spout for spout in site.downspouts if run.roof in dict(spout.roofs)]
    alone = [other for other in site.gutters if other.roof == run.roof] == [run]
    end: End = "both ends" if alone and len(spouts) == 2 else "right"
    where = "at both ends" if end == "both ends" else "at the right end"
    return end, (f"It is not given where gutter '{run.name}' has its outlet: {where} is assumed.",)


def _fall_note(site: Site, taken: GutterTakeOff) -> str:
    """Say how much more fall the rule of a code asks for than the run is hung to."""
    asked = taken.length_m / taken.outlets * site.rules["gutter_fall"]
    if asked <= taken.fall_m:
        return ""
    overridden = "gutter_fall" in site.rules.overridden
    source = "the site file" if overridden else site.rules.rule("gutter_fall").source
    shown, more = (format_length(fall, system_of(site.units)) for fall in (taken.fall_m, asked))
    return f"It is hung to fall {shown}; the rule gutter_fall ({source}) asks for {more}."


def _problem(site: Site, run: GutterRun, why: str) -> Problem:
    return Problem(
        run.written.file,
        run.written.line,
        f"{run.written.entry} . eave",
        format_length(run.eave or 0.0, system_of(site.units)),
        "one straight run that the rules allow to hang, such as "
        f'"{format_length(_USUAL_EAVE_M, system_of(site.units))}" ({why})',
    )
