"""Are answers read as they were written, however they are quoted?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.language.answersfile import read_answers
from kb.trouble import TroubleError

PLAIN = st.text(
    st.characters(min_codepoint=33, max_codepoint=0x2FFF, exclude_categories=["C", "Z"],
                  exclude_characters="\"'“”„‘’\\"),
    min_size=1, max_size=12,
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "answers"),
    [
        ("a: 3.10\nb: off\n", {"a": "3.10", "b": "off"}),
        ("a: 'lit'\nb: \"lit\"\nc: “lit”\nd: ‘lit’\n", dict.fromkeys("abcd", "lit")),
        ("a: \"'lit'\"\n", {"a": "lit"}),
        ("a: >20M\nb: > 20 M  # above\nc: <=3 V\n", {"a": ">20M", "b": "> 20 M", "c": "<=3 V"}),
        ("a: 3,1V\nb: OL\nc: 0.6..0.7\nd: 4k7\n", {"a": "3,1V", "b": "OL", "c": "0.6..0.7",
                                                  "d": "4k7"}),
        ('{"a": 3.1,\n\t"b": "lit",\n\t"c": null}', {"a": "3.1", "b": "lit"}),
        ("\ufeffa: lit\r\nb: dark\r\n", {"a": "lit", "b": "dark"}),
        ("# nothing yet\n", {}),
        ("", {}),
        ("a: yes\nb: 2026-01-01\nc: 0x1F\n", {"a": "yes", "b": "2026-01-01", "c": "0x1F"}),
    ],
)  # fmt: skip
def test_values_stay_the_text_that_was_written(
    tmp_path: Path, text: str, answers: dict[str, str]
) -> None:
    """Neither numbers nor truth values nor dates are made of them."""
    file = tmp_path / "answers.yaml"
    file.write_bytes(text.encode())
    assert read_answers(file) == answers


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a: [1]\n", (1, 4)),
        ("- a\n", (1, 1)),
        ("a: 1\na: 2\n", (2, 1)),
        ("a: lit\nb:\n", (2, 1)),
        ("a: lit\n? [b]\n: c\n", (2, 3)),
        ("a: b: c\n", (1, 5)),
        ("a: *b\n", (1, 4)),
    ],
)
def test_what_is_no_answers_file_is_told_at_its_place(
    tmp_path: Path, text: str, place: tuple[int, int]
) -> None:
    """Line and column of the trouble."""
    file = tmp_path / "answers.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(TroubleError) as told:
        read_answers(file)
    (trouble,) = told.value.troubles
    assert (trouble.place.line, trouble.place.column) == place


@given(st.dictionaries(PLAIN, PLAIN, max_size=5))
def test_what_json_writes_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, answers: dict[str, str]
) -> None:
    """Any words without quotes of their own."""
    file = tmp_path_factory.mktemp("answers") / "answers.json"
    file.write_text(json.dumps(answers, ensure_ascii=False), encoding="utf-8")
    assert read_answers(file) == answers
