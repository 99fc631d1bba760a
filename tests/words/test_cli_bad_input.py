"""Is everything that can't be used told in one sentence, with exit code 2 and nothing written?"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from render.cli import failure, files
from tests.words.cli import LANTERN, Desk

UNIT = ("--model", str(LANTERN))
FILES = {
    "empty.json": "",
    "broken.json": '{"format": ',
    "list.json": "[1, 2]",
    "other.json": '{"format": "something-else/3"}',
    "not-text.yaml": b"\xff\xfe\x00\x81",
    "broken.yaml": 'other-socket: "dead',
    "twice.yaml": "other-socket: dead\nother-socket: works\n",
    "nested.yaml": "other-socket: {dead: 1}\n",
    "words.yaml": "just words\n",
    "unknown-test.yaml": "tea: ready\n",
    "unknown-outcome.yaml": "other-socket: purple\n",
    "wrong-unit.yaml": "rail-volts: 3 A\n",
    "nonsense.yaml": "rail-volts: three and a bit\n",
    "impossible.yaml": "rail-volts: 90000 V\n",
    "contradiction.yaml": "other-socket: flickers\n",
}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["chart"], "name a topology or a model file"),
        (["walk", "gate-lantern", *UNIT], "name a topology or a model file"),
        (["chart", *UNIT, "-o", "chart.doc"], "no chart can be written as"),
        (["chart", *UNIT, "-o", "nowhere/chart.json"], "can't be written"),
        (["chart", *UNIT, "--format", "json", "-o", "folder"], "can't be written"),
        (["walk", *UNIT, "--answers", "missing.yaml"], "missing.yaml"),
        (["walk", *UNIT, "--answers", "folder"], "can't be read"),
        (["walk", *UNIT, "--answers", "not-text.yaml"], "can't be read"),
        (["walk", *UNIT, "--answers", "broken.yaml"], "neither YAML nor JSON"),
        (["walk", *UNIT, "--answers", "twice.yaml"], "twice.yaml:2:1"),
        (["walk", *UNIT, "--answers", "nested.yaml"], "nested.yaml:1:15"),
        (["walk", *UNIT, "--answers", "words.yaml"], "not pairs of test and answer"),
        (["walk", *UNIT, "--answers", "unknown-test.yaml"], 'no test or entry question "tea"'),
        (["walk", *UNIT, "--answers", "unknown-outcome.yaml"], "“purple”"),
        (["walk", *UNIT, "--answers", "wrong-unit.yaml"], "wants volts"),
        (["walk", *UNIT, "--answers", "nonsense.yaml"], "“three and a bit”"),
        (["walk", *UNIT, "--answers", "impossible.yaml"], "“90000 V”"),
        (["walk", *UNIT, "--answers", "contradiction.yaml"], "is impossible after"),
        (["walk", "--from", "missing.json"], "the saved walk can't be read"),
        (["walk", "--from", "empty.json"], "the saved walk is not JSON"),
        (["walk", "--from", "broken.json"], "broken.json:1"),
        (["walk", "--from", "list.json"], "no walk document"),
        (["walk", "--from", "other.json"], "no walk document"),
        (["walk", "--model", "missing.json"], "the model can't be read"),
        (["walk", "--model", "broken.json"], "this is not JSON"),
        (["walk", "--model", "other.json"], "other.json"),
        (["walk", *UNIT, "--save", "nowhere/walk.json"], "can't be written"),
        (["calc", "tea"], "There is no sum “tea”"),
        (["calc", "discharge", "10V", "3V"], "Write it in F"),
        (["calc", "ripple", "10µF"], "current is missing"),
    ],
    ids=lambda value: " ".join(value)[-50:] if isinstance(value, list) else None,
)
def test_what_cannot_be_used_is_told(desk: Desk, words: list[str], told: str) -> None:
    """On standard error, with code 2, without a traceback, leaving the folder as it was."""
    for name, content in FILES.items():
        data = content if isinstance(content, bytes) else content.encode()
        (desk.folder / name).write_bytes(data)
    (desk.folder / "folder").mkdir()
    before = {path.name for path in desk.folder.iterdir()}
    ran = desk.run(*words)
    assert ran.code == failure.GIVEN, ran.out + ran.err
    assert told in ran.err
    assert all(line.startswith("nextprobe: ") for line in ran.err.splitlines())
    assert "Traceback" not in ran.err
    new = {path.name for path in desk.folder.iterdir()} - before
    assert new <= {"typed.txt", "xdg_data_home"}


@pytest.mark.parametrize(
    "words",
    [
        ["walk", *UNIT, "--mains", "400/50"],
        ["walk", *UNIT, "--depth", "molecule"],
        ["chart", *UNIT, "--format", "doc"],
        ["chart", *UNIT, "--time", "soon"],
        ["walk", "--color"],
        ["dance"],
    ],
    ids=" ".join,
)
def test_wrong_usage_is_told(desk: Desk, words: list[str]) -> None:
    """Code 2 as well."""
    ran = desk.run(*words)
    assert ran.code == failure.GIVEN
    assert "Traceback" not in ran.err
    assert ran.err


def test_all_bad_answers_are_told_at_once(desk: Desk) -> None:
    """One line each."""
    text = "tea: ready\nother-socket: purple\nrail-volts: 3 A\n"
    (desk.folder / "bad.yaml").write_text(text, encoding="utf-8")
    ran = desk.run("walk", *UNIT, "--answers", "bad.yaml")
    assert len([line for line in ran.err.splitlines() if " note: " not in line]) == 3


def test_a_walk_saved_by_another_topology_is_told(desk: Desk) -> None:
    """The name given on the command line is not the one in the file."""
    desk.run("walk", *UNIT, "--save", "w.json", typed="stop\n")
    ran = desk.run("walk", "buck-lamp", "--from", "w.json")
    assert ran.code == failure.GIVEN
    assert "is of gate-lantern, not of buck-lamp" in ran.err


def test_a_saved_answer_the_model_no_longer_has_is_told(desk: Desk) -> None:
    """A test was renamed since."""
    model = LANTERN.read_text(encoding="utf-8")
    copy = desk.folder / "lantern.json"
    copy.write_text(model, encoding="utf-8")
    desk.run("walk", "--model", "lantern.json", "--save", "w.json", typed="done\ndead\nstop\n")
    copy.write_text(model.replace("other-socket", "next-socket"), encoding="utf-8")
    ran = desk.run("walk", "--from", "w.json")
    assert ran.code == failure.GIVEN
    assert 'no test "other-socket"' in ran.err


def test_a_fault_of_the_program_is_one_sentence_and_a_log(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Code 3; the log holds the rest."""

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the cat is on the keyboard")

    monkeypatch.setattr("engine.calc.calculations", broken)
    ran = desk.run("calc")
    assert ran.code == failure.BUG
    assert len(ran.err.splitlines()) == 1
    (log,) = desk.folder.rglob("faults.log")
    assert str(log) in ran.err
    assert "Traceback" in log.read_text(encoding="utf-8")


def test_a_reader_that_goes_away_is_no_fault(desk: Desk) -> None:
    """As with `| head`."""
    command = (
        "import os, sys\nfrom render.cli.commands import main\n"
        "sys.argv = ['nextprobe', 'calc']\nmain()"
    )
    read, write = os.pipe()
    os.close(read)
    import subprocess
    import sys

    done = subprocess.run(
        [sys.executable, "-c", command], stdout=write, stderr=subprocess.PIPE, text=True,
        check=False, env={**os.environ, **desk.own}, timeout=60,
    )  # fmt: skip
    os.close(write)
    assert done.stderr == ""


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    """What stood there before stays when the writing fails half-way."""
    target = tmp_path / "chart.json"
    target.write_text("old", encoding="utf-8")
    with pytest.raises(RuntimeError), files.whole(target) as temporary:  # noqa: PT012
        temporary.write_text("half", encoding="utf-8")
        raise RuntimeError
    assert target.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["chart.json"]
