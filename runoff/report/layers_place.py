"""Where the layers lie: from plan metres to the site's map system, or the plan as it is.

In: plan positions, geometries and the terrain's grid. Out: the same in the units of the map system,
with its WKT. A plan that lies on no map keeps its metres, in a system that says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from shapely import transform
from shapely.geometry.base import BaseGeometry

from runoff.site.georeference import plan_to_map
from runoff.site.model import Georeference, Site
from runoff.terrain.model import Grid

LOCAL_PLAN = (
    'ENGCRS["Local plan of the lot, metres",EDATUM["0,0 of the plan"],CS[Cartesian,2],'
    'AXIS["x",unspecified,ORDER[1]],AXIS["y",unspecified,ORDER[2]],LENGTHUNIT["metre",1]]'
)
_ON_PLAN = Georeference(LOCAL_PLAN, 1.0, (0.0, 0.0))
Shape = TypeVar("Shape", bound=BaseGeometry)


@dataclass(frozen=True)
class Place:
    """How the plan lies in the layers; `georeference` is None where they are on the plan itself.

    Examples
    --------
    >>> Place(None).points(np.array([[1.0, 2.0]])).tolist(), Place(None).on_map
    ([[1.0, 2.0]], False)
    >>> feet = Georeference("", metres_per_unit=0.3048, origin=(304.8, 609.6))
    >>> Place(feet).points(np.array([[3.048, 0.0]])).tolist()
    [[1010.0, 2000.0]]
    """

    georeference: Georeference | None

    @classmethod
    def of(cls, site: Site) -> Place:
        """Where a site lies."""
        return cls(site.georeference)

    @property
    def on_map(self) -> bool:
        """Whether the layers are in a map system."""
        return self.georeference is not None

    @property
    def crs(self) -> str:
        """WKT of the map system, or of the local plan."""
        return self._used.crs

    @property
    def metres_per_unit(self) -> float:
        """Metres in one unit of the coordinates."""
        return self._used.metres_per_unit

    def points(self, plan: NDArray[np.float64]) -> NDArray[np.float64]:
        """Coordinates, (n, 2), of plan positions in metres."""
        return plan_to_map(self._used, plan)

    def shape(self, plan: Shape) -> Shape:
        """A geometry of plan metres in the layers' coordinates."""
        return transform(plan, self.points)

    def affine(self, grid: Grid) -> Affine:
        """From (column, row) of a grid's cell corners to coordinates; turned as the plan is."""
        cell = grid.cell_size / self.metres_per_unit
        cos, sin = math.cos(self._used.rotation), math.sin(self._used.rotation)
        left, _, _, top = grid.extent
        x, y = self.points(np.array([[left, top]]))[0]
        return Affine(cos * cell, sin * cell, x, sin * cell, -cos * cell, y)

    @property
    def _used(self) -> Georeference:
        return self.georeference or _ON_PLAN
