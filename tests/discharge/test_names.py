"""The public names of the room are there, and load nothing heavy until they are used."""

import subprocess
import sys

import pytest

import runoff


@pytest.mark.parametrize("name", runoff.discharge.__all__)
def test_every_public_name_is_there_and_says_what_it_is(name):
    found = getattr(runoff.discharge, name)
    if callable(found):
        assert found.__name__ == name
        assert found.__doc__


def test_the_room_loads_nothing_heavy():
    code = "import sys, runoff; runoff.discharge.full_pipe_flow; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_an_unknown_name_is_refused():
    with pytest.raises(AttributeError, match="pump"):
        _ = runoff.discharge.pump
