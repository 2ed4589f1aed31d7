"""The page on the site file says what the reader does."""

import re
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest

from runoff import read_site
from runoff.site import (
    ARRAYS,
    SIGMA_RULES,
    SINGLE,
    GutterShape,
    OutletEnds,
    PipeWall,
    SoilTexture,
    WindAllowance,
    read_spots,
)
from runoff.words import drainage_basis
from tests.lots.rich import RICH, changed, problems_of, write_lot

PAGE = (Path(__file__).parents[2] / "docs" / "site_file.md").read_text(encoding="utf-8")


def row_of(table):
    """The row of the page's tables that describes a table of the site file."""
    (row,) = re.findall(rf"^[|] `{re.escape(table)}` [|].*$", PAGE, re.MULTILINE)
    return row


@pytest.mark.parametrize("name", [*SINGLE, *ARRAYS])
def test_every_entry_is_on_the_page(name):
    model = SINGLE.get(name) or ARRAYS[name]
    row = row_of(f"[{name}]" if name in SINGLE else f"[[{name}]]")
    area = {"corners", "outline", "point", "radius", "line", "width"}
    shared = area if "like a keep-out's" in row else set()
    for entry in set(model.model_fields) - shared:
        assert f"`{entry}" in row, f"{name} . {entry}"


def test_every_way_of_taking_heights_is_on_the_page():
    for method in SIGMA_RULES:
        assert f'"{method}"' in row_of("[terrain]")


def test_the_spot_heights_on_the_page_are_read(tmp_path):
    (block,) = re.findall(r"```\n(name,x,y,z.*?)```", PAGE, re.DOTALL)
    (tmp_path / "spots.csv").write_text(block)
    rows, _ = read_spots(tmp_path / "spots.csv", "spots.csv", "ft")
    assert [row.name for row in rows] == ["P1", "P2"]
    assert rows[1].z == pytest.approx((99 + 11.5 / 12) * 0.3048)


def test_the_rain_table_on_the_page_gives_the_basis_on_the_page(tmp_path):
    (block,) = re.findall(r"```\n(duration,unit.*?)```", PAGE, re.DOTALL)
    text = RICH[: RICH.index("[rain]")] + '[rain]\ntable = "rain.csv"\n'
    site = read_site(write_lot(tmp_path, text, rain=block))
    basis = drainage_basis(site, site.rains.gutter)
    assert f"*{basis}*" in " ".join(PAGE.split())


@pytest.mark.parametrize("header", ["[rain]", "[soil]", "[site]"])
def test_the_tables_on_the_page_are_read(tmp_path, header):
    """Each stands in for the rich lot's own, beside what that needs."""
    blocks = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    (block,) = [block for block in blocks if block.startswith(header)]
    if header == "[site]":
        text = block.replace("[site]", '[site]\nname = "lot"\nunits = "ft"')
        text += '\n[terrain]\nspot_heights = "spots.csv"\n'
    else:
        text = RICH[: RICH.index("[rain]")] + block
    assert problems_of(write_lot(tmp_path, text)) == []


@pytest.mark.parametrize("literal", [SoilTexture, OutletEnds, WindAllowance, PipeWall, GutterShape])
def test_every_choice_for_a_plan_is_on_the_page(literal):
    for choice in get_args(literal):
        assert f'`"{choice}"`' in PAGE


def test_the_message_on_the_page_is_the_reader_s(tmp_path):
    path = write_lot(tmp_path, changed('cell_size = "1 ft"', 'cell_size = "9 ft 14 in"'))
    (problem,) = problems_of(path)
    assert str(problem).replace(f"{tmp_path}/", "") in PAGE


def test_the_public_names_load_nothing_heavy():
    code = "import sys, runoff.site; sys.exit('numpy' in sys.modules or 'pydantic' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
