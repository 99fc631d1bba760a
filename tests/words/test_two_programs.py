"""Two programs at one walk's file, and a disk that takes no more: nothing is lost, and it is told.

What a full disk answers: ENOSPC (IEEE Std 1003.1-2017, write, fsync).
"""

from __future__ import annotations

import errno
import fcntl
import itertools
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from engine.walk import job
from engine.walk.entry import admit
from engine.walk.job import Setting, Walk
from kb import files
from kb.trouble import TroubleError
from render.cli import briefing, foresight, keeping, outset
from render.cli.briefing import Brief
from render.cli.keeping import Keeping
from render.cli.options import Depth, Mains
from tests.words.cli import LANTERN, Desk

BRIEF = Brief(None, Mains("230/50"), Depth.PART, None, None, (), LANTERN, seconds=0.05)


@pytest.fixture(scope="module")
def walk() -> Walk:
    """A walk of the lantern at its first step."""
    model = outset.model_of(BRIEF)
    answers = {question.id: next(iter(question.answers)) for question in model.entry}
    answers["whole"] = "yes"
    return outset.opening_walk(BRIEF, model, admit(model, answers), foresight.patient(0.05))


def further(walk: Walk) -> Walk:
    """One step on."""
    due = job.pending(walk)
    assert isinstance(due, Setting)
    return job.take(walk, due.arrival(()))


def keeper(save: Path | None, brief: Brief = BRIEF) -> Keeping:
    """A program's keeping of a walk."""
    return keeping.keeping_of(brief, save, None, "")("gate-lantern")


def test_the_second_of_two_programs_at_one_file_is_refused(tmp_path: Path, walk: Walk) -> None:
    """Both began it, neither knows of the other; the first one's goes on being kept."""
    file = tmp_path / "walk.json"
    first, second = keeper(file), keeper(file)
    first.walk(walk)
    before = file.read_bytes()
    for _ in range(2):
        with pytest.raises(TroubleError, match=r"CL116 .*another program"):
            second.walk(walk)
    assert file.read_bytes() == before
    first.walk(further(walk))
    assert len(json.loads(file.read_text(encoding="utf-8"))["events"]) == 1


def test_who_goes_on_with_a_walk_that_another_goes_on_with_is_refused(
    tmp_path: Path, walk: Walk
) -> None:
    """From the moment on that its file was read."""
    file = tmp_path / "walk.json"
    keeper(file).walk(walk)
    told = [briefing.as_saved(BRIEF, file) for _ in range(2)]
    keeper(None, told[0]).walk(further(walk))
    with pytest.raises(TroubleError, match="CL116"):
        keeper(None, told[1]).walk(further(walk))


def test_three_programs_that_begin_at_once_make_three_files(
    tmp_path: Path, walk: Walk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within the same second; each goes on in its own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr("time.strftime", lambda shape: "20310101-120000")
    three = [keeper(None) for _ in range(3)]
    for state in (walk, further(walk)):
        for one in three:
            one.walk(state)
    places = [Path(one.place) for one in three]
    assert len(set(places)) == 3
    assert sorted(p for p in tmp_path.rglob("*") if p.is_file()) == sorted(places)


def full_after(writings: int) -> Callable[[int], None]:
    """An fsync that finds no room once so many have passed."""
    count = itertools.count()

    def fsync(handle: int) -> None:
        if next(count) >= writings:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    return fsync


@pytest.mark.parametrize("writings", range(2, 14, 3))
def test_a_disk_that_fills_ends_a_walk_with_what_to_do_at_the_bench(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, writings: int
) -> None:
    """Unplug, what to measure, what is kept, how to go on; the answer is not acknowledged."""
    monkeypatch.setattr(os, "fsync", full_after(writings))
    typed = "done\ndead\nundo\ndead\ndone\n2 V\ndone\nall lit\n"
    ended = desk.run("walk", "--model", str(LANTERN), "--save", "w.json", typed=typed)
    assert (ended.code, " CL201 " in ended.err) == (2, True)
    assert "Make room there" in ended.err
    last = ended.out[ended.out.rindex("›") :]
    assert "Noted" not in last
    unplug = "Switch off and unplug now" in last
    assert unplug or "unplugged now. Leave it so" in last
    assert unplug == ("measure     C1 terminals: below 30 V" in last)
    assert "nextprobe walk --from w.json" in last
    kept = json.loads((desk.folder / "w.json").read_text(encoding="utf-8"))
    answers = sum(event["event"] == "answered" for event in kept["events"])
    assert answers >= ended.out.count("Noted:") - ended.out.count("Taken back:")
    assert [one.name for one in desk.folder.iterdir() if one.name.startswith(".")] == []


def test_who_never_lets_go_of_a_folder_holds_no_walk_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its lock may be any program's; what is there is still looked at before it is written over."""
    monkeypatch.setattr(files, "_PATIENCE", 0.02)
    stranger = os.open(tmp_path, os.O_RDONLY)
    try:
        fcntl.flock(stranger, fcntl.LOCK_EX)
        with files.turn(tmp_path):
            (tmp_path / "walk.json").write_text("{}", encoding="utf-8")
    finally:
        os.close(stranger)
    assert (tmp_path / "walk.json").read_text(encoding="utf-8") == "{}"
