"""The interview: one question after another, wrong answers asked again, back where wanted.

In: somebody to talk to, in the terminal or by a file. Out: the answers, understood.
"""

from __future__ import annotations

from typing import Protocol

from runoff.start.lot_answers import Draft, Expected
from runoff.start.questions import QUESTIONS, Question

BACK, SKIP, DONE = "back", "skip", "done"


class Talk(Protocol):
    """Whoever answers."""

    def ask(self, question: Question, number: int) -> str:
        """The answer to a question; for one that repeats, the answer of that number from 0."""

    def understood(self, words: str) -> None:
        """Take note of what was understood."""

    def wrong(self, question: Question, number: int, text: str, expected: str) -> bool:
        """Take note of an answer that cannot be used; whether to ask for it again."""


def interview(talk: Talk) -> Draft:
    """Ask all that applies, in order.

    Parameters
    ----------
    talk : Talk

    Returns
    -------
    dict
        The answers by the key of their question, a list for one that repeats; what was skipped is
        not there.
    """
    draft: Draft = {}
    asked: list[int] = []
    place = 0
    while place < len(QUESTIONS):
        question = QUESTIONS[place]
        if not question.applies(draft):
            place += 1
            continue
        went_on = (
            _ask_all(question, draft, talk) if question.repeats else _ask(question, draft, talk)
        )
        if went_on:
            asked.append(place)
            place += 1
        elif asked:
            place = asked.pop()
            if not QUESTIONS[place].repeats:
                draft.pop(QUESTIONS[place].key, None)
        else:
            talk.understood("this is the first question")
    return draft


def _ask(question: Question, draft: Draft, talk: Talk) -> bool:
    """Ask a question once answered; False to go back."""
    while True:
        text = talk.ask(question, 0).strip()
        if text.lower() == BACK:
            return False
        if text.lower() in ("", SKIP, DONE):
            text = question.default
        if not text:
            if not question.needed:
                return True
            if not talk.wrong(question, 0, "", f"an answer, such as {question.example}"):
                return True
            continue
        if _take(question, 0, text, draft, talk):
            return True


def _ask_all(question: Question, draft: Draft, talk: Talk) -> bool:
    """Ask until there is no more; back takes the last away, and then goes back."""
    number = len(draft.get(question.key, []))
    while True:
        held = draft.get(question.key, [])
        text = talk.ask(question, number).strip()
        if text.lower() in ("", SKIP, DONE):
            return True
        if text.lower() == BACK:
            if not held:
                return False
            held.pop()
            number -= 1
            talk.understood("the last one is taken away")
            continue
        if _take(question, number, text, draft, talk):
            number += 1


def _take(question: Question, number: int, text: str, draft: Draft, talk: Talk) -> bool:
    """Understand an answer into the draft; False where it is to be asked again."""
    try:
        value = question.read(text, draft)
    except Expected as error:
        return not talk.wrong(question, number, text, str(error))
    if question.repeats:
        draft.setdefault(question.key, []).append(value)
    else:
        draft[question.key] = value
    talk.understood(question.said(value, draft))
    return True
