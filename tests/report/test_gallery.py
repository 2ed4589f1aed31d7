"""The gallery's script draws every picture that docs/gallery.md shows, and they stay small."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest

import runoff
from runoff import read_site
from runoff.report import is_own
from tests.lots.planned import WRITTEN, planned

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "gallery.md").read_text(encoding="utf-8")
README = (DOCS.parent / "README.md").read_text(encoding="utf-8")
PICTURE = re.compile(r"!\[([^\]]*)\]\(([^)]+)\)")
KILOBYTE = 1000
LARGEST, ALL = 250 * KILOBYTE, 1500 * KILOBYTE


def shown() -> list[str]:
    """The pictures of the page, from the gallery's folder."""
    return [path.removeprefix("gallery/") for _, path in PICTURE.findall(PAGE)]


def test_script_draws_what_the_page_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lots = {lot.parent.name: name for name, lot in WRITTEN.items()}
    monkeypatch.setattr(runoff, "plan", lambda site: planned(lots[site.path.parent.name]))
    draw = runpy.run_path(str(DOCS / "figures" / "gallery.py"))["draw"]
    drawn = draw(tmp_path)
    assert [path.relative_to(tmp_path).as_posix() for path in drawn] == shown()
    assert all(is_own(path) for path in drawn)
    sizes = [path.stat().st_size for path in drawn]
    assert max(sizes) < LARGEST
    assert sum(sizes) < ALL


def test_pictures_of_the_page_are_there_and_small() -> None:
    kept = [DOCS / "gallery" / name for name in shown()]
    assert sorted((DOCS / "gallery").rglob("*.png")) == sorted(kept)
    assert all(is_own(path) for path in kept)
    sizes = [path.stat().st_size for path in kept]
    assert max(sizes) < LARGEST
    assert sum(sizes) < ALL


def test_every_picture_says_what_it_shows() -> None:
    assert all(len(words.split()) > 8 for words, _ in PICTURE.findall(PAGE))


def test_readme_shows_a_picture_of_the_gallery() -> None:
    paths = [path.removeprefix("docs/gallery/") for _, path in PICTURE.findall(README)]
    assert paths
    assert set(paths) <= set(shown())
    assert "(docs/gallery.md)" in README


@pytest.mark.parametrize("lot", ["hillside", "flat_clay"])
def test_lots_say_that_they_are_invented(lot: str) -> None:
    assert "(invented)" in read_site(DOCS / "gallery" / lot / "site.toml").name
