"""What users' files hold is shown on a terminal, never obeyed by it; and no message is endless."""

import subprocess
import sys
from pathlib import Path

import pytest

import runoff
from runoff.cli.status import BAD_INPUT, run
from runoff.site import InputError
from tests.lots.small import SITE, spots, write_small_lot

# Clear the screen (ECMA-48), a title for the window, text from right to left (Unicode UAX 9).
OBEYED = "\x1b[2J\x1b]0;title\x07\u202e\u2066"
NUMBERS = r"\x1b[2J\x1b]0;title\x07\u202e\u2066"


def in_toml(text: str) -> str:
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def test_remarks_notes_and_captions_are_shown_by_number(tmp_path: Path) -> None:
    said = in_toml(OBEYED)
    site = SITE.replace("[site]", f'[site]\nnotes = "{said}"\naddress = "{said}"')
    more = f'[[photograph]]\nfile = "a.jpg"\ncaption = "{said}"\n'
    sheet = spots().replace(",\n", f",{OBEYED}\n")
    found = runoff.read_site(write_small_lot(tmp_path, more, site, sheet))
    assert found.notes == found.address == found.photographs[0].caption == NUMBERS
    assert {spot.remark for spot in found.spot_heights} == {NUMBERS}


def test_a_note_keeps_its_lines(tmp_path: Path) -> None:
    site = SITE.replace("[site]", '[site]\nnotes = """one\ntwo"""')
    assert runoff.read_site(write_small_lot(tmp_path, "", site)).notes == "one\ntwo"


@pytest.mark.parametrize("command", ["inspect", "plan", "check", "report"])
def test_names_of_files_are_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert run([command, str(tmp_path / "no\x1b[2J\u202e.toml")]) == BAD_INPUT
    said = capsys.readouterr().err
    assert r"no\x1b[2J\u202e.toml" in said
    assert said.rstrip("\n").isprintable()


@pytest.mark.parametrize("command", ["check", "sheets"])
def test_files_that_were_written_are_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    folder = tmp_path / "a\x1b[2Jb"
    site = write_small_lot(folder)
    run(
        [command, str(site), "--map", str(folder / "m.svg")]
        if command == "check"
        else [command, str(folder)]
    )
    said = capsys.readouterr()
    assert r"a\x1b[2Jb" in said.out
    assert "\x1b" not in said.out + said.err


@pytest.mark.parametrize(
    ("written", "by"),
    [
        ('name = "house"', 'name = "{}"\nfloors = 2'),
        ('name = "D"', 'name = "D"\n{} = 2'),
        ('building = "house", wall = 3', 'building = "{}", wall = 3'),
        ("[pipe]", '[rules]\n{} = "1 ft"\n[pipe]'),
        ('spot_heights = "spots.csv"', 'spot_heights = "{}.csv"'),
    ],
)
def test_no_message_is_endless(tmp_path: Path, written: str, by: str) -> None:
    site = SITE.replace(written, by.format("x" * 100_000))
    with pytest.raises(InputError) as caught:
        runoff.read_site(write_small_lot(tmp_path, "", site))
    assert max(len(line) for line in str(caught.value).splitlines()) < 3000


def test_a_sheet_that_is_no_file_is_not_opened(tmp_path: Path) -> None:
    import os

    site = write_small_lot(tmp_path)
    (tmp_path / "spots.csv").unlink()
    os.mkfifo(tmp_path / "spots.csv")
    with pytest.raises(InputError, match="it is a pipe or a device"):
        runoff.read_site(site)
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(InputError, match="it is a pipe or a device"):
        runoff.read_site(tmp_path / "pipe.toml")


def test_a_corner_far_off_is_refused_before_ground_is_made(tmp_path: Path) -> None:
    for written, by in (
        ("[34, 30], [-14, 30]", "[34, 62000000], [-14, 30]"),
        ("[20, 16], [0, 16]", "[2000000, 16], [0, 16]"),
        ("[[-14, -24], [34, -24]]\nper", "[[-14, -24], [300000000, -24]]\nper"),
        ("[32, 10], [24, 10]", "[32, 100000000], [24, 10]"),
    ):
        with pytest.raises(InputError, match="km off"):
            runoff.read_site(write_small_lot(tmp_path, "", SITE.replace(written, by)))


def test_without_heights_a_corner_far_off_is_told_beside_what_else_is_wrong(tmp_path: Path) -> None:
    """Heights that cannot be read are no reason to take an outline kilometers off for one here."""
    site = write_small_lot(tmp_path, "", SITE.replace("[32, 10], [24, 10]", "[32, 1e8], [24, 1e8]"))
    (tmp_path / "spots.csv").unlink()
    with pytest.raises(InputError) as caught:
        runoff.read_site(site)
    told = [problem.expected for problem in caught.value.problems]
    assert any("no such file" in each for each in told)
    assert any("positions near the rest of the lot" in each for each in told)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="told by Linux alone")
def test_a_refusal_of_what_lies_far_off_takes_no_memory_to_speak_of(tmp_path: Path) -> None:
    """A ground made between the two took 24 GB; the refusal stays under 1, libraries counted."""
    site = write_small_lot(
        tmp_path, "", SITE.replace("[20, 16], [0, 16]", "[2000000, 16], [0, 16]")
    )
    code = (
        "import sys, runoff.cli.status as status\n"
        "kept = status.run(['inspect', sys.argv[1]])\n"
        # Of this program alone: what `resource` tells counts the one that started it too.
        "peak = next(x for x in open('/proc/self/status') if x.startswith('VmHWM'))\n"
        "print(kept, peak.split()[1])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(site)], capture_output=True, text=True, check=True
    )
    status, peak_kib = map(int, done.stdout.split()[-2:])
    assert status == 2
    assert "km off" in done.stderr
    assert peak_kib < 1024 * 1024
