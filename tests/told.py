"""Notices in words, for tests of what is said."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from runoff.words import notices_in_words


def told(of: Any, units: str = "m") -> list[str]:
    """Notices, or those of a site, of findings or of a ground, in their site's or other units."""
    site = getattr(of, "site", of if hasattr(of, "units") else SimpleNamespace(units=units))
    return notices_in_words(site, getattr(of, "notices", of))
