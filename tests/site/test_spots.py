"""Spot heights: every way a CSV file is written by hand or by a spreadsheet, and every mistake."""

import pytest

import runoff
from runoff.site import InputError, read_spots
from tests.lots.rich import SPOTS, problems_of, write_lot
from tests.told import told

MINIMAL = '[site]\nname = "lot"\nunits = "ft"\n[terrain]\nspot_heights = "spots.csv"\n'


def read(tmp_path, content, units="ft"):
    path = tmp_path / "spots.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_spots(path, "spots.csv", units)


@pytest.mark.parametrize(
    "content",
    [
        "name,x,y,z\nA,1,2,3\nB,4,5,6\n",
        "\ufeffname,x,y,z\nA,1,2,3\nB,4,5,6",
        "name,x,y,z\r\nA,1,2,3\r\nB,4,5,6\r\n",
        "name;x;y;z\nA;1;2;3\nB;4;5;6\n",
        "\n,,,\nname,x,y,z\n\nA,1,2,3\n,,,\nB,4,5,6\n\n",
        " Name , X , Y , Z \n A , 1 , 2 , 3 \n B , 4 , 5 , 6 \n",
        '"name","x","y","z"\n"A","1","2","3"\n"B","4","5","6"\n',
        "name,x,y,z,remark\nA,1,2,3\nB,4,5,6,by the oak\n",
        "name,x,y,z,,\nA,1,2,3,,\nB,4,5,6,,\n",
        "name,x,y,z\nA,1,2,3\nB,4,5,6' 0\"\n",
    ],
)
def test_ways_of_writing(tmp_path, content):
    rows, _ = read(tmp_path, content)
    assert [(row.name, row.x, row.y) for row in rows] == [("A", 1.0, 2.0), ("B", 4.0, 5.0)]
    assert [row.z for row in rows] == pytest.approx([3 * 0.3048, 6 * 0.3048])


def test_lines_count_blank_rows_and_rows_of_several_lines(tmp_path):
    content = 'name,x,y,z,remark\n\nA,1,2,3,"two\nlines"\nB,4,5,6,\n'
    rows, notices = read(tmp_path, content)
    assert [row.line for row in rows] == [3, 5]
    assert told(notices) == ["spots.csv: 1 blank row passed over"]


def test_semicolons_are_said(tmp_path):
    _, notices = read(tmp_path, "name;x;y;z\nA;1;2;3\n")
    assert told(notices) == ["spots.csv: read with semicolons between the columns"]


@pytest.mark.parametrize(
    ("content", "line", "part"),
    [
        ("", 1, "header row"),
        ("name,x,y,z\n", 1, "at least one row"),
        ("A,1,2,3\n", 1, "header row"),
        ("name,y,x,z\nA,1,2,3\n", 1, "in this order"),
        ("name,x,y\nA,1,2\n", 1, "header row"),
        ("name,x,y,z\nA,1,2,3\nA,4,5,6\n", 3, "line 2 has this one already"),
        ("name,x,y,z\nA,1,2,3\n,4,5,6\n", 3, "a name"),
        ("name,x,y,z\nA,1,,3\n", 2, "a coordinate"),
        ("name,x,y,z\nA,1,2\n", 2, "a height"),
        ("name,x,y,z\nA,1,2,high\n", 2, "a height"),
        ("name,x,y,z\nA,1,2,9 ft 14 in\n", 2, "a height"),
        ("name,x,y,z\nA,nan,2,3\n", 2, "a coordinate"),
        ("name,x,y,z\nA,1,inf,3\n", 2, "a coordinate"),
        ("name,x,y,z\nA,1,2,3,4,5\n", 2, "4 values"),
        ('name,x,y,z,remark\nA,1,2,3,"open\nB,4,5,6,\n', 2, "CSV"),
    ],
)
def test_mistakes_name_their_line(tmp_path, content, line, part):
    with pytest.raises(InputError) as caught:
        read(tmp_path, content)
    (problem,) = caught.value.problems
    assert problem.line == line
    assert part in problem.expected


def test_all_mistakes_at_once(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, "name,x,y,z\nA,one,2,3\nB,1,two,three\nA,1,2,3\n")
    assert [problem.line for problem in caught.value.problems] == [2, 3, 3, 4]


def test_a_file_in_another_encoding(tmp_path):
    with pytest.raises(InputError, match="UTF-8"):
        read(tmp_path, "name,x,y,z\nA,1,2,3½\n".encode("latin-1"))


def test_mistakes_in_both_files_are_told_together(tmp_path):
    text = MINIMAL.replace('name = "lot"', "name = 3")
    found = problems_of(write_lot(tmp_path, text, SPOTS.replace("101.25", "high")))
    assert [(problem.line, problem.file.endswith("spots.csv")) for problem in found] == [
        (2, False),
        (4, True),
    ]


def test_a_missing_file_is_told_at_the_entry(tmp_path):
    (problem,) = problems_of(write_lot(tmp_path, MINIMAL, None))
    assert (problem.line, problem.entry) == (5, "[terrain] spot_heights")
    assert "no such file" in problem.expected


LINED = """[site]
name = "lined"
units = "ft"
[terrain]
spot_heights = "spots.csv"
heights_by = "laser level"
[[break_line]]
name = "swale"
through = ["A", "B", "C"]
"""


@pytest.mark.parametrize(
    ("empty", "through", "said"),
    [
        ("", ("A", "B", "C"), ""),
        ("B", ("A", "C"), "break line 'swale' goes on past 'B' without a height"),
        ("AB", None, "break line 'swale' is left out, with 'A', 'B' without a height"),
    ],
)
def test_a_row_without_a_height_is_passed_over_also_in_a_line(tmp_path, empty, through, said):
    rows = [(name, 3 * k, k % 3, f"{100 - k / 10}") for k, name in enumerate("ABCDEF")]
    text = "".join(f"{n},{x},{y},{'' if n in empty else z}\n" for n, x, y, z in rows)
    (tmp_path / "site.toml").write_text(LINED)
    (tmp_path / "spots.csv").write_text("name,x,y,z\n" + text)
    site = runoff.read_site(tmp_path)
    assert [spot.name for spot in site.spot_heights] == [n for n in "ABCDEF" if n not in empty]
    assert [line.spots for line in site.break_lines] == ([through] if through else [])
    all_of_it = " | ".join(told(site))
    assert said in all_of_it
    assert ("passed over, for no height is written: " + ", ".join(empty) in all_of_it) == bool(
        empty
    )


def test_fewer_than_three_heights_are_asked_for_row_by_row(tmp_path):
    (tmp_path / "site.toml").write_text(LINED)
    (tmp_path / "spots.csv").write_text("name,x,y,z\nA,0,0,1\nB,1,0,\nC,0,1,\n")
    with pytest.raises(runoff.InputError) as caught:
        runoff.read_site(tmp_path)
    assert [problem.line for problem in caught.value.problems] == [3, 4]
