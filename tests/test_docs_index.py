"""Every page is found from the index, and the index from the README."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
LINK = re.compile(r"\]\(([^)#]+\.md)\)")


def test_every_page_is_found_from_the_index():
    listed = LINK.findall((ROOT / "docs" / "index.md").read_text(encoding="utf-8"))
    pages = {path.name for path in (ROOT / "docs").glob("*.md")} - {"index.md"}
    assert pages == set(listed) - {"../DEVELOPERS.md"}
    assert "docs/index.md" in LINK.findall((ROOT / "README.md").read_text(encoding="utf-8"))


def test_no_link_between_pages_leads_nowhere():
    for page in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")]:
        for link in LINK.findall(page.read_text(encoding="utf-8")):
            assert (page.parent / link).is_file(), f"{page.name}: {link}"


def test_every_file_that_the_table_of_changes_names_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("## Where to change what")[1].split("\n## ")[0]
    named = re.findall(r"`([a-z_/]+\.(?:py|md|schema\.json))`", table)
    assert len(named) > 40
    for name in named:
        folder = ROOT if name.startswith(("docs/", "tests/")) else ROOT / "runoff"
        assert (folder / name).is_file(), name
