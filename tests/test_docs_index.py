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
