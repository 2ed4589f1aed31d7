"""Answers from a file, for scripts: TOML by the key of each question, or text, one answer a line.

In: the file. Out: the answers understood, or `InputError` with every mistake and its line.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

from runoff.site.complaints import hint, shorten
from runoff.site.files import read_text
from runoff.site.positions import Positions
from runoff.site.problems import InputError, Problem
from runoff.start.files import make_files
from runoff.start.interview import BACK, DONE, SKIP, Typed, interview
from runoff.start.lot_answers import Draft, Expected
from runoff.start.questions import KEYS, QUESTIONS, Question


def read_answers(path: Path) -> Draft:
    """Read the answers of a file.

    Parameters
    ----------
    path : Path
        A ``.toml`` file with a key for each question (a list of texts where a question repeats), or
        a text file with one answer a line in the order of the questions: a blank line skips, and
        ends what repeats; a line that starts with ``#`` is a remark.

    Returns
    -------
    dict
        As `runoff.start.interview.interview` gives it.

    Raises
    ------
    InputError
        With one problem for each mistake. In a text file the first ends the reading, for what
        follows might answer another question.
    """
    text = read_text(path, str(path), "a file of answers, .toml or text")
    kind = _TomlTalk if path.suffix.lower() == ".toml" else _TextTalk
    talk: _TomlTalk | _TextTalk = kind(str(path), text)
    draft = interview(talk)
    talk.finish()
    try:
        make_files(draft)
    except InputError:
        # Answers that are right by themselves and make no site together: once more, to see which.
        talk = kind(str(path), text)
        draft = interview(talk, make_files)
        talk.finish()
    return draft


def answers_text(typed: Typed) -> str:
    """Answers as they were typed, as a .toml file that `read_answers` and `read_kept` read.

    Examples
    --------
    >>> print(answers_text({"units": "ft", "roofs": ["all, 38' x 30'"], "soil": ""}), end="")
    # Answers about a lot, as they were typed; what is empty was left out.
    units = "ft"
    roofs = ["all, 38' x 30'"]
    soil = ""
    """
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in typed.items()]
    head = "# Answers about a lot, as they were typed; what is empty was left out."
    return "\n".join([head, *lines]) + "\n"


def read_kept(path: Path) -> Typed:
    """Answers that `answers_text` wrote, not yet understood.

    Raises
    ------
    InputError
        Where the file was changed and is no such file any more.
    """
    talk = _TomlTalk(str(path), read_text(path, str(path), "a file of answers, .toml"))
    talk.finish()
    return {key: talk.raw[key] for key in talk.raw}


class _TomlTalk:
    """Answers by key."""

    def __init__(self, shown: str, text: str) -> None:
        self.shown = shown
        self.problems: list[Problem] = []
        try:
            self.raw: dict[str, Any] = tomllib.loads(text.replace("\r\n", "\n"))
        except (ValueError, RecursionError) as error:
            expected = f'TOML, such as units = "ft" ({error})'
            raise InputError([Problem(shown, None, "", "", expected)]) from None
        self.positions = Positions(text.replace("\r\n", "\n"))
        self._check()

    def _check(self) -> None:
        """Complain about keys that are no question's and values that are no answers."""
        for key, value in list(self.raw.items()):
            if key not in KEYS:
                self._complain((key,), key, f"the key of a question, {hint(key, KEYS)}")
                continue
            question = QUESTIONS[KEYS.index(key)]
            items = value if isinstance(value, list) else [value]
            listed = isinstance(value, list) == question.repeats
            if not listed or not all(_is_answer(item, question) for item in items):
                kind = "a list of texts" if question.repeats else "a text"
                example = f'["{question.example}"]' if question.repeats else f'"{question.example}"'
                self._complain((key,), shorten(value), f"{kind}, such as {key} = {example}")
                del self.raw[key]

    def ask(self, question: Question, number: int) -> str:
        value = self.raw.get(question.key, "")
        if isinstance(value, list):
            value = value[number] if number < len(value) else ""
        return str(value)

    def understood(self, words: str) -> None:
        pass

    def keep(self, typed: Typed) -> None:
        pass

    def wrong(self, question: Question, number: int, text: str, error: Expected) -> bool:
        if text or question.key not in {problem.entry for problem in self.problems}:
            path = (question.key, number) if question.repeats else (question.key,)
            self._complain(path, text, error.expected, error.reason)
        return False

    def _complain(
        self, path: tuple[str | int, ...], written: str, expected: str, reason: str = ""
    ) -> None:
        entry = str(path[0]) if len(path) == 1 else f"{path[0]} . item {int(path[1]) + 1}"
        line = self.positions.line(path)
        self.problems.append(
            Problem(self.shown, line, entry, shorten(written), expected, reason=reason)
        )

    def finish(self) -> None:
        """Raise what was wrong, if anything was."""
        if self.problems:
            raise InputError(sorted(self.problems, key=lambda p: p.line or 0))


def _is_answer(value: Any, question: Question) -> bool:
    """Whether a value is a text or a number, and no word that steers a conversation."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return False
    word = str(value).strip().lower()
    return word != BACK and not (question.repeats and word in ("", SKIP, DONE))


class _TextTalk:
    """Answers line by line."""

    def __init__(self, shown: str, text: str) -> None:
        self.shown = shown
        self.lines = [
            (number, line.strip())
            for number, line in enumerate(text.splitlines(), start=1)
            if not line.lstrip().startswith("#")
        ]
        self.place = 0

    def ask(self, question: Question, number: int) -> str:
        if self.place >= len(self.lines):
            return ""
        self.place += 1
        return self.lines[self.place - 1][1]

    def understood(self, words: str) -> None:
        pass

    def keep(self, typed: Typed) -> None:
        pass

    def wrong(self, question: Question, number: int, text: str, error: Expected) -> bool:
        line = self.lines[self.place - 1][0] if self.lines else None
        written, expected = shorten(text), error.expected
        raise InputError(
            [Problem(self.shown, line, question.key, written, expected, reason=error.reason)]
        )

    def finish(self) -> None:
        """Refuse answers that no question was left for."""
        left = [line for line in self.lines[self.place :] if line[1]]
        if left:
            expected = "no more answers; the last question was answered above"
            raise InputError([Problem(self.shown, left[0][0], "", shorten(left[0][1]), expected)])
