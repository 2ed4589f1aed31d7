"""The files of one run take their places together or not at all, whatever comes between."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import runoff
from runoff.report import TEXT_MARK, clear_unfinished, whole_file, whole_folder, write_text
from tests.lots.small import write_small_lot

BEFORE = {"plan.txt": "old plan", "dig_left.csv": "old table", "notes.txt": "my own words"}
AFTER = {"plan.txt": "new plan", "dig_right.csv": "new table"}
MARKED = {".txt": f"{TEXT_MARK}\n", ".csv": f"# {TEXT_MARK}\n"}


def before(folder: Path) -> Path:
    """A folder as an older run left it, with a file of the user's own."""
    folder.mkdir(exist_ok=True)
    for name, text in BEFORE.items():
        mark = "" if name == "notes.txt" else MARKED[Path(name).suffix]
        (folder / name).write_text(mark + text)
    return folder


def held(folder: Path) -> dict[str, str]:
    """What the folder holds, marks left out; what is unfinished counts as a file."""
    return {p.name: p.read_text().split("\n")[-1] if p.is_file() else "" for p in folder.iterdir()}


def run(folder: Path) -> None:
    """A run that writes a plan without the left downspout's table."""
    every = [folder / name for name in ("plan.txt", "dig_left.csv", "dig_right.csv", "notes.txt")]
    with whole_folder(folder, every) as there:
        for name, text in AFTER.items():
            write_text(there / name, MARKED[Path(name).suffix] + text)


def test_all_change_together_and_what_is_stale_goes(tmp_path: Path) -> None:
    folder = before(tmp_path / "plan")
    run(folder)
    assert held(folder) == {**AFTER, "notes.txt": BEFORE["notes.txt"]}
    run(folder)
    assert held(folder) == {**AFTER, "notes.txt": BEFORE["notes.txt"]}


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError, ZeroDivisionError])
def test_a_run_that_ends_in_the_middle_changes_nothing(
    tmp_path: Path, error: type[BaseException]
) -> None:
    def run_half() -> None:
        with whole_folder(folder, []) as there:
            write_text(there / "plan.txt", "half")
            raise error

    folder = before(tmp_path / "plan")
    with pytest.raises(error):
        run_half()
    assert held(folder) == BEFORE


def test_a_folder_made_for_a_run_that_failed_is_taken_away(tmp_path: Path) -> None:
    with pytest.raises(OSError), whole_folder(tmp_path / "a" / "b", []):
        raise OSError
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("count", range(6))
def test_a_file_that_cannot_take_its_place_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    """Two files are moved away and two put in their places: each of these moves fails once."""
    folder = before(tmp_path / "plan")
    moves = []
    replace = os.replace

    def failing(source: Path, target: Path) -> None:
        if folder in (Path(source).parent, Path(target).parent):
            moves.append(source)
            if len(moves) == count + 1:
                raise PermissionError(13, "open in another program")
        replace(source, target)

    monkeypatch.setattr(os, "replace", failing)
    if count < 4:
        with pytest.raises(PermissionError):
            run(folder)
        assert held(folder) == BEFORE
    else:
        run(folder)
        assert held(folder) == {**AFTER, "notes.txt": BEFORE["notes.txt"]}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
@pytest.mark.parametrize("count", range(8))
def test_what_a_killed_run_left_is_put_right_by_the_next(tmp_path: Path, count: int) -> None:
    """A run is killed before each of its moves in turn, while it writes too."""
    folder = before(tmp_path / "plan")
    child = os.fork()
    if child == 0:
        replace, moves = os.replace, []

        def killed(source: Path, target: Path) -> None:
            moves.append(source)
            if len(moves) > count:
                os._exit(9)
            replace(source, target)

        os.replace = killed
        run(folder)
        os._exit(0)
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert ended == (9 if count < 6 else 0)
    clear_unfinished(folder)
    whole = {**AFTER, "notes.txt": BEFORE["notes.txt"]}
    assert held(folder) == (BEFORE if ended else whole)
    run(folder)
    assert held(folder) == whole


def test_a_file_that_a_killed_run_left_half_written_goes(tmp_path: Path) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    (tmp_path / f".runoff-{dead.pid}-0123abcd.pdf").write_text("half")
    (tmp_path / ".runoff-notes").write_text("my own")
    with whole_file(tmp_path / "report.pdf") as path:
        path.write_text("whole")
    assert held(tmp_path) == {"report.pdf": "whole", ".runoff-notes": "my own"}


def test_what_another_run_is_writing_is_left_to_it(tmp_path: Path) -> None:
    name = f".runoff-{os.getppid()}-0123abcd.pdf"
    (tmp_path / name).write_text("half")
    clear_unfinished(tmp_path)
    assert (tmp_path / name).exists()
    long_ago = time.time() - 3 * 86400
    os.utime(tmp_path / name, (long_ago, long_ago))
    clear_unfinished(tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(sys.platform == "win32", reason="signals differ there")
def test_a_command_that_is_told_to_end_leaves_nothing_behind(tmp_path: Path) -> None:
    """SIGTERM while a plan is being written: status 130, the older plan whole, no leftovers."""
    folder = before(tmp_path / "plan")
    code = (
        "import sys, time, runoff.report.plan_files as plan_files\n"
        "def slow(*_):\n    print('drawing', flush=True)\n    time.sleep(60)\n"
        "import runoff.report.maps.lot_map as map\nmap.draw_map = slow\n"
        "sys.argv[1:] = ['plan', sys.argv[1], '--out', sys.argv[2]]\n"
        "from runoff.cli import main\nmain()\n"
    )
    site = write_small_lot(tmp_path / "lot")
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(site), str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={
            **os.environ,
            "TMPDIR": str(tmp_path),
            "PYTHONPATH": str(Path(runoff.__file__).parents[1]),
        },
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "drawing\n"
    process.terminate()
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in said
    assert held(folder) == BEFORE
    assert sorted(path.name for path in tmp_path.iterdir()) == ["lot", "plan"]
