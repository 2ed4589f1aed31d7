"""Invented lots with roofs, gutters and downspouts, built without any file."""

from __future__ import annotations

from typing import Any

import numpy as np

from runoff.site import Downspout, GutterRun, Leader, Roof
from tests.lots.records import WRITTEN

INCH = 0.0254
FOOT = 0.3048
EAVE = np.array([(0.0, 0.0), (10.0, 0.0)])
ROUND_3 = Leader("round", 3 * INCH, 3 * INCH)


def a_roof(name: str, plan_area: float, **fields: Any) -> Roof:
    """A roof plane of 6:12 by its plan area."""
    return Roof(name, plan_area, fields.pop("pitch", 0.5), None, WRITTEN, **fields)


def a_downspout(name: str, *roofs: tuple[str, float], leader: Leader | None = ROUND_3) -> Downspout:
    """A downspout that carries roofs, each with its share."""
    return Downspout(name, 0.0, 0.0, roofs, None, WRITTEN, leader)


def a_gutter(name: str, roof: str, **fields: Any) -> GutterRun:
    """A 5 in ogee gutter with its outlet at the right end."""
    given: dict[str, Any] = {
        "shape": "ogee",
        "size": "5 in",
        "eave": 10.0,
        "outlet_ends": "right",
        "outlet": None,
    }
    return GutterRun(name, roof, **{**given, **fields}, written=WRITTEN)
