"""The interview: one question after another, wrong answers asked again, back where wanted.

In: somebody to talk to, in the terminal or by a file, and answers kept from before. Out: the
answers, understood.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from runoff.site.problems import InputError
from runoff.start.lot_answers import Draft, Expected
from runoff.start.questions import QUESTIONS, Question
from runoff.start.readers import is_unknown

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
