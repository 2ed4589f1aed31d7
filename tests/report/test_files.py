"""Files written whole or not at all, and never over somebody else's."""

from __future__ import annotations

from pathlib import Path

import pytest

from runoff.report import TEXT_MARK, check_free, is_own, whole_file, write_text


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.json", '{\n  "written_by": "runoff"\n}'),
        ("a.txt", f"{TEXT_MARK}\n\nmore"),
    ],
)
def test_own_files_are_known(tmp_path: Path, name: str, text: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    assert is_own(path)
    check_free([path])


@pytest.mark.parametrize("name", ["a.json", "a.txt", "a.png", "a.svg", "a.pdf", "a"])
def test_somebody_elses_file_is_in_the_way_unless_forced(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(FileExistsError, match="was not written by runoff"):
        check_free([tmp_path / "free.txt", path])
    check_free([path], force=True)


def test_a_folder_is_never_written_over(tmp_path: Path) -> None:
    with pytest.raises(FileExistsError, match="is a folder"):
        check_free([tmp_path], force=True)


def test_a_failure_leaves_the_old_file_and_no_other(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "old")
    half_way = whole_file(path)
    half_way.__enter__().write_text("half")
    stop = RuntimeError("stop")
    assert not half_way.__exit__(RuntimeError, stop, None)
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.txt"]
