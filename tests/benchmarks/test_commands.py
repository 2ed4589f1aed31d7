"""How long the commands take, each in a process of its own, as a person meets them."""

from __future__ import annotations

import subprocess
import sys

from runoff.sample import sample_folder


def run(*arguments):
    """Run the command line; the exit status."""
    return subprocess.run([sys.executable, "-m", "runoff", *arguments], capture_output=True)


def test_help(benchmark):
    assert benchmark.pedantic(run, ("--help",), rounds=5).returncode == 0


def test_inspect_sample(benchmark, tmp_path):
    arguments = ("inspect", str(sample_folder() / "site.toml"), "--out", str(tmp_path / "map.png"))
    # The kernels are compiled and kept in the round that warms up.
    done = benchmark.pedantic(run, arguments, rounds=3, warmup_rounds=1)
    assert done.returncode in (0, 1), done.stderr
