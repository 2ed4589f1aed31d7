"""The same lot drawn otherwise: turned, mirrored, shifted, on other cells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely

from runoff.flow import LowSpot, all_let_go, low_spots_of, prepare_flow, run_storm, with_divides
from runoff.site import Site
from runoff.terrain import build_terrain


@dataclass(frozen=True)
class Drawn:
    """Degrees counterclockwise, mirrored left to right before, then shifted, metres."""

    degrees: float = 0.0
    mirrored: bool = False
    shift: tuple[float, float] = (0.0, 0.0)
    cell_size: float | None = None

    @property
    def move(self) -> Callable[[np.ndarray], np.ndarray]:
        a = np.radians(self.degrees)
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        flip = np.array([-1.0 if self.mirrored else 1.0, 1.0])
        return lambda xy: np.asarray(xy, float) * flip @ turn + np.array(self.shift)


def drawn(site: Site, how: Drawn) -> Site:
    """The ground, houses, paving and downspouts of a site, drawn otherwise; the rest left out."""

    def at(thing):
        x, y = how.move([[thing.x, thing.y]])[0].tolist()
        return replace(thing, x=x, y=y)

    def outlined(thing):
        return replace(thing, outline=shapely.transform(thing.outline, how.move))

    other = {"left": "right", "right": "left"}
    lines = [
        replace(
            each,
            line=how.move(each.line),
            foot_side=other.get(each.foot_side) if how.mirrored else each.foot_side,
        )
        for each in site.break_lines
    ]
    return replace(
        site,
        spot_heights=tuple(at(each) for each in site.spot_heights),
        break_lines=tuple(lines),
        buildings=tuple(outlined(each) for each in site.buildings),
        paving=tuple(outlined(each) for each in site.paving),
        downspouts=tuple(at(each) for each in site.downspouts),
        cell_size=how.cell_size or site.cell_size,
        lot=None,
        outlets=(),
        openings=(),
        easements=(),
        keep_outs=(),
        gutters=(),
        sumps=(),
    )


def low_spots(site: Site) -> tuple[LowSpot, ...]:
    """The low spots of a site as its own storm leaves them."""
    terrain = build_terrain(site)
    flow = prepare_flow(site, terrain)
    run = run_storm(site, flow)
    let_go = all_let_go(site, terrain)
    depth = run.ponding.depth()
    spots, _ = low_spots_of(
        site, flow.grid, run.ponding, depth, lambda rain: flow.run_as(run, rain, let_go)
    )
    return tuple(with_divides(site, flow, run, spots).values())
