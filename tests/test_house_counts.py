"""The counts of the house, on a tree of two small files that was counted by hand."""

import runpy
from importlib import import_module
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[1] / "docs" / "house_counts.py"
HEIGHTS = '''"""Heights: a docstring
of two lines."""

import math
from os import (
    path,
    sep,
)

LEAST = 0.1
"""Said below a constant."""


def fall(heights):  # a comment beside code
    """A docstring."""

    # a comment alone
    def _step(one, other):
        return one - other

    found = [_step(*two) for two in zip(heights, heights[1:])]
    return min(_least(found), _least(found))


def _least(found):
    return max(
        LEAST,
        min(found),
    )


def _unused(text="""a text
that is code"""):
    return math, path, sep, text


class Pole:
    def __len__(self):
        return self._marks()

    def _marks(self):
        return 2
'''
WALLS = """from tree_of_two.heights import fall


def judge(heights):
    return [rate(heights), rate(heights), fall(heights)]


def rate(heights):
    return sum(sign(fall(heights)) for _ in range(3))


def sign(number):
    return 1 if number > 0 else -1
"""


@pytest.fixture(scope="module")
def house():
    return runpy.run_path(str(SCRIPT), run_name="house_counts")


@pytest.fixture
def tree(tmp_path):
    package = tmp_path / "runoff"
    (package / "walls").mkdir(parents=True)
    (package / "heights.py").write_text(HEIGHTS, encoding="utf-8")
    (package / "walls" / "judge.py").write_text(WALLS, encoding="utf-8")
    return tmp_path


def test_one_file_is_counted_as_by_hand(house, tree):
    counted = house["count_file"](tree / "runoff" / "heights.py")
    assert counted.lines == 42
    assert len(counted.code) == 24
    assert counted.imports == 5
    assert sorted(counted.bodies) == [1, 1, 1, 1, 4, 4]
    assert sorted(counted.private) == ["_least", "_marks", "_step", "_unused"]
    assert counted.private_once == 2  # _step and _marks; _least is called twice, _unused never


def test_a_tree_is_counted_by_folder(house, tree):
    rows = house["static_counts"](tree)
    assert rows["files"] == "2"
    assert rows["lines of code"] == "31"
    assert rows["lines of code that import"] == "6 (19 %)"
    assert rows["functions"] == "9"
    assert rows["private functions"] == "4 (44 %)"
    assert rows["private functions used once"] == "2 (22 %)"
    assert rows["`runoff/`: files, lines of the longest"] == "1, 42"
    assert rows["`runoff/walls/`: files, lines of the longest"] == "1, 13"


def test_a_tree_without_the_package_is_refused(house, tmp_path):
    with pytest.raises(SystemExit, match="expected a folder that holds runoff/"):
        house["static_counts"](tmp_path)


def test_a_walk_counts_what_the_first_call_enters_and_no_more(house, tmp_path, monkeypatch):
    package = tmp_path / "tree_of_two"
    package.mkdir()
    (package / "heights.py").write_text(HEIGHTS, encoding="utf-8")
    (package / "walls.py").write_text(WALLS, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    walls = import_module("tree_of_two.walls")

    def run():
        walls.sign(1.0)
        walls.judge([3.0, 2.0, 1.5])

    # rate, fall, _step, _least, sign, read in this order: over for fall, back for sign. Called
    # from the other file is fall alone, three times.
    walked = house["walk"](package, "rate", run)
    assert list(walked.counts().values()) == ["2", "5", "2", "3"]
    # judge before them; fall is called from rate twice three times and from judge once.
    walked = house["walk"](package, "judge", run)
    assert list(walked.counts().values()) == ["2", "6", "2", "7"]
    walked = house["walk"](package, "dig", run)
    assert set(walked.counts().values()) == {"–"}


def test_one_column_is_written_and_the_other_stays(house):
    written = house["written"]
    page = f"# A page\n\n{house['BEGIN']}\n{house['END']}\n\nMore.\n"
    page = written(page, "before", "before", {"files": "3", "gone": "1", "lines": "9"})
    page = written(page, "now", "now (2001-01-01)", {"files": "4", "new": "2", "lines": "8"})
    page = written(page, "now", "now (2001-01-02)", {"files": "2", "new": "2", "lines": "7"})
    assert page == (
        f"# A page\n\n{house['BEGIN']}\n"
        "| counted | before | now (2001-01-02) |\n"
        "|---|---:|---:|\n"
        "| files | 3 | 2 |\n"
        "| new | – | 2 |\n"
        "| gone | 1 | – |\n"
        "| lines | 9 | 7 |\n"
        f"{house['END']}\n\nMore.\n"
    )


def test_the_page_has_both_columns(house):
    page = house["PAGE"].read_text(encoding="utf-8")
    columns = house["read_table"](page.split(house["BEGIN"])[1].split(house["END"])[0])
    before, now = columns.values()
    assert [name.split()[0] for name in columns] == list(house["COLUMNS"])
    assert {"files", "lines printed by `runoff plan`"} <= set(before) & set(now)
