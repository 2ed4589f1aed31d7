"""The ground as a grid of heights: from a site to its terrain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.terrain.build import build_terrain as build_terrain
    from runoff.terrain.elevation_cloud import buildings_of_cloud as buildings_of_cloud
    from runoff.terrain.elevation_cloud import outlines_in_cloud as outlines_in_cloud
    from runoff.terrain.model import Grid as Grid
    from runoff.terrain.model import Hole as Hole
    from runoff.terrain.model import Suspect as Suspect
    from runoff.terrain.model import Terrain as Terrain
    from runoff.terrain.model import TerrainDrain as TerrainDrain

__all__ = [
    "Grid",
    "Hole",
    "Suspect",
    "Terrain",
    "TerrainDrain",
    "build_terrain",
    "buildings_of_cloud",
    "outlines_in_cloud",
]


def __getattr__(name: str) -> Any:
    if name == "build_terrain":
        from runoff.terrain.build import build_terrain

        return build_terrain
    if name in ("buildings_of_cloud", "outlines_in_cloud"):
        from runoff.terrain import elevation_cloud

        return getattr(elevation_cloud, name)
    if name in __all__:
        from runoff.terrain import model

        return getattr(model, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
