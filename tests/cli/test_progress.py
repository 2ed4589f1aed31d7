"""Progress: said on stderr, only for what takes long."""

from __future__ import annotations

import threading

import pytest

from runoff.cli.progress import step


def test_a_quick_step_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with step("reading", patience=60.0):
        pass
    captured = capsys.readouterr()
    assert captured.err == ""
    assert captured.out == ""


def test_a_slow_step_says_one_plain_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Elsewhere than on a terminal; the step lasts until its line is there."""
    before = threading.active_count()
    with step("reading site.toml", patience=0.0):
        for thread in threading.enumerate():
            if isinstance(thread, threading.Timer):
                thread.join()
    assert capsys.readouterr().err == "reading site.toml ...\n"
    assert threading.active_count() == before
