"""`runoff start`: from answers to a site that is read and inspected, and nothing half-written."""

from __future__ import annotations

import builtins
import csv
import json
import os
import re
import tomllib
from collections.abc import Iterable
from pathlib import Path

import pytest

import runoff
from runoff.cli.status import run
from runoff.start.files import FILES
from runoff.start.questions import QUESTIONS

FOOT = 0.3048

ANSWERS = {
    "name": 'Lot "A"',
    "units": "ft",
    "outline": "36 ft x 28 ft",
    "under": "basement",
    "footing": "7 ft",
    "buildings": ["garage, slab, 40, 44; 60, 44; 60, 64; 40, 64"],
    "roofs": ["front, 38 ft x 15 ft, 6:12", "rear, 38' x 15'"],
    "downspouts": [
        "front left, front, 1 ft, front 50 %",
        "front right, front, 35 ft, front half",
        "rear left, rear, 33' 7\", rear",
    ],
    "openings": [
        "well 1, window well, left, 20 ft, 3 ft, 2 ft 6 in",
        "garage door, garage door, garage front, 9 ft, 9 ft",
    ],
    "lot": "front 40 ft, right 26 ft, rear 52 ft, left 18 ft",
    "neighbors": "front street, right neighbor, rear open ground, left neighbor",
    "sidewalk": ["front, 1 ft, 5 ft"],
    "paving": ["drive, drive, 44, -40; 54, -40; 54, 44; 44, 44"],
    "swales": ["swale, -18, 70; 20, 68; 62, 64"],
    "heights": "laser",
    "storm": "4 in",
    "soil": "loam",
}


def as_toml(answers: dict[str, str | list[str]]) -> str:
    return "".join(f"{key} = {json.dumps(value)}\n" for key, value in answers.items())


def as_lines(answers: dict[str, str | list[str]]) -> list[str]:
    """The same answers as somebody types them, a blank line after what repeats."""
    lines: list[str] = []
    for question in QUESTIONS:
        value = answers.get(question.key, [] if question.repeats else "")
        lines += [*value, ""] if isinstance(value, list) else [value]
    return lines


def start(folder: Path, answers: dict[str, str | list[str]]) -> int:
    file = folder.parent / "answers.toml"
    file.write_text(as_toml(answers), encoding="utf-8")
    return run(["start", str(folder), "--answers", str(file)])


