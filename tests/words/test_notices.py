"""Every notice that a room can give has words, and JSON says each by its code as well."""

from __future__ import annotations

from typing import Literal, get_args, get_origin

import pytest

from runoff.site import NoticeCode, QuestionCode
from runoff.words.notices import WORDS
from tests.lots.planned import planned


def codes(declared) -> set[str]:
    if get_origin(declared) is Literal:
        return set(get_args(declared))
    return {code for each in get_args(declared) for code in codes(each)}


def test_every_code_has_words_and_no_words_are_left_over():
    assert codes(NoticeCode) | codes(QuestionCode) == set(WORDS)


@pytest.mark.parametrize("lot", ["sample", 11])
def test_json_has_a_code_for_each_sentence(lot):
    findings = planned(lot).findings
    told = findings.to_dict()
    assert [each["code"] for each in told["notice_codes"]] == [
        notice.code for notice in findings.notices
    ]
    assert len(told["notices"]) == len(told["notice_codes"]) > 1
    assert told["second_engine"]["code"] == "agrees"
