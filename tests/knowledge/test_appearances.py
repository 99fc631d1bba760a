"""Are the entries of an unopened unit held to one another, at their line?"""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.language import loader
from kb.language.appearances import check

PAGE = """appearances:
  - appearance: buck-lamp
    of: unknown-lamp
    cases: 5
    looks:
{looks}
    source: made up for a test
"""


def troubles(folder: Path, text: str) -> list[tuple[str, int, str]]:
    """Code, line and mend of each trouble of a folder with this file."""
    (folder / "own.yaml").write_text(text, encoding="utf-8")
    found = check(loader.read((folder,)))
    return [(one.code, one.place.line, one.mend) for one in found]


def looks(**changes: str) -> str:
    """The looks of the shipped page, some of them otherwise."""
    page = loader.as_shipped().appearances["buck-lamp"]
    rows = {look: str(odds).replace("'", "") for look, odds in page.looks.items()}
    rows |= {name.replace("_", "-"): row for name, row in changes.items()}
    return "\n".join(f"      {look}: {row}" for look, row in rows.items() if row)


def test_the_shipped_pages_fit() -> None:
    """Every topology that is shipped has one, and all of them fit."""
    knowledge = loader.as_shipped()
    assert list(check(knowledge)) == []
    assert set(knowledge.topologies) == set(knowledge.appearances)


@pytest.mark.parametrize(
    ("changes", "code", "line", "mend"),
    [
        ({"windw": "{no-window: 1}"}, "KB624", 18, "Write 'window'"),
        ({"window": "{no-windw: 1}"}, "KB624", 8, "Write 'no-window'"),
        ({"window": "{no-window: 0.7}"}, "KB625", 8, "Share 1 out"),
        ({"window": ""}, "KB625", 5, "Write the odds"),
    ],
)
def test_a_page_that_does_not_fit_is_an_error_at_its_line(
    tmp_path: Path, changes: dict[str, str], code: str, line: int, mend: str
) -> None:
    """A look that nobody knows, an answer that is none, odds that don't sum, a look left out."""
    found = troubles(tmp_path, PAGE.format(looks=looks(**changes)))
    assert [(c, n) for c, n, _ in found] == [(code, line)]
    assert mend in found[0][2]


def test_an_outer_fault_of_no_unit_is_an_error(tmp_path: Path) -> None:
    """With the nearest name."""
    text = """outer:
  - outer: pull-cord
    of: unknown-lmp
    says: its pull cord
    cases: 1
    remedy: Renew the pull cord
    kind: outside
    how: Unplugged.
    minutes: 5
    looks: {}
    shows: {}
    source: made up for a test
"""
    assert troubles(tmp_path, text) == [("KB624", 3, "Write 'unknown-lamp'")]