def fill(folder: Path, first: int | None = None) -> None:
    """Invented heights in feet, falling from the house; rows beyond the first few taken out."""
    path = folder / "spots.csv"
    rows = list(csv.DictReader(path.open(encoding="utf-8", newline="")))[:first]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        for row in rows:
            away = abs(float(row["x"]) - 18) + abs(float(row["y"]) - 14)
            writer.writerow({**row, "z": f"{101 - 0.03 * away:.2f}"})


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Lines that are typed, one at each prompt; the words "^C" stand for Ctrl-C."""
    lines: list[str] = []

    def answer(prompt: str = "") -> str:
        print(prompt, end="")
        line = lines.pop(0)
        if line == "^C":
            raise KeyboardInterrupt
        return line

    monkeypatch.setattr(builtins, "input", answer)
    return lines


def test_an_answers_file_makes_a_lot_that_is_read_and_inspected(tmp_path: Path) -> None:
    folder = tmp_path / "lot"
    assert start(folder, ANSWERS) == 0
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    assert (folder / "site.toml").read_text().startswith("#:schema ./site.schema.json\n")
    fill(folder)
    site = runoff.read_site(folder)
    assert site.name == 'Lot "A"'
    house, garage = site.buildings
    assert house.outline.bounds == pytest.approx((0, 0, 36 * FOOT, 28 * FOOT))
    assert (house.kind, garage.kind) == ("basement", "slab")
    assert house.footing_depth == pytest.approx(7 * FOOT)
    assert [d.roofs for d in site.downspouts] == [
        (("front", 0.5),),
        (("front", 0.5),),
        (("rear", 1.0),),
    ]
    # The rear wall's left end, as one faces it, is the corner on the plan's right.
    assert site.downspouts[2].x == pytest.approx((36 - 33 - 7 / 12) * FOOT)
    well, door = site.openings
    assert (well.kind, well.wall, well.projection) == ("window well", 3, pytest.approx(2.5 * FOOT))
    assert (door.building, door.distance) == ("garage", pytest.approx(9 * FOOT))
    assert site.lot is not None
    assert [side.neighbor for side in site.lot.sides] == [
        "street",
        "neighbor",
        "open ground",
        "neighbor",
    ]
    assert site.break_lines[0].spots == ("S1", "S2", "S3")
    assert site.height_accuracy.method == "laser level"
    assert site.soil.texture == "loam"
    findings = runoff.inspect(site)
    assert len(findings.downspouts) == 3


def test_the_ten_points_alone_are_enough_to_inspect(tmp_path: Path) -> None:
    folder = tmp_path / "lot"
    assert start(folder, {"outline": "36 ft x 28 ft", "roofs": ["all, 38 ft x 30 ft"]}) == 0
    fill(folder, first=10)
    findings = runoff.inspect(runoff.read_site(folder))
    assert {run.verdict for run in findings.at_the_wall.runs} != {"not surveyed"}


def test_metric_answers(tmp_path: Path) -> None:
    folder = tmp_path / "lot"
    answers = {
        "units": "m",
        "outline": "11 x 8.5",
        "roofs": ["all, 11.6 x 9.1 m, 0.5"],
        "downspouts": ["one, right, 25 cm"],
        "storm": "100 mm",
    }
    assert start(folder, answers) == 0
    fill(folder)
    site = runoff.read_site(folder)
    assert site.buildings[0].outline.bounds == pytest.approx((0, 0, 11, 8.5))
    assert site.downspouts[0].y == pytest.approx(0.25)
    assert site.storm.depth == pytest.approx(0.1)


def test_typed_answers_make_the_same_files(tmp_path: Path, typed: list[str]) -> None:
    assert start(tmp_path / "by file", ANSWERS) == 0
    typed += as_lines(ANSWERS)
    assert run(["start", str(tmp_path / "typed")]) == 0
    assert not typed
    text = tmp_path / "answers.txt"
    text.write_text("# answers\r\n" + "\r\n".join(as_lines(ANSWERS)), encoding="utf-8")
    assert run(["start", str(tmp_path / "by lines"), "--answers", str(text)]) == 0
    for name in FILES:
        first = (tmp_path / "by file" / name).read_text()
        assert (tmp_path / "typed" / name).read_text() == first
        assert (tmp_path / "by lines" / name).read_text() == first


def test_what_was_understood_is_repeated(
    tmp_path: Path, typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    typed += ["", "", "24' 7\" x 20 ft", *[""] * 20]
    assert run(["start", str(tmp_path / "lot")]) == 0
    said = capsys.readouterr().out
    assert "front 24 ft 7 in, right 20 ft" in said
    assert "feet and inches" in said


def test_a_wrong_answer_is_told_with_an_example_and_asked_again(
    tmp_path: Path, typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    typed += ["", "yards", "ft", "skip", "24,7 x 20", "24 ft 14 in x 20 ft", "24 ft x 20 ft"]
    typed += [""] * 20
    folder = tmp_path / "lot"
    assert run(["start", str(folder)]) == 0
    said = capsys.readouterr().out
    assert '"yards" cannot be used; expected ft or m' in said
    assert "expected an answer, such as 36 ft x 28 ft" in said
    assert "write a decimal with a point (24.7)" in said
    assert "14 in is a foot or more" in said
    assert said.count("What is the outline of the house") == 1
    fill(folder)
    bounds = runoff.read_site(folder).buildings[0].outline.bounds
    assert bounds == pytest.approx((0, 0, 24 * FOOT, 20 * FOOT))


def test_back_takes_an_answer_back(tmp_path: Path, typed: list[str]) -> None:
    typed += ["back", "First", "m", "back", "back", "Second", "m", "10 x 8", "slab"]
    typed += ["back", "basement", "", ""]  # footing, buildings
    typed += ["a, 10 x 4", "b, 10 x 5", "back", "b, 10 x 4", "", "one, front, 1, a", "back", ""]
    typed += [""] * 20
    folder = tmp_path / "lot"
    assert run(["start", str(folder)]) == 0
    text = tomllib.loads((folder / "site.toml").read_text())
    assert text["site"]["name"] == "Second"
    assert text["building"][0]["kind"] == "basement"
    assert [(roof["name"], roof["width"]) for roof in text["roof"]] == [("a", 4), ("b", 4)]
    assert "downspout" not in text


@pytest.mark.parametrize("stop", [1, 6, 9, 17, 24])
def test_ctrl_c_after_any_answer_loses_none(
    tmp_path: Path, typed: list[str], stop: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stopped after each answer in turn, and gone on with: the files are those of one sitting."""
    lines = as_lines(ANSWERS)
    folder = tmp_path / "lot"
    typed += [*lines[:stop], "^C"]
    assert run(["start", str(folder)]) == 130
    assert [path.name for path in folder.iterdir()] == ["start_answers.toml"]
    assert "the same command goes on from there" in capsys.readouterr().err
    # A question that repeats and was stopped at is asked for one more.
    between = lines[stop - 1] == "" and stop < len(lines)
    rest = ["", *lines[stop:]] if between and stopped_at_a_list(folder) else lines[stop:]
    typed += ["yes", *rest]
    assert run(["start", str(folder)]) == 0
    assert not typed
    assert start(tmp_path / "by file", ANSWERS) == 0
    for name in FILES:
        assert (folder / name).read_text() == (tmp_path / "by file" / name).read_text()


