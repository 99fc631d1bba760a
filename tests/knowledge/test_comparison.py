"""Does the comparison tell what a change of knowledge does, and nothing else?"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from engine.model.records import Mains
from engine.studies.comparison import changes, effects, side
from kb.language.loader import SHIPPED
from kb.trouble import TroubleError
from render.report import dress
from render.report.comparison import sections
from tests.knowledge.shop import CORD_LAMP, KIND, folder
from tests.words.cli import Desk

MAINS = Mains(230.0, 50.0)


@pytest.fixture(scope="module")
def sides(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A shop's knowledge before and after an evening's work."""
    at = tmp_path_factory.mktemp("shop")
    better = CORD_LAMP.replace("shell: {minutes: 3,", "shell: {minutes: 9,").replace(
        "TP1: {stage: filter, side: out", "TP1: {stage: rectifier, side: in"
    )
    before = folder(at / "before", cord_lamp=CORD_LAMP, kind=KIND)
    after = folder(at / "after", cord_lamp=better, kind=KIND.replace("0.63", "0.60"))
    return before, after


@pytest.fixture(scope="module")
def told(sides: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory):
    """Changes of entries, and what they do to the lamp."""
    work = tmp_path_factory.mktemp("work")
    old, new = (side(str(path), work) for path in sides)
    done = effects(old, new, mains=MAINS, seconds=5.0, only=("cord-lamp",))
    return changes(old.knowledge, new.knowledge), done


def test_changed_entries_are_told_word_by_word(told) -> None:
    """What it said, and what it says."""
    found = {(c.section, c.name): c for c in told[0]}
    assert set(found) == {("parts", "soft-start-thermistor"), ("topologies", "cord-lamp")}
    assert found["parts", "soft-start-thermistor"].words == (("modes.open.share", "0.63", "0.6"),)
    words = {path for path, _, _ in found["topologies", "cord-lamp"].words}
    assert words == {"openings.shell.minutes", "points.TP1.stage", "points.TP1.side"}


def test_what_it_does_to_a_unit_is_told_at_both_depths(told) -> None:
    """Tests that came and went, and what the plan then costs."""
    assert [(e.topology, e.depth) for e in told[1]] == [
        ("cord-lamp", "stage"),
        ("cord-lamp", "part"),
    ]
    stage = told[1][0]
    moved = {(m.what, m.name): (m.before, m.after) for m in stage.moved}
    assert moved["test", "ripple-TP1"][1] == ""
    before, after = moved["expected cost", ""]
    assert float(after) > float(before)
    assert float(before) == pytest.approx(stage.old.plan.proof.expected_cost, abs=0.005)
    assert stage.lost_cautions == ()


def test_the_same_knowledge_does_nothing(sides: tuple[Path, Path], tmp_path: Path) -> None:
    """Not even where it is read twice."""
    one, two = (side(str(sides[0]), tmp_path) for _ in range(2))
    assert changes(one.knowledge, two.knowledge) == ()
    done = effects(one, two, mains=MAINS, seconds=5.0, only=("cord-lamp",))
    assert all(effect.nothing for effect in done)


@pytest.fixture(scope="module")
def careless(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All knowledge, without the warning at closed units on mains; kept under git."""
    root = tmp_path_factory.mktemp("fork")
    shutil.copytree(SHIPPED, root / "kb", ignore=shutil.ignore_patterns("*.py*", "__pycache__"))
    lamp = root / "kb" / "topologies" / "cord-lamp.yaml"
    lamp.write_text(CORD_LAMP, encoding="utf-8")
    for words in (["init", "-q"], ["add", "."], ["commit", "-q", "-m", "as shipped"]):
        subprocess.run(
            ["git", "-C", str(root), "-c", "user.name=Shop", "-c", "user.email=shop@example.org",
             *words],
            check=True,
        )  # fmt: skip
    hazards = root / "kb" / "rules" / "hazards.yaml"
    text = hazards.read_text(encoding="utf-8")
    assert "is: mains-closed" in text
    hazards.write_text(text.replace("is: mains-closed", "is: limited-mains", 1), encoding="utf-8")
    return root


def test_a_caution_that_a_change_loses_is_told_first(
    desk: Desk, careless: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between a git revision and a whole folder, by the command, which then ends with 1."""
    (desk.folder / ".git").symlink_to(careless / ".git")
    run = desk.run("compare", "HEAD", str(careless / "kb"), "--topology", "cord-lamp")
    assert run.code == 1, run.err
    safety = run.out.partition("Safety\n")[2].partition("\nPlans")[0]
    assert "closed-mains-hazard" in safety
    assert "ALIKE in cord-lamp: the caution" in safety
    assert "known-good-socket" in " ".join(safety.split())


def test_a_page_shows_both_charts_beside_each_other(told) -> None:
    """Pictures and all in one file that asks nothing of the network."""
    stage = [effect for effect in told[1] if effect.depth == "stage"]
    page = dress.html("A change", sections(told[0], stage))
    assert page.count("<figure>") == 2
    assert 'alt="chart before, sheet 1"' in page
    assert 'alt="chart after, sheet 1"' in page
    assert "src=" in page
    assert not re.search("https?:", page)


def test_markdown_takes_no_word_for_a_sign(told) -> None:
    """Designators and bars of the knowledge stay what they are."""
    made = dress.markdown("A change", sections(*told))
    assert "## cord-lamp, to the stage" in made
    assert "cord\\_lamp" not in made
    rows = [line for line in made.splitlines() if line.startswith("| ")]
    assert {row.replace("\\|", "").count("|") for row in rows} == {9}


def test_the_command_writes_and_ends_with_1(desk: Desk, sides: tuple[Path, Path]) -> None:
    """A report and the document at once."""
    old, new = (str(path) for path in sides)
    asked = ("compare", old, new, "--topology", "cord-lamp", "-o", "report.md")
    run = desk.run(*asked)
    assert run.code == 1, run.err
    assert (desk.folder / "report.md").read_text(encoding="utf-8").startswith("# From ")
    assert "report.md is written." in run.out


def test_nothing_changed_is_exit_code_0(desk: Desk, sides: tuple[Path, Path]) -> None:
    """As a document."""
    old = str(sides[0])
    run = desk.run("compare", old, old, "--topology", "cord-lamp", "--json")
    plain = json.loads(run.out)
    assert run.code == 0
    assert plain["format"] == "nextprobe-comparison/1"
    assert plain["changes"] == []
    assert [unit["depth"] for unit in plain["units"]] == ["stage", "part"]


@pytest.mark.parametrize("name", ["no-such-thing", "-x", "HEAD~99999"])
def test_what_is_no_knowledge_is_refused(name: str, tmp_path: Path) -> None:
    """With what may be written instead."""
    with pytest.raises(TroubleError) as wrong:
        side(name, tmp_path)
    assert [t.code for t in wrong.value.troubles] == ["CL141"]


def test_a_report_of_no_known_kind_is_refused_first(desk: Desk) -> None:
    """Before anything is deduced."""
    run = desk.run("compare", "shipped", "shipped", "-o", "report.docx")
    assert run.code == 2
    assert "CL142" in run.err
