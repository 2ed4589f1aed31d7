"""Which part of a roof's drainage is the weakest, and what a gutter that is too small needs.

In: a design flow and capacities in m3/s. Out: the part by name, and what would carry the flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from runoff.roof.amounts import not_negative, positive
from runoff.roof.gutters import DESIGN_SHARE, GUTTERS, Gutter, Shape, gutter_capacity


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
    `remedies` are all that do where 5 in with one downspout does not.
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


def _called(gutter: Gutter, metric: bool) -> str:
    """A gutter by its size and shape; the size in millimetres on a metric lot."""
    size, _, shape = gutter.name.split(" ", 2)
    return f"{float(size) * 25.4:.0f} mm {shape}" if metric else gutter.name


def choose_gutter(
    flow_m3_per_s: float, shape: Shape, design_share: float = DESIGN_SHARE, metric: bool = False
) -> GutterChoice:
    """Say whether 5 in carries a run, and if not, whether 6 in or one more downspout does.

    One more downspout halves what comes to either: it stands at the run's other end, and the
    gutter falls both ways from the middle.

    Parameters
    ----------
    flow_m3_per_s : float
        Design flow of the whole run.
    shape : {"half-round", "ogee"}
        Shape of the gutter.
    design_share : float
        Share of the nominal capacity counted on; the rule `gutter_design_share`.
    metric : bool
        Whether sizes are told in millimetres.

    Returns
    -------
    GutterChoice

    Raises
    ------
    ValueError
        Where the flow is negative, the share is none, or there is no such shape.

    Examples
    --------
    >>> choose_gutter(0.002, "half-round").words
    '5 in half-round is not enough; 6 in half-round or one more downspout is.'
    """
    flow = not_negative("flow_m3_per_s", flow_m3_per_s)
    small, large = _sizes(shape)
    lesser, greater = _called(small, metric), _called(large, metric)
    if flow <= gutter_capacity(small, design_share):
        return GutterChoice(small, 1, (), f"{lesser} is enough.")
    ways = (
        (large, 1, greater),
        (small, 2, "one more downspout"),
        (large, 2, f"{greater} with one more downspout"),
    )
    good = [way for way in ways if flow / way[1] <= gutter_capacity(way[0], design_share)]
    simple = [way for way in good if way[2] != ways[2][2]] or good
    remedies = tuple((gutter, downspouts) for gutter, downspouts, _ in simple)
    if not simple:
        words = f"{lesser} is not enough, nor is {greater} with one more downspout."
        return GutterChoice(None, 0, (), words)
    names = " or ".join(name for _, _, name in simple)
    return GutterChoice(*remedies[0], remedies, f"{lesser} is not enough; {names} is.")


def _sizes(shape: Shape) -> tuple[Gutter, Gutter]:
    sizes = [gutter for gutter in GUTTERS if gutter.shape == shape]
    if not sizes:
        raise ValueError(f'shape is "{shape}"; expected "half-round" or "ogee"')
    small, large = sizes
    return small, large