def stopped_at_a_list(folder: Path) -> bool:
    kept = tomllib.loads((folder / "start_answers.toml").read_text(encoding="utf-8"))
    return isinstance(list(kept.values())[-1], list)


def test_ctrl_c_before_the_first_answer_leaves_nothing(tmp_path: Path, typed: list[str]) -> None:
    typed += ["^C"]
    assert run(["start", str(tmp_path / "new" / "lot")]) == 130
    assert not list(tmp_path.iterdir())


def test_a_draft_that_is_not_wanted_is_put_aside(tmp_path: Path, typed: list[str]) -> None:
    folder = tmp_path / "lot"
    typed += ["First", "m", "^C"]
    assert run(["start", str(folder)]) == 130
    typed += ["no", "Second", "ft", "36 x 28", *[""] * 20]
    assert run(["start", str(folder)]) == 0
    assert tomllib.loads((folder / "site.toml").read_text())["site"]["name"] == "Second"
    assert "First" in (folder / "start_answers_before.toml").read_text()


def test_kept_answers_that_were_spoiled_are_asked_again(
    tmp_path: Path, typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "lot"
    folder.mkdir()
    kept = folder / "start_answers.toml"
    kept.write_text('name = "A"\nunits = "yards"\noutline = "36 ft x 28 ft"\n')
    typed += ["", "ft", *[""] * 20]
    assert run(["start", str(folder)]) == 0
    assert '"yards" cannot be used' in capsys.readouterr().out
    kept.write_text("name = \n")
    for name in FILES:
        (folder / name).unlink()
    assert run(["start", str(folder)]) == 2
    assert "start_answers.toml" in capsys.readouterr().err


def test_what_makes_no_site_with_the_answers_before_is_told_at_its_question(
    tmp_path: Path, typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Two wells in one place, which only the whole site can tell."""
    wells = ["a, window well, left, 1 ft, 3 ft, 2 ft", "b, window well, left, 5 ft, 3 ft, 2 ft"]
    typed += ["", "ft", "36 x 28", "", "", "", "", *wells, *[""] * 20]
    assert run(["start", str(tmp_path / "typed")]) == 0
    said = capsys.readouterr().out
    assert said.index("cannot be used; with the answers before") < said.index("= b (window well)")
    assert start(tmp_path / "by file", {"outline": "36 x 28", "openings": wells}) == 2
    said = capsys.readouterr().err
    assert "openings . item 1" in said
    assert said.count("\n") == 1


def test_do_not_know_is_an_answer_to_every_question(tmp_path: Path, typed: list[str]) -> None:
    words = ["do not know", "I don't know", "?", "unknown", "no idea", "not sure."]
    typed += ["?", "unknown", "do not know", "36 x 28", *words, *words, *words]
    folder = tmp_path / "lot"
    assert run(["start", str(folder)]) == 0
    site = tomllib.loads((folder / "site.toml").read_text())
    assert set(site) == {"site", "terrain", "building"}


def test_do_not_know_within_an_answer(tmp_path: Path) -> None:
    answers: dict[str, str | list[str]] = {
        "outline": "36 x 28",
        "buildings": [
            "shed, do not know, 8 ft x 10 ft, 20 ft behind the house, flush with its left"
        ],
        "roofs": ["all, 38 x 30, ?"],
        "downspouts": ["one, front, 1 ft, all, do not know"],
        "openings": ["d, door, rear, 10 ft, 3 ft, do not know"],
    }
    assert start(tmp_path / "lot", answers) == 0
    text = tomllib.loads((tmp_path / "lot" / "site.toml").read_text())
    assert "kind" not in text["building"][1]
    assert "pitch" not in text["roof"][0]
    assert "size" not in text["downspout"][0]
    assert "sill" not in text["opening"][0]
    assert "d: its sill" in (tmp_path / "lot" / "where_to_measure.txt").read_text()


@pytest.mark.parametrize(
    ("place", "box"),
    [
        ("22 ft x 24 ft, 12 ft behind the house, 3 ft to its right", (39, 40, 61, 64)),
        ("22 x 24, 3 ft to the right of the house, 12' behind", (39, 40, 61, 64)),
        (
            "22 by 24 ft, 8 ft 6 in to the left of the house, flush with its front",
            (-30.5, 0, -8.5, 24),
        ),
        ("22 ft x 24 ft, attached to its right wall, flush with the house's rear", (36, 4, 58, 28)),
        ("22 ft x 24 ft, 10 ft in front of it, in line with its right side", (14, -34, 36, -10)),
    ],
)
def test_a_building_is_placed_as_a_tape_gives_it(
    tmp_path: Path, place: str, box: tuple[float, ...]
) -> None:
    """By hand: the house is 36 by 28 ft with its front left corner at 0, 0."""
    answers: dict[str, str | list[str]] = {
        "outline": "36 x 28",
        "buildings": [f"garage, slab, {place}"],
    }
    assert start(tmp_path / "lot", answers) == 0
    fill(tmp_path / "lot")
    garage = runoff.read_site(tmp_path / "lot").buildings[1]
    assert garage.outline.bounds == pytest.approx([FOOT * each for each in box])


def test_a_metric_lot_is_asked_and_told_in_meters(
    tmp_path: Path, typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    typed += ["", "m", "11 x", "11 x 8.5", "", "", "shed", "", "all, 11", *[""] * 20]
    assert run(["start", str(tmp_path / "lot")]) == 0
    said = capsys.readouterr().out.split("= meters")[1].split("Files")[0]
    assert "such as 11 m x 8.5 m" in said
    assert re.search(r"\d (ft|in)\b", said) is None


def test_what_lies_beyond_a_side_may_be_unknown(tmp_path: Path) -> None:
    beyond = "front street, right ?, rear do not know, left open ground"
    assert start(tmp_path / "lot", {**ANSWERS, "neighbors": beyond}) == 0
    fill(tmp_path / "lot")
    lot = runoff.read_site(tmp_path / "lot").lot
    assert lot is not None
    assert [side.neighbor for side in lot.sides] == [
        "street",
        "unknown",
        "unknown",
        "open ground",
    ]


def test_street_sills_and_leader_sizes(tmp_path: Path) -> None:
    answers = {
        **ANSWERS,
        "downspouts": ["one, front, 1 ft, front 50 %, 2x3", "two, rear, 1 ft, rear, round 4 in"],
        "openings": ["side door, door, right, 10 ft, 3 ft, sill 100 ft 6 in"],
        "outlets": ["street, street gutter, front, 8 ft", "inlet, storm inlet, 62, -44"],
    }
    assert start(tmp_path / "lot", answers) == 0
    fill(tmp_path / "lot")
    site = runoff.read_site(tmp_path / "lot")
    one, two = (downspout.leader for downspout in site.downspouts)
    assert one is not None
    assert two is not None
    assert (one.width, one.depth) == (pytest.approx(2 * FOOT / 12), pytest.approx(3 * FOOT / 12))
    assert two.width == pytest.approx(4 * FOOT / 12)
    assert site.openings[0].sill == pytest.approx(100.5 * FOOT)
    street, inlet = site.outlets
    # The lot's front line lies 40 ft before the house.
    assert street.place.bounds[1] == pytest.approx(-48 * FOOT)
    assert (street.kind, inlet.kind) == ("street gutter", "storm inlet")


def test_the_reason_stands_before_the_grammar(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = refused(tmp_path, capsys, outline="36 ft x 0 ft")
    assert said.index("too short") < said.index("expected width x depth")
    lacking = "garage, slab, 22 ft x 24 ft, 12 ft behind the house"
    said = refused(tmp_path, capsys, buildings=[lacking], openings=[])
    assert said.index("to the right or left of the house it stands is not said") < said.index(
        "expected name, kind"
    )


def test_the_end_of_the_input_stops(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def end(prompt: str = "") -> str:
        raise EOFError

    monkeypatch.setattr(builtins, "input", end)
    assert run(["start", str(tmp_path / "lot")]) == 130
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_a_stop_while_writing_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop: BaseException
) -> None:
    folder = tmp_path / "lot"
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    placed = []

    def place(source: Path, target: Path) -> None:
        if len(placed) == 3:
            raise stop
        placed.append(target)
        os.link(source, target)

    monkeypatch.setattr("runoff.cli.outputs._place", place)
    assert start(folder, ANSWERS) == (130 if stop is KeyboardInterrupt else 2)
    assert len(placed) == 3
    assert [path.name for path in folder.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("name", FILES)
def test_no_file_is_written_over(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "lot"
    folder.mkdir()
    (folder / name).write_text("mine")
    assert start(folder, ANSWERS) == 2
    assert "is there already" in capsys.readouterr().err
    assert [path.name for path in folder.iterdir()] == [name]
    assert (folder / name).read_text() == "mine"


def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "lot").write_text("mine")
    assert start(tmp_path / "lot", ANSWERS) == 2


def refused(tmp_path: Path, capsys: pytest.CaptureFixture[str], **answers: str | list[str]) -> str:
    assert start(tmp_path / "lot", {**ANSWERS, **answers}) == 2
    assert not (tmp_path / "lot").exists()
    return capsys.readouterr().err


@pytest.mark.parametrize(
    ("key", "answer", "part"),
    [
        ("outline", "36 ft", "expected width x depth such as"),
        ("outline", "0, 0; 36, 0; 0, 28; 36, 28", "does not cross itself"),
        ("outline", "36 ft x 0 ft", "too short"),
        ("under", "cellar", "basement, crawl space or slab"),
        ("footing", "70 ft", "less than 50 ft"),
        ("lot", "front 40 ft, right 26 ft", "how far each lot line lies"),
        ("lot", "0, 0; 20, 0; 20, 80; 0, 80", "the house must stand on the lot"),
        ("neighbors", "street, neighbor", "front street, right neighbor"),
        ("storm", "4", "with its unit"),
        ("storm", "4 lb", "with its unit"),
        ("heights", "phone", "laser level, builder's level"),
        ("soil", "mud", "sandy loam"),
    ],
)
def test_an_answer_that_cannot_be_used_names_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], key: str, answer: str, part: str
) -> None:
    said = refused(tmp_path, capsys, **{key: answer})
    line = list(ANSWERS).index(key) + 1
    mine = [each for each in said.splitlines() if f"answers.toml, line {line}: {key}: " in each]
    assert len(mine) == 1
    assert part in mine[0]
    assert answer[:20] in mine[0]


@pytest.mark.parametrize(
    ("key", "answer", "part"),
    [
        ("buildings", "garage, slab, 20, 14; 60, 14; 60, 64", "overlaps the house"),
        ("buildings", "house, slab, 60, 14; 70, 14; 70, 24", "is there already"),
        ("roofs", "front, 38 ft", "length x width"),
        ("roofs", "front, 38 ft x 15 ft, steep", "pitch"),
        ("downspouts", "one, north, 1 ft, front", "the walls are front, right, rear, left"),
        ("downspouts", "one, front, 40 ft, front", "is 36 ft long"),
        ("downspouts", "one, front, 1 ft, attic", "the roofs are front, rear"),
        ("downspouts", "one, front, 1 ft, front 0 %", "a share is above 0 %"),
        ("openings", "w, window well, left, 20 ft, 3 ft", "how far it stands out last"),
        ("openings", "d, door, left, 20 ft, 3 ft, 1 ft", "nothing after its width"),
        ("openings", "d, hatch, left, 20 ft, 3 ft", "the kind of opening"),
        ("paving", "drive, drive, 1, 2; 3, 4", "corners"),
        ("sidewalk", "street, 1 ft, 5 ft", "the side (front, right, rear, left)"),
        ("sidewalk", "front, 5 ft", "how far beyond the lot line it begins, and its width"),
        ("swales", "swale, 1, 2; 1, 2", "differs"),
    ],
)
def test_an_item_that_cannot_be_used_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], key: str, answer: str, part: str
) -> None:
    answers: dict[str, str | list[str]] = {key: [answer]}
    if key != "openings":
        answers["openings"] = []
    if key not in ("openings", "downspouts"):
        answers["downspouts"] = []
    said = refused(tmp_path, capsys, **answers)
    assert said.count("\n") == 1
    assert f"{key} . item 1: " in said
    assert part in said


def test_all_mistakes_of_a_file_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = refused(tmp_path, capsys, under="cellar", storm="much", colour="blue", soil=["loam"])
    assert said.count("\n") == 4


def test_a_share_of_a_roof_is_carried_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    twice = ["a, front, 1 ft, front 60 %", "b, front, 9 ft, front 60 %"]
    assert "only 40 % is left" in refused(tmp_path, capsys, downspouts=twice)


def test_the_first_mistake_of_a_text_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "answers.txt"
    file.write_text("# my lot\nElm\nft\n36 by\n", encoding="utf-8")
    assert run(["start", str(tmp_path / "lot"), "--answers", str(file)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "answers.txt, line 4: outline" in said
    assert not (tmp_path / "lot").exists()


def test_answers_that_no_question_is_left_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "answers.txt"
    file.write_text("\n".join([*as_lines(ANSWERS), "", "one more"]), encoding="utf-8")
    assert run(["start", str(tmp_path / "lot"), "--answers", str(file)]) == 2
    assert '"one more" is written; expected no more answers' in capsys.readouterr().err


@pytest.mark.parametrize("content", [b"\xff\xfe", b"units = [", b'units = "ft"\nunits = "m"\n'])
def test_an_answers_file_that_cannot_be_read(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "answers.toml"
    file.write_bytes(content)
    assert run(["start", str(tmp_path / "lot"), "--answers", str(file)]) == 2
    assert run(["start", str(tmp_path / "lot"), "--answers", str(tmp_path / "none.toml")]) == 2


def test_the_answers_of_the_page_on_commands(tmp_path: Path) -> None:
    page = Path(__file__).parents[2] / "docs" / "commands.md"
    text = page.read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]
    assert set(tomllib.loads(text)) == {question.key for question in QUESTIONS}
    file = tmp_path / "answers.toml"
    file.write_text(text, encoding="utf-8")
    assert run(["start", str(tmp_path / "lot"), "--answers", str(file)]) == 0


def test_wall_runs_are_closed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "lot"
    runs = "E 36 ft, N 12 ft, W 10 ft, N 16 ft, W 26 ft, S 28 ft"
    assert start(folder, {"outline": runs}) == 0
    fill(folder)
    (house,) = runoff.read_site(folder).buildings
    assert house.outline.area == pytest.approx((36 * 28 - 10 * 16) * FOOT**2)
    assert house.walls == ("front", "right 1", "rear 1", "right 2", "rear 2", "left")


def test_wall_runs_that_miss_a_little_are_shared_out_and_it_is_said(
    tmp_path: Path, typed: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    typed += ["", "", "E 36 ft, N 28 ft, W 36 ft, S 27 ft", "E 36 ft, N 28 ft, W 36 ft, S 27' 11\""]
    typed += [""] * 20
    assert run(["start", str(tmp_path / "lot")]) == 0
    said = capsys.readouterr().out
    assert "these miss it by 1 ft: tape the longest again" in said
    assert "the runs missed the first corner by 1 in, shared out over them" in said


def rewrite(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def with_levels(folder: Path) -> None:
    """Have the site file take its heights from the level sheet."""
    site = folder / "site.toml"
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace("# levels =", "levels ="), encoding="utf-8")


def test_level_notes_filled_in_give_the_heights(tmp_path: Path) -> None:
    """Readings from one place of the level: height = 100 + backsight - reading."""
    folder = tmp_path / "lot"
    assert start(folder, ANSWERS) == 0
    sheet = folder / "levels.csv"
    rows = list(csv.DictReader(sheet.open(encoding="utf-8", newline="")))
    rows[0]["backsight"] = "4.00"
    rows[-1]["foresight"] = "4.00"
    for place, row in enumerate(rows[1:-1]):
        row["intermediate"] = f"{5 + place / 100:.2f}"
    rewrite(sheet, rows)
    with_levels(folder)
    spots = runoff.read_site(folder).spot_heights
    assert [spot.z for spot in spots if spot.name == "C1"] == [pytest.approx(99.00 * FOOT)]
    assert [spot.z for spot in spots if spot.name == "C2"] == [pytest.approx(98.99 * FOOT)]


def test_a_string_level_has_a_sheet_of_its_own(tmp_path: Path) -> None:
    """Measured down from a string that hangs on the benchmark: height = 100 - down."""
    folder = tmp_path / "lot"
    assert start(folder, {**ANSWERS, "heights": "string level"}) == 0
    sheet = folder / "levels.csv"
    rows = list(csv.DictReader(sheet.open(encoding="utf-8", newline="")))
    for place, row in enumerate(rows):
        row["down"] = f"{12 * place / 8:g} in"
    rewrite(sheet, rows)
    with_levels(folder)
    site = runoff.read_site(folder)
    assert site.questions[0].code == "heights shuffled", (
        "a slope along the list is none along the lot"
    )
    spots = {spot.name: spot.z for spot in site.spot_heights}
    assert spots["C1"] == pytest.approx((100 - 1 / 8) * FOOT, abs=1e-3)
    assert spots["C3"] == pytest.approx((100 - 3 / 8) * FOOT, abs=1e-3)


@pytest.mark.parametrize("test", ["trial_pit", "percolation"])
def test_soil_sheets_filled_in_are_read(tmp_path: Path, test: str) -> None:
    folder = tmp_path / "lot"
    assert start(folder, ANSWERS) == 0
    fill(folder)
    sheet = folder / f"{test}.csv"
    rows = list(csv.DictReader(sheet.open(encoding="utf-8", newline="")))
    if test == "trial_pit":
        rows[0] |= {"effective_depth": "2 ft", "length": "5 ft", "width": "2 ft"}
        for row, minutes in zip(rows, (55, 60, 63), strict=True):
            row["time_75_to_25"] = f"{minutes} min"
    else:
        rows[0] |= {"diameter": "8 in", "bottom": "14 in"}
        for place, row in enumerate(rows):
            row["time"] = f"{place * 10} min"
            row["down"] = "8 in" if place % 2 == 0 else "9 in"
            row["refill"] = "yes" if place and place % 2 == 0 else ""
            row["time"] = f"{10 * (place + 1) // 2} min" if place else "0 min"
    rewrite(sheet, rows)
    site = folder / "site.toml"
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace(f"# {test} =", f"{test} ="), encoding="utf-8")
    soil = runoff.read_site(folder).soil
    assert (soil.trial_pit if test == "trial_pit" else soil.percolation) is not None


def names(rows: Iterable[dict[str, str]], key: str) -> list[str]:
    return [row[key] for row in rows]


def test_the_sheets_hold_the_same_points(tmp_path: Path) -> None:
    folder = tmp_path / "lot"
    start(folder, ANSWERS)
    spots = list(csv.DictReader((folder / "spots.csv").open(newline="")))
    levels = list(csv.DictReader((folder / "levels.csv").open(newline="")))
    assert len(spots) == 30
    assert not any(row["z"] for row in spots)
    assert names(spots, "name") == names(levels, "point")[1:-1]
    told = (folder / "where_to_measure.txt").read_text()
    assert "The 10 points that matter most" in told
    assert "Then 20 more" in told
    for row in spots:
        assert f"  {row['name']} " in told
    beyond = told.split("without a row")[1]
    for where in ("lot between left and front", "lot between rear and left"):
        assert f"corner of the {where}" in told
    assert not any(f"  {row['name']} " in beyond for row in spots)


def test_the_public_sidewalk_lies_beyond_its_side(tmp_path: Path) -> None:
    """1 ft beyond a front side 40 ft before the house, 5 ft wide, as long as the side."""
    assert start(tmp_path / "lot", ANSWERS) == 0
    table = tomllib.loads((tmp_path / "lot" / "site.toml").read_text(encoding="utf-8"))
    (walk,) = [each for each in table["paving"] if each["kind"] == "public sidewalk"]
    assert walk["name"] == "front sidewalk"
    assert sorted(walk["corners"]) == [[-18, -46], [-18, -41], [62, -46], [62, -41]]
