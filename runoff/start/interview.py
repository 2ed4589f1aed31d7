"""The interview: one question after another, wrong answers asked again, or answers from a file.

In: the file. Out: the answers understood, or `InputError` with every mistake and its line.

In: somebody to talk to, in the terminal or by a file, and answers kept from before. Out: the
answers, understood.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Protocol

from runoff.site.files import read_text
from runoff.site.problems import InputError, Problem, hint, shorten
from runoff.site.written.entry_lines import Positions
from runoff.start.files import make_files
from runoff.start.lot_answers import Draft, Expected
from runoff.start.questions import KEYS, QUESTIONS, Question
from runoff.start.readers import is_unknown


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


BACK, SKIP, DONE = "back", "skip", "done"
Typed = dict[str, "str | list[str]"]
"""Answers as they were typed, by the key of their question; "" where one was left out."""


class Talk(Protocol):
    """Whoever answers."""

    def ask(self, question: Question, number: int) -> str:
        """The answer to a question; for one that repeats, the answer of that number from 0."""

    def understood(self, words: str) -> None:
        """Take note of what was understood."""

    def wrong(self, question: Question, number: int, text: str, error: Expected) -> bool:
        """Take note of an answer that cannot be used; whether to ask for it again."""

    def keep(self, typed: Typed) -> None:
        """Keep the answers so far, as they were typed."""


def interview(
    talk: Talk,
    check: Callable[[Draft], object] | None = None,
    kept: Mapping[str, Any] | None = None,
) -> Draft:
    """Ask all that applies, in order.

    Parameters
    ----------
    talk : Talk
    check : callable, optional
        Called with the answers after each; raises `InputError` where they make no site, and the
        answer is asked for again.
    kept : mapping, optional
        Answers as typed before, taken in place of asking.

    Returns
    -------
    dict
        The answers by the key of their question, a list for one that repeats; what was skipped is
        not there.
    """
    return _Interview(talk, check, dict(kept or {})).all()


class _Interview:
    """The answers so far, understood (`draft`) and as typed, and those `kept` and not yet taken."""

    def __init__(
        self, talk: Talk, check: Callable[[Draft], object] | None, kept: dict[str, Any]
    ) -> None:
        self.talk = talk
        self.check = check
        self.kept = kept
        self.draft: Draft = {}
        self.typed: Typed = {}

    def all(self) -> Draft:
        """Ask question after question; back goes to the one before."""
        asked: list[int] = []
        place = 0
        while place < len(QUESTIONS):
            question = QUESTIONS[place].in_units(self.draft)
            if not question.applies(self.draft):
                self.kept.pop(question.key, None)
                place += 1
            elif self._ask_all(question) if question.repeats else self._ask(question):
                asked.append(place)
                place += 1
            elif asked:
                place = asked.pop()
                if not QUESTIONS[place].repeats:
                    self.draft.pop(QUESTIONS[place].key, None)
                self.typed.pop(question.key, None)
                self.talk.keep(self.typed)
            else:
                self.talk.understood("this is the first question")
        return self.draft

    def _ask(self, question: Question) -> bool:
        """Ask a question once answered; False to go back."""
        while True:
            if question.key in self.kept:
                text = str(self.kept.pop(question.key)).strip()
            else:
                text = self.talk.ask(question, 0).strip()
            if text.lower() == BACK:
                return False
            said = text
            if text.lower() in ("", SKIP, DONE) or is_unknown(text):
                text = question.default
            if text and self._take(question, 0, text):
                return True
            if text:
                continue
            needed = Expected(f"an answer, such as {question.example}", question.how)
            if not question.needed or not self.talk.wrong(question, 0, "", needed):
                self._keep(question, "")
                if is_unknown(said):
                    self.talk.understood("left out")
                return True

    def _ask_all(self, question: Question) -> bool:
        """Ask until there is no more; back takes the last away, and then goes back."""
        typed = list(self.typed.get(question.key, []))
        waiting = [str(text) for text in self.kept.pop(question.key, [])]
        through = bool(self.kept)
        while True:
            if waiting:
                text = waiting.pop(0).strip()
            else:
                text = DONE if through else self.talk.ask(question, len(typed)).strip()
            if text.lower() in ("", SKIP, DONE) or is_unknown(text):
                self._keep(question, typed)
                return True
            if text.lower() == BACK:
                if not typed:
                    return False
                self.draft[question.key] = self.draft[question.key][:-1]
                self._keep(question, typed[:-1])
                self.talk.understood("the last one is taken away")
            elif self._take(question, len(typed), text):
                self._keep(question, [*typed, text])
            else:
                through = False
            typed = list(self.typed.get(question.key, []))

    def _keep(self, question: Question, typed: str | list[str]) -> None:
        self.typed[question.key] = list(typed) if isinstance(typed, list) else typed
        self.talk.keep(self.typed)

    def _take(self, question: Question, number: int, text: str) -> bool:
        """Understand an answer into the draft; False where it is to be asked again."""
        try:
            value = question.read(text, self.draft)
            held = [*self.draft.get(question.key, []), value] if question.repeats else value
            draft = {**self.draft, question.key: held}
            self._check(draft)
        except Expected as error:
            told = question.told(error, self.draft)
            return not self.talk.wrong(question, number, text, told)
        self.draft = draft
        if not question.repeats:
            self._keep(question, text)
        self.talk.understood(question.said(value, self.draft))
        return True

    def _check(self, draft: Draft) -> None:
        """Refuse an answer with which all answers together make no site."""
        if self.check is None or "outline" not in draft:
            return
        try:
            self.check(draft)
        except InputError as error:
            first = error.problems[0]
            raise Expected(first.expected, f"with the answers before, {first.entry}") from None
