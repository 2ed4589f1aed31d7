"""The ground as a grid of heights: from a site to its terrain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runoff.terrain.build import build_terrain as build_terrain
    from runoff.terrain.model import Grid as Grid
    from runoff.terrain.model import Suspect as Suspect
    from runoff.terrain.model import Terrain as Terrain
    from runoff.terrain.model import TerrainDrain as TerrainDrain

__all__ = ["Grid", "Suspect", "Terrain", "TerrainDrain", "build_terrain"]


def __getattr__(name: str) -> Any:
    if name == "build_terrain":
        from runoff.terrain.build import build_terrain

        return build_terrain
    if name in __all__:
        from runoff.terrain import model

        return getattr(model, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
