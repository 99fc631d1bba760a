"""Is each trouble code that the sources can print explained, and no other?"""

from __future__ import annotations

import re

import engine.audit
from tests.docs.blocks import ROOT

_CODE = re.compile(r'"((?:KB|MD|PL|BL|WK|CL|PA|CA|RD)\d{3})"')
_AUDIT = re.compile(r'"(AU\d{3})"')


def in_sources(pattern: re.Pattern[str]) -> set[str]:
    """Every code of the sources that the pattern finds."""
    return {
        code
        for folder in ("kb", "engine", "render")
        for path in (ROOT / folder).rglob("*.py")
        for code in pattern.findall(path.read_text(encoding="utf-8"))
    }


def explained(name: str) -> list[str]:
    """The codes that begin a row of a table in a document."""
    text = (ROOT / name).read_text(encoding="utf-8")
    return re.findall(r"^\| ([A-Z]{2}\d{3}) \|", text, re.MULTILINE)


def test_each_code_a_person_may_meet_has_its_row() -> None:
    """In the page of the knowledge, once."""
    assert sorted(explained("kb/README.md")) == sorted(in_sources(_CODE))


def test_each_code_of_the_audit_is_listed_where_it_is_made() -> None:
    """At the head of `engine.audit`, for those who read a breach."""
    listed = re.findall(r"\b(AU\d{3})\b", engine.audit.__doc__ or "")
    assert sorted(listed) == sorted(in_sources(_AUDIT))
