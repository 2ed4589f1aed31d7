"""Designs and reasons in a homeowner's words and the site's own units."""

from __future__ import annotations

from runoff.discharge.line.record import Fitting
from runoff.quantities import Shown

_BENDS = {
    (22.5,): "22.5 degree bend",
    (45.0,): "45 degree bend",
    (45.0, 22.5): "45 and 22.5 degree bends",
    (45.0, 45.0): "two 45 degree bends",
    (45.0, 45.0, 22.5): "two 45 and a 22.5 degree bends",
    (45.0, 45.0, 45.0): "three 45 degree bends",
}


def fitting_name(shown: Shown, fitting: Fitting) -> str:
    """What a fitting is called.

    Examples
    --------
    >>> fitting_name(Shown("us"), Fitting(0.0, "adapter", size="4 in"))
    'adapter from the leader to 4 in pipe'
    """
    if fitting.kind == "bend":
        return _BENDS[fitting.bends]
    names = {
        "leaf screen": "leaf screen with an overflow gap",
        "adapter": f"adapter from the {_leader(shown, fitting)} to {fitting.size} pipe",
        "cleanout": "cleanout",
        "outlet grate": f"{fitting.size} outlet grate",
        "connection": f"{fitting.size} connection",
        "overflow fitting": "overflow fitting with a grate",
    }
    return names[fitting.kind]


def _leader(shown: Shown, fitting: Fitting) -> str:
    leader = fitting.leader
    if leader is None:
        return "leader"
    if leader.shape == "round":
        return f"{shown.height(leader.width)} round leader"
    return f"{shown.height(leader.width)} x {shown.height(leader.depth)} leader"
