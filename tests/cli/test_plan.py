"""`runoff plan` on the sample lot: what is printed, written, refused and left alone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import runoff
from runoff.cli.status import run
from runoff.report import is_own
from runoff.sample import sample_folder
from tests.report.test_plan_files import check_units

SITE = str(sample_folder() / "site.toml")
pytestmark = pytest.mark.usefixtures("worked_out_once")
COMMON = {"plan.json", "plan.txt", "plan.png", "shopping.csv"}


def test_the_plan_is_printed_and_written_and_written_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "new" / "plan"
    assert run(["plan", SITE, "--out", str(folder), "--tenths"]) == 1
    said = capsys.readouterr().out
    for name in ("front left", "front right", "rear right", "rear left", "garage"):
        assert name in said
    written = {path.name for path in folder.iterdir()}
    assert written >= COMMON
    assert all(is_own(path) for path in folder.iterdir())
    assert all(str(folder / name) in said for name in written)
    data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    for each in data["recommendations"]:
        stem = each["downspout"].replace(" ", "_")
        line = each["chosen"]["line"] or each["chosen"]["pit"]
        assert (f"dig_{stem}.csv" in written) == (line is not None)
        assert (f"pit_{stem}.png" in written) == (each["chosen"]["pit"] is not None)
    first = (folder / "plan.txt").read_text(encoding="utf-8")
    assert run(["plan", SITE, "--out", str(folder), "--tenths"]) == 1
    assert (folder / "plan.txt").read_text(encoding="utf-8") == first


def test_json_alone_stands_on_stdout_in_si(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["plan", SITE, "--json"]) == 1
    captured = capfd.readouterr()
    found = json.loads(captured.out)
    assert len(found["recommendations"]) == 5
    assert check_units(found) > 1000
    assert not list(tmp_path.iterdir())


def test_a_file_of_the_users_stops_the_command_before_it_computes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(site: object) -> None:
        raise AssertionError("computed all the same")

    monkeypatch.setattr(runoff, "plan", never)
    monkeypatch.setattr("runoff.planning.inspect_to_plan", never)
    for name in ("shopping.csv", "dig_garage.csv", "pit_rear_left.png"):
        folder = tmp_path / name.partition(".")[0]
        folder.mkdir()
        (folder / name).write_text("my notes\n", encoding="utf-8")
        assert run(["plan", SITE, "--out", str(folder)]) == 2
        told = capsys.readouterr().err
        assert told.count("\n") == 1
        assert name in told
        assert [path.name for path in folder.iterdir()] == [name]


def test_a_folder_that_is_a_file_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").write_text("", encoding="utf-8")
    assert run(["plan", SITE, "--out", str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_tenths_of_a_foot_are_refused_for_a_site_in_metres(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = tmp_path / "site.toml"
    (tmp_path / "spots.csv").write_text(
        "name,x,y,z\nA,0,0,1\nB,9,0,1\nC,9,9,2\nD,0,9,2\n", encoding="utf-8"
    )
    site.write_text(
        '[site]\nname = "metric"\nunits = "m"\n[terrain]\nspot_heights = "spots.csv"\n'
        'heights_by = "laser level"\n',
        encoding="utf-8",
    )
    assert run(["plan", str(site), "--tenths"]) == 2
    assert "--tenths" in capsys.readouterr().err


def test_bad_input_is_told_in_one_line_and_nothing_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", str(tmp_path / "none.toml"), "--out", str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not list(tmp_path.iterdir())
