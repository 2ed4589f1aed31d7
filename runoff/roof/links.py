"""Which part of a roof's drainage is the weakest, and what a gutter that is too small needs.

In: a design flow and capacities in m3/s. Out: the part by name, and what would carry the flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runoff.roof.amounts import not_negative, positive
from runoff.roof.gutters import (
    DESIGN_SHARE,
    GUTTERS,
    GUTTERS_METRIC,
    Gutter,
    Shape,
    gutter_capacity,
)


@dataclass(frozen=True)
class Link:
    """One part that roof water passes, such as gutter, outlet, leader or line; m3/s.

    `flow_m3_per_s` is the part's own design flow where it is not the whole downspout's: one of two
    gutters, or a line sized for another rain.
    """

    name: str
    capacity_m3_per_s: float
    flow_m3_per_s: float | None = None


@dataclass(frozen=True)
class WeakestLink:
    """The part whose capacity is used up most, the share that its flow takes, and the verdict."""

    link: Link
    share_used: float
    carries: bool


@dataclass(frozen=True)
class GutterChoice:
    """Which gutter carries a run.

    `gutter` and `downspouts` are the simplest way that does, None and 0 where none does;
    `remedies` are all that do where the one asked about does not, with one downspout.
    """

    gutter: Gutter | None
    downspouts: int
    remedies: tuple[tuple[Gutter, int], ...]
    words: str


def weakest_link(flow_m3_per_s: float, links: Sequence[Link]) -> WeakestLink:
    """Name the part that limits a downspout; of equal ones the first that water comes to.

    Where the same flow passes all parts, that is the one with the least capacity.

    Parameters
    ----------
    flow_m3_per_s : float
        Design flow of every part that has none of its own.
    links : sequence of Link
        In the order that water passes them.

    Returns
    -------
    WeakestLink

    Raises
    ------
    ValueError
        Where no part is given, or a capacity is not above 0.

    Examples
    --------
    >>> weakest = weakest_link(0.002, [Link("gutter", 0.003), Link("leader", 0.0016)])
    >>> weakest.link.name, round(weakest.share_used, 2), weakest.carries
    ('leader', 1.25, False)
    """
    flow = not_negative("flow_m3_per_s", flow_m3_per_s)
    if not links:
        raise ValueError("links is empty; expected at least one part")
    for link in links:
        positive(f"capacity of {link.name}", link.capacity_m3_per_s)

    def used(link: Link) -> float:
        own = flow if link.flow_m3_per_s is None else link.flow_m3_per_s
        return not_negative(f"flow of {link.name}", own) / link.capacity_m3_per_s

    weakest = max(links, key=lambda link: (used(link), -link.capacity_m3_per_s))
    return WeakestLink(weakest, used(weakest), used(weakest) <= 1)


def choose_gutter(
    flow_m3_per_s: float, sizes: Sequence[Gutter], design_share: float = DESIGN_SHARE
) -> GutterChoice:
    """Say whether a gutter carries a run, and if not, whether a larger or one more downspout does.

    One more downspout halves what comes to either: it stands at the run's other end, and the
    gutter falls both ways from the middle.

    Parameters
    ----------
    flow_m3_per_s : float
        Design flow of the whole run.
    sizes : sequence of Gutter
        The one asked about, then larger ones, as of `sizes_of`.
    design_share : float
        Share of the nominal capacity counted on; the rule `gutter_design_share`.

    Returns
    -------
    GutterChoice

    Raises
    ------
    ValueError
        Where the flow is negative, the share is none, or there is no gutter.

    Examples
    --------
    >>> choose_gutter(0.002, sizes_of("half-round")).words
    '5 in half-round is not enough; 6 in half-round or one more downspout is.'
    >>> choose_gutter(0.0013, sizes_of("half-round", metric=True)[:1]).words
    '100 mm half-round is not enough; one more downspout is.'
    """
    flow = not_negative("flow_m3_per_s", flow_m3_per_s)
    if not sizes:
        raise ValueError("sizes is empty; expected at least one gutter")

    def first_for(share_of_flow: float) -> list[Gutter]:
        return [each for each in sizes if share_of_flow <= gutter_capacity(each, design_share)][:1]

    least = sizes[0]
    alone, halved = first_for(flow), first_for(flow / 2)
    if alone == [least]:
        return GutterChoice(least, 1, (), f"{least.name} is enough.")
    ways = [(gutter, 1, gutter.name) for gutter in alone]
    if halved == [least]:
        ways.append((least, 2, "one more downspout"))
    elif not ways:
        ways = [(gutter, 2, f"{gutter.name} with one more downspout") for gutter in halved]
    if not ways:
        more = "it" if len(sizes) == 1 else sizes[-1].name
        words = f"{least.name} is not enough, nor is {more} with one more downspout."
        return GutterChoice(None, 0, (), words)
    remedies = tuple((gutter, downspouts) for gutter, downspouts, _ in ways)
    names = " or ".join(name for _, _, name in ways)
    return GutterChoice(*remedies[0], remedies, f"{least.name} is not enough; {names} is.")


def sizes_of(shape: Shape, metric: bool = False) -> tuple[Gutter, ...]:
    """The gutters of a shape, the smallest first, as sold by the inch or by the millimeter.

    Raises
    ------
    ValueError
        Where there is no such shape.

    Examples
    --------
    >>> [gutter.name for gutter in sizes_of("ogee", metric=True)]
    ['100 mm ogee', '125 mm ogee', '150 mm ogee']
    """
    sold = GUTTERS_METRIC if metric else GUTTERS
    sizes = tuple(gutter for gutter in sold if gutter.shape == shape)
    if not sizes:
        raise ValueError(f'shape is "{shape}"; expected "half-round" or "ogee"')
    return sizes
