"""Is each trouble code that the sources can print explained, and no other?"""

from __future__ import annotations

import re

import engine.audit
from tests.docs.blocks import ROOT

_ANY = re.compile(r'"([A-Z]{2}\d{3})"')
_AUDIT = "AU"
_ROW = re.compile(r"^\| ([A-Z]{2}\d{3}) \|", re.MULTILINE)
_LETTERS = re.compile(r"^\| ([A-Z]{2}) \|", re.MULTILINE)


def in_sources() -> set[str]:
    """Every code of the sources."""
    return {
        code
        for folder in ("kb", "engine", "render")
        for path in (ROOT / folder).rglob("*.py")
        for code in _ANY.findall(path.read_text(encoding="utf-8"))
    }


def explained() -> list[str]:
    """The codes that begin a row of a table in the reference of the knowledge."""
    return _ROW.findall((ROOT / "kb" / "REFERENCE.md").read_text(encoding="utf-8"))


def test_each_code_a_person_may_meet_has_its_row() -> None:
    """In the reference of the knowledge."""
    met = {code for code in in_sources() if not code.startswith(_AUDIT)}
    assert sorted(met - set(explained())) == []


def test_each_row_explains_a_code_that_is_there() -> None:
    """Once."""
    assert sorted(set(explained()) - in_sources()) == []
    assert len(explained()) == len(set(explained()))


def test_each_pair_of_letters_is_told_once() -> None:
    """What was being read or done, in one table; those of typed readings have one digit."""
    told = _LETTERS.findall((ROOT / "kb" / "REFERENCE.md").read_text(encoding="utf-8"))
    assert sorted(told) == sorted({code[:2] for code in in_sources()} | {"RD"})


def test_each_code_of_the_audit_is_listed_where_it_is_made() -> None:
    """At the head of `engine.audit`, for those who read a breach."""
    listed = re.findall(r"\b(AU\d{3})\b", engine.audit.__doc__ or "")
    assert sorted(listed) == sorted(code for code in in_sources() if code.startswith(_AUDIT))
